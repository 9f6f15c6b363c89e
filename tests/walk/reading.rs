//! What people type for a reading, and what they are told when it is none.

use fanwright::trade::quantity::{Kind, UNITS, Unit};
use fanwright::walk::reading::{
    Trouble, Wanted, parse, parse_count, parse_number, parse_number_within,
};
use fanwright::walk::refusal::Refusal;
use proptest::prelude::{Strategy, any, prop_assert, proptest};
use proptest::sample::select;

fn unit(literal: &str) -> &'static Unit {
    Unit::of_literal(literal).unwrap()
}

fn wanted_in(unit: &'static Unit) -> Wanted {
    Wanted::new(unit.kind).shown_in(unit)
}

fn wanted(literal: &str) -> Wanted {
    wanted_in(unit(literal))
}

fn between(literal: &str, least: f64, most: f64) -> Wanted {
    let unit = unit(literal);
    wanted(literal).plausible(unit.of(least).si, unit.of(most).si)
}

/// The unit asked for, what is typed, the value in the unit behind it.
#[rustfmt::skip]
const UNDERSTOOD: &[(&str, &str, f64, &str)] = &[
    ("volt", "208", 208.0, "V"),
    ("volt", "208 V", 208.0, "V"),
    ("volt", "208v", 208.0, "V"),
    ("volt", "  208 volts ", 208.0, "V"),
    ("volt", "208 VAC", 208.0, "V"),
    ("volt", "208 V.", 208.0, "V"),
    ("volt", "+208", 208.0, "V"),
    ("volt", "２０８", 208.0, "V"),
    ("volt", "480 mV", 480.0, "mV"),
    ("amp", "0.5a", 0.5, "A"),
    ("amp", "0,5 A", 0.5, "A"),
    ("amp", ".5", 0.5, "A"),
    ("amp", "500 mA", 500.0, "mA"),
    ("watt", "1/15 hp", 1.0 / 15.0, "hp"),
    ("watt", "1 1/2 hp", 1.5, "hp"),
    ("watt", "1-1/2 HP", 1.5, "hp"),
    ("watt", "½ hp", 0.5, "hp"),
    ("horsepower", "1/20", 0.05, "hp"),
    ("watt", "50 W", 50.0, "W"),
    ("inch", "12 in", 12.0, "in"),
    ("inch", "12 in.", 12.0, "in"),
    ("inch", "12\"", 12.0, "in"),
    ("inch", "12''", 12.0, "in"),
    ("inch", "12”", 12.0, "in"),
    ("inch", "12 3/8", 12.375, "in"),
    ("inch", "305 mm", 305.0, "mm"),
    ("inch", "5' 6\"", 66.0, "in"),
    ("inch", "5 ft 6 1/2 in", 66.5, "in"),
    ("inch", "5'6", 66.0, "in"),
    ("inch", "5 ft", 5.0, "ft"),
    ("deg_f", "-10F", -10.0, "°F"),
    ("deg_f", "-10 °F", -10.0, "°F"),
    ("deg_f", "−23 C", -23.0, "°C"),
    ("deg_f", "–23 ℃", -23.0, "°C"),
    ("deg_f", "－23", -23.0, "°F"),
    ("deg_f", "38 F°", 38.0, "°F"),
    ("diff_f", "10 °F", 10.0, "F°"),
    ("ohm", "4.7 kΩ", 4.7, "kΩ"),
    ("megohm", "550 MΩ", 550.0, "MΩ"),
    ("microfarad", "5 uF", 5.0, "µF"),
    ("microfarad", "5 mfd", 5.0, "µF"),
    ("rpm", "1550 1/min", 1550.0, "rpm"),
    ("cfm", "1200 ft3/min", 1200.0, "cfm"),
    ("percent", "10 %", 10.0, "%"),
];

#[test]
fn readings_are_understood_as_people_type_them() {
    for (literal, text, value, symbol) in UNDERSTOOD {
        let typed = parse(text, &wanted(literal)).unwrap_or_else(|e| panic!("{text}: {e}"));
        assert_eq!(typed.unit.symbol, *symbol, "{text}");
        let got = typed.quantity.in_unit(typed.unit);
        assert!(
            (got - value).abs() < 1e-9 * value.abs().max(1.0),
            "{text}: {got}"
        );
    }
}

#[test]
fn a_comma_means_what_can_be_true_or_is_asked_about() {
    let speed = |text: &str, least, most| parse(text, &between("rpm", least, most));
    let rpm = |text: &str, least, most| {
        speed(text, least, most)
            .unwrap()
            .quantity
            .in_unit(unit("rpm"))
            .round()
    };
    assert_eq!(rpm("1,550 rpm", 100.0, 4000.0), 1550.0);
    assert_eq!(rpm("1550,4", 100.0, 4000.0), 1550.0);
    assert_eq!(rpm("1,550.4 rpm", 0.0, 4000.0), 1550.0);
    assert_eq!(rpm("1.550,4 rpm", 0.0, 4000.0), 1550.0);
    let amps = parse("1,550 A", &between("amp", 0.0, 20.0)).unwrap();
    assert!((amps.quantity.si - 1.55).abs() < 1e-12);
    let both = speed("1,550", 0.0, 4000.0).unwrap_err();
    assert_eq!(
        both.to_string(),
        "Do you mean 1550 rpm or 1.550 rpm? Please send it again like that."
    );
    let Trouble::Ambiguous { readings } = &both else {
        panic!("{both:?}");
    };
    for reading in readings {
        assert!(speed(reading, 0.0, 4000.0).is_ok(), "{reading}");
    }
    assert!(matches!(Refusal::from(both), Refusal::Ambiguous(_)));
    let neither = speed("9,550", 100.0, 4000.0).unwrap_err();
    assert!(matches!(neither, Trouble::NotPlausible(_)), "{neither:?}");
}

/// What is typed where volts from 0 to 700 are asked for, and the whole answer.
#[rustfmt::skip]
const REFUSED: &[(&str, &str)] = &[
    ("two hundred", "I need volts here, like 350 or 350 V. You sent “two hundred”."),
    ("about 208", "I need volts here, like 350 or 350 V. You sent “about 208”."),
    ("208 or so", "I need volts here, like 350 or 350 V. You sent “208 or so”."),
    ("", "I need volts here, like 350 or 350 V."),
    ("NaN", "I need volts here, like 350 or 350 V. You sent “NaN”."),
    ("inf", "I need volts here, like 350 or 350 V. You sent “inf”."),
    ("--5", "I need volts here, like 350 or 350 V. You sent “--5”."),
    ("1'550", "Send one reading only. I need volts here, like 350 or 350 V. You sent “1'550”."),
    ("1e999", "Send one reading only. I need volts here, like 350 or 350 V. You sent “1e999”."),
    ("208-230", "Send one reading only. I need volts here, like 350 or 350 V. You sent “208-230”."),
    ("208/230 V", "Send one reading only. I need volts here, like 350 or 350 V. You sent “208/230 V”."),
    ("50/60", "Send one reading only. I need volts here, like 350 or 350 V. You sent “50/60”."),
    ("208V 60Hz", "Send one reading only. I need volts here, like 350 or 350 V. You sent “208V 60Hz”."),
    ("0.5 A", "That is a current. I need volts here, like 350 or 350 V."),
    ("50 VA", "That is an apparent power. I need volts here, like 350 or 350 V."),
    ("38 F", "That is a capacitance or a temperature. I need volts here, like 350 or 350 V."),
    ("800 V", "800 V can't be right. Between 0 V and 700 V is possible here. Look again and send what you read."),
    ("-5", "-5 V can't be right. Between 0 V and 700 V is possible here. Look again and send what you read."),
    ("1 kV", "1 kV can't be right. Between 0 V and 700 V is possible here. Look again and send what you read."),
    ("11111111111111111111111111111111111111111111111111111111111111111", "That is too long for a reading. I need volts here, like 350 or 350 V."),
];

#[test]
fn what_is_no_reading_gets_a_clear_answer() {
    let volts = between("volt", 0.0, 700.0);
    for (text, answer) in REFUSED {
        assert_eq!(
            parse(text, &volts).unwrap_err().to_string(),
            *answer,
            "{text}"
        );
    }
}

#[test]
fn an_answer_names_the_example_of_the_step_and_the_units_it_takes() {
    let mut lengths = wanted("inch").example("12 3/8 in");
    lengths.units = vec![unit("inch"), unit("millimetre")];
    let answer = parse("12 ft", &lengths).unwrap_err().to_string();
    assert_eq!(
        answer,
        "This reading is not taken in ft. I need inches here, like 12 3/8 in."
    );
}

#[test]
fn nothing_is_colder_than_absolute_zero() {
    assert!(parse("-459 F", &wanted("deg_f")).is_ok());
    let cold = parse("-500 F", &wanted("deg_f"));
    assert!(matches!(cold, Err(Trouble::NotPlausible(_))), "{cold:?}");
}

#[test]
fn the_ends_of_the_plausible_range_belong_to_it() {
    // 12 in is 0.30479999999999996 m in doubles, and 1 ft is 0.3048 m.
    let one_foot = between("foot", 1.0, 1.0);
    assert!(parse("12 in", &one_foot).is_ok());
}

#[test]
fn counts_are_whole_and_within_their_bounds() {
    for (text, count) in [
        ("3", 3),
        ("3 fans", 3),
        ("1 fan", 1),
        ("12 Fans.", 12),
        ("3.0", 3),
    ] {
        assert_eq!(parse_count(text, "fans", 1, 12), Ok(count), "{text}");
    }
    for text in [
        "0",
        "13",
        "2.5",
        "-1",
        "three",
        "3 motors",
        "1/2",
        "4294967297",
        "1,000",
    ] {
        let answer = parse_count(text, "fans", 1, 12).unwrap_err().to_string();
        let expected =
            format!("I need a whole number of fans from 1 to 12, like 4. You sent “{text}”.");
        assert_eq!(answer, expected);
    }
}

#[test]
fn plain_numbers_may_be_money() {
    for (text, number) in [
        ("0.12", 0.12),
        ("$0.12", 0.12),
        ("0,12 €", 0.12),
        ("1/2", 0.5),
        ("-3", -3.0),
        ("1.5 factor", 1.5),
        ("12,345.50", 12345.5),
    ] {
        assert_eq!(parse_number(text, "factor"), Ok(number), "{text}");
    }
    assert_eq!(
        parse_number_within("1,550", "price", Some((100.0, 9e3))),
        Ok(1550.0)
    );
    assert_eq!(
        parse_number_within("1,550", "price", Some((0.0, 9.0))),
        Ok(1.55)
    );
    let asked = parse_number("1,550", "price").unwrap_err();
    assert_eq!(
        asked.to_string(),
        "Do you mean 1550 or 1.550? Please send it again like that."
    );
    let answer = parse_number_within("5 V", "price", Some((0.0, 9.0))).unwrap_err();
    assert_eq!(
        answer.to_string(),
        "I need a number for price from 0 to 9, like 4.5. You sent “5 V”."
    );
}

/// Texts near to readings.
fn text_like_a_reading() -> impl Strategy<Value = String> {
    let tokens = vec![
        "1", "0", "208", ",", ".", "/", "-", "−", " ", "V", "A", "hp", "'", "\"", "°", "F", "½",
        "e", "+", "\u{202e}", "\u{0}", "９", "in", "ft", "NaN", "$", "fans", "µ", "Ω", "m",
    ];
    proptest::collection::vec(select(tokens), 0..12).prop_map(|parts| parts.concat())
}

proptest! {
    #[test]
    fn no_text_makes_it_panic_and_every_answer_is_short(
        noise in any::<String>(),
        like in text_like_a_reading(),
        unit in select(UNITS),
    ) {
        for text in [noise, like] {
            let answers = [
                parse(&text, &wanted_in(unit_of(unit))).err(),
                parse(&text, &wanted_in(unit_of(unit)).plausible(-1e3, 1e3)).err(),
                parse_count(&text, "fans", 1, 12).err(),
                parse_number(&text, "factor").err(),
            ];
            for answer in answers.into_iter().flatten() {
                let sentence = answer.to_string();
                prop_assert!(sentence.chars().count() < 260, "{}", sentence);
                prop_assert!(!sentence.contains(char::is_control), "{}", sentence);
            }
        }
    }

    #[test]
    fn what_is_shown_can_be_typed(
        unit in select(UNITS),
        value in 0.01..200_000f64,
        cold in any::<bool>(),
    ) {
        let unit = unit_of(unit);
        let below_zero = match unit.kind {
            Kind::Temperature if unit.offset == 0.0 => value,
            Kind::Temperature => -200.0,
            _ => -value,
        };
        let value = if cold { below_zero } else { value };
        let quantity = unit.of(value);
        let (one, other) = (unit.of(value * 0.9).si, unit.of(value * 1.1).si);
        let wanted = wanted_in(unit).plausible(one.min(other), one.max(other));
        let shown = quantity.show(unit);
        let typed = parse(&shown, &wanted);
        let Ok(typed) = typed else { panic!("{shown}: {typed:?}") };
        prop_assert!(typed.unit == unit, "{shown} became {:?}", typed.unit);
        let back = typed.quantity.in_unit(unit);
        prop_assert!((back - value).abs() <= 6e-4 * value.abs(), "{} became {}", shown, back);
    }
}

fn unit_of(unit: Unit) -> &'static Unit {
    Unit::of_literal(unit.literal).unwrap()
}
