//! What an expression may say, what it gives, and how it is refused.

use fanwright::flow::expression::{Missing, Type};
use fanwright::flow::name::FactName;
use fanwright::trade::formula::Value;
use fanwright::trade::quantity::{Kind, Quantity};
use proptest::prelude::{Strategy, any, proptest};
use proptest::sample::select;

use super::scope::{AT, Known, compile};

fn measured() -> Known {
    Known::default()
        .measured("supply", "volt", 208.0)
        .measured("rated", "volt", 230.0)
        .measured("draw", "amp", 0.5)
        .measured("speed", "rpm", 1550.0)
        .measured("box_temperature", "deg_f", 38.0)
        .measured("suction", "deg_f", 28.0)
        .measured("superheat", "diff_f", 10.0)
        .measured("tolerance", "percent", 10.0)
        .number("fans_dead", 2.0)
        .number("fans_total", 3.0)
        .word("lead", "cut")
        .word("end_found", "cut")
        .words("ice_pattern", &["bottom", "even"])
        .with("remark", Value::Text("Pan is cracked".to_owned()))
}

#[test]
fn conditions_hold_or_not() {
    let facts = measured();
    for (source, expected) in [
        ("supply < 0.9 * rated", false),
        ("supply > 0.9 * rated && supply < 1.1 * rated", true),
        ("supply >= volt(208)", true),
        ("supply == kilovolt(0.208)", true),
        ("supply != volt(208)", false),
        ("fans_dead == fans_total", false),
        ("fans_dead + 1 == fans_total", true),
        ("fans_dead / fans_total < 0.7", true),
        ("7 / 2 == 3.5", true),
        ("lead == \"cut\"", true),
        ("lead != 'cut'", false),
        ("\"cut\" == lead", true),
        ("lead == end_found", true),
        ("lead in [\"plug\", \"bare\"]", false),
        ("\"bottom\" in ice_pattern", true),
        ("!(\"top\" in ice_pattern)", true),
        ("known(supply) && !known(plate)", true),
        ("known(factor) && factor > 3", false),
        ("factor > 3 && false", false),
        ("factor > 3 || true", true),
        ("known(factor) ? factor > 3 : lead == \"cut\"", true),
        ("box_temperature - suction >= superheat", true),
        ("suction + superheat == box_temperature", true),
        ("box_temperature > deg_c(3)", true),
        ("supply * draw > volt_amp(100)", true),
        ("supply - (1.0 - 0.1) * rated > volt(0)", true),
        ("abs(supply - rated) / rated < 0.1", true),
        ("abs(supply - rated) > tolerance * rated", false),
        ("min(supply, rated, volt(400)) == supply", true),
        ("max(fans_dead, fans_total) == 3", true),
        ("supply <= row(\"never_dead_voltage\")", false),
        ("(lead == \"cut\" ? volt(1) : volt(2)) == volt(1)", true),
        ("speed < rpm(1600) // whole line\n && true", true),
        ("-fans_dead == -2", true),
    ] {
        let expression = compile(source).unwrap_or_else(|faults| panic!("{source}: {faults:?}"));
        assert_eq!(expression.gives, Type::Bool, "{source}");
        assert_eq!(expression.holds(&facts), Ok(expected), "{source}");
        let word = Value::Word(expected.to_string());
        assert_eq!(expression.eval(&facts), Ok(word), "{source}");
    }
}

#[test]
fn expressions_give_their_kind() {
    let facts = measured();
    let quantity = |kind, si| Value::Quantity(Quantity { kind, si });
    for (source, expected) in [
        ("2 * fans_dead", Value::Number(4.0)),
        ("supply", quantity(Kind::Voltage, 208.0)),
        ("supply * draw", quantity(Kind::ApparentPower, 104.0)),
        ("supply / 2", quantity(Kind::Voltage, 104.0)),
        ("percent(50) * supply", quantity(Kind::Voltage, 104.0)),
        ("2 * percent(50)", quantity(Kind::Ratio, 1.0)),
        ("minute(5)", quantity(Kind::Duration, 300.0)),
        (
            "horsepower(1/15) / horsepower(1)",
            Value::Number(1.0 / 15.0),
        ),
        ("deg_c(-10)", quantity(Kind::Temperature, 263.15)),
        (
            "deg_c(10) - deg_c(4)",
            quantity(Kind::TemperatureDifference, 6.0),
        ),
        ("lead", Value::Word("cut".to_owned())),
        (
            "known(factor) ? lead : 'plug'",
            Value::Word("plug".to_owned()),
        ),
        ("remark", Value::Text("Pan is cracked".to_owned())),
        ("row('never_dead_voltage')", quantity(Kind::Voltage, 50.0)),
    ] {
        let expression = compile(source).unwrap_or_else(|faults| panic!("{source}: {faults:?}"));
        assert_eq!(expression.eval(&facts), Ok(expected), "{source}");
    }
    assert_eq!(
        compile("supply").unwrap().gives,
        Type::Quantity(Kind::Voltage)
    );
}

#[test]
fn a_reading_at_the_end_of_its_range_is_within_it() {
    // 0.9 × 208 is 187.20000000000002 in doubles; a person who reads 187.2 V is right.
    let facts = Known::default()
        .measured("supply", "volt", 187.2)
        .measured("rated", "volt", 208.0);
    let expression = compile("supply >= 0.9 * rated && supply <= rated * 0.9").unwrap();
    assert_eq!(expression.holds(&facts), Ok(true));
}

#[test]
fn a_missing_fact_refuses_and_never_decides() {
    let none = Known::default();
    let supply = || Missing::Fact(FactName::from("supply"));
    for source in [
        "supply < volt(187)",
        "supply < volt(187) || lead == \"cut\"",
        "supply < volt(187) || false",
        "supply < volt(187) && true",
        "!(supply < volt(187))",
        "supply > volt(1) ? true : true",
        "min(supply, volt(1)) > volt(0)",
    ] {
        assert_eq!(
            compile(source).unwrap().holds(&none),
            Err(supply()),
            "{source}"
        );
    }
    assert_eq!(compile("supply").unwrap().eval(&none), Err(supply()));
}

#[test]
fn division_by_zero_and_overflow_refuse() {
    let facts = measured().number("factor", 0.0);
    for source in ["fans_dead / factor", "1e300 * 1e300", "factor / factor"] {
        let expression = compile(source).unwrap();
        assert_eq!(
            expression.eval(&facts),
            Err(Missing::NotANumber),
            "{source}"
        );
    }
    let decided = compile("fans_dead / factor > 1 || true").unwrap();
    assert_eq!(decided.holds(&facts), Ok(true));
}

#[test]
fn a_value_of_another_type_than_declared_refuses() {
    let facts = Known::default().word("supply", "cut").number("lead", 1.0);
    for source in ["supply > volt(1)", "lead == \"cut\""] {
        let refused = compile(source).unwrap().holds(&facts);
        assert!(matches!(refused, Err(Missing::OtherType(_))), "{source}");
    }
}

#[test]
fn facts_and_known_asks_are_told_apart() {
    let source = "known(factor) && factor > 3 && (known(plate) || lead == \"cut\") && \
                  supply > row(\"never_dead_voltage\") && supply < rated";
    let expression = compile(source).unwrap();
    let names = |list: Vec<&FactName>| -> Vec<String> {
        list.into_iter().map(ToString::to_string).collect()
    };
    assert_eq!(
        names(expression.facts()),
        ["factor", "lead", "supply", "rated"]
    );
    assert_eq!(names(expression.known_asks()), ["factor", "plate"]);
    assert_eq!(expression.rows(), ["never_dead_voltage"]);
}

/// Source, column of the fault within it, what the sentence says, what the mend says.
#[rustfmt::skip]
const REFUSED: &[(&str, u32, &str, &str)] = &[
    ("suply < volt(1)", 0, "There is no fact called suply.", "Did you mean supply?"),
    ("voltage < volt(1)", 0, "There is no fact called voltage.", "Declare it under facts"),
    ("volt < supply", 0, "There is no fact called volt.", "volt(10)"),
    ("lead == cut", 8, "There is no fact called cut.", "in quotes"),
    ("lead == \"plugg\"", 8, "“plugg” is not one of the words here.", "Did you mean \"plug\"?"),
    ("lead == \"nothing\"", 8, "“nothing” is not one", "The words are: plug, cut, bare."),
    ("lead in [\"cut\", \"bar\"]", 16, "“bar” is not one", "Did you mean \"bare\"?"),
    ("\"left\" in ice_pattern", 0, "“left” is not one", "top, bottom, even"),
    ("lead < \"cut\"", 5, "Words have no order.", "== or !="),
    ("lead == defrost", 0, "no word in common", "share their words"),
    ("\"cut\" == \"cut\"", 0, "two fixed words", "Compare a fact"),
    ("ice_pattern == \"top\"", 12, "holds several words", "\"top\" in ice_pattern"),
    ("supply < deg_f(10)", 7, "compares a voltage with a temperature.", "of one kind"),
    ("supply < 187", 7, "compares a voltage with a plain number.", "volt(10)"),
    ("supply < draw", 7, "compares a voltage with a current.", "of one kind"),
    ("tolerance < 0.1", 10, "compares a ratio with a plain number.", "percent(10)"),
    ("superheat < deg_f(10)", 10, "a temperature difference with a temperature.", "of one kind"),
    ("remark == \"x\"", 7, "compares a text with a word.", "Compare two amounts"),
    ("supply + draw", 7, "adds a voltage and a current.", "of one kind"),
    ("supply + 1", 7, "adds a voltage and a plain number.", "volt(10)"),
    ("suction + box_temperature", 8, "Two temperatures can't be added.", "diff_f(10)"),
    ("suction - draw", 8, "takes apart a temperature and a current.", "Only a difference"),
    ("superheat - suction", 10, "takes apart", "Only a difference"),
    ("0.9 * suction", 4, "A temperature can't be multiplied", "diff_f(10)"),
    ("suction / box_temperature", 8, "can't be multiplied or divided", "diff_f(10)"),
    ("-suction", 0, "in kelvin", "deg_f(-10)"),
    ("abs(suction)", 3, "abs(…) of a temperature", "difference"),
    ("supply * supply", 7, "multiplies a voltage and a voltage", "work_out"),
    ("supply / draw", 7, "divides a voltage and a current", "work_out"),
    ("1 / supply", 2, "divides a plain number and a voltage", "work_out"),
    ("min(supply, draw)", 3, "min(…) has a voltage and a current.", "one kind"),
    ("max(supply)", 0, "max(…) takes two amounts or more.", "max(a, b)"),
    ("volt(supply)", 0, "volt(…) takes one plain number, not a fact.", "volt(1)"),
    ("volt(fans_dead)", 0, "volt(…) takes one plain number, not a fact.", "fact * volt(1)"),
    ("volt()", 0, "volt(…) takes one plain number.", "volt(10)"),
    ("volt(1/0)", 0, "volt(…) takes one plain number", "volt(10)"),
    ("volts(3)", 0, "There is no volts(…)", "Did you mean volt(…)?"),
    ("lead()", 0, "There is no lead(…)", "Write lead without brackets."),
    ("size(remark)", 0, "There is no size(…)", "min, max, abs"),
    ("row(\"never_dead_volts\") < supply", 4, "no data row called never_dead_volts", "exists"),
    ("row(\"never_dead_voltag\") < supply", 4, "no data row", "row(\"never_dead_voltage\")"),
    ("row(supply)", 0, "row(…) takes one name in quotes.", "row(\"name\")"),
    ("known(supply + rated)", 0, "known(…) takes the name of one fact.", "known(supply)"),
    ("known(suply)", 6, "There is no fact called suply.", "supply"),
    ("plate", 0, "plate is a photo", "known(plate)"),
    ("supply && true", 0, "Here stands a voltage, where a condition is needed.", "Compare it"),
    ("!lead", 1, "Here stands a word, where a condition is needed.", "Compare it"),
    ("lead + 1", 0, "Here stands a word, where an amount is needed.", "numbers"),
    ("true ? supply : draw", 5, "a voltage in one case and a current in the other", "same kind"),
    ("true ? remark : remark", 5, "A choice can't give a text.", "same kind"),
    ("[1, 2]", 0, "A list can only stand behind “in”.", "in ["),
    ("fans_dead in [1, 2]", 10, "only words can be listed", "||"),
    ("lead in []", 5, "one at least", "lead in"),
    ("{\"a\": 1}", 0, "Braces with keys", "one fact"),
    ("supply.value", 6, "Facts have no fields", "alone"),
    ("remark.matches(\"a\")", 14, ".matches(…)", "min(a, b)"),
    ("ice_pattern.exists(i, i == \"top\")", 18, "Loops over lists", "in fact"),
    ("ice_pattern[0] == \"top\"", 11, "no numbered parts", "alone"),
    ("fans_dead % 2 == 0", 10, "The operator % is not part", "volt(187)"),
    ("factor == null", 10, "null is not part", "!known"),
    ("factor == 2u", 10, "needs no letter", "Write 2."),
    ("lead = \"cut\"", 5, "can't be read at “=”", "Write =="),
    ("known(plate) and true", 13, "can't be read at “and”", "&&"),
    ("supply < 187 V", 13, "can't be read at “V”", "volt(187)"),
    ("(supply < rated", 15, "ends too early", "Close every bracket"),
    ("lead == \"cut", 8, "can't be read at “\"”", "Close the quote"),
    ("lead == “cut”", 8, "The character “ has no place", "straight quotes"),
    ("", 0, "There is no expression here.", "lead =="),
];

#[test]
fn faults_say_what_is_wrong_where_and_how_to_mend_it() {
    let mut unlike = Vec::new();
    for (source, column, wrong, mend) in REFUSED {
        let faults = compile(source).expect_err(source);
        let fault = &faults[0];
        let sentences = [&fault.wrong, &fault.mend];
        let as_expected = fault.wrong.contains(wrong)
            && fault.mend.contains(mend)
            && fault.at.line == AT.line
            && fault.at.column == AT.column + column
            && sentences.iter().all(|text| text.ends_with(['.', '?']));
        if !as_expected {
            unlike.push(format!("{source}\n  {fault:?}"));
        }
    }
    assert!(unlike.is_empty(), "{}", unlike.join("\n"));
}

#[test]
fn every_fault_of_a_text_is_told_in_its_order() {
    let faults = compile("suply < volt(1) && lead == \"cutt\" && rated > 3").unwrap_err();
    let columns: Vec<u32> = faults
        .iter()
        .map(|fault| fault.at.column - AT.column)
        .collect();
    assert_eq!(columns, [0, 27, 43], "{faults:?}");
}

#[test]
fn a_fault_inside_several_lines_stands_where_the_text_begins() {
    let faults = compile("supply < rated &&\n suply < rated").unwrap_err();
    assert_eq!(faults[0].at, AT);
}

#[test]
fn hostile_texts_are_refused_without_harm() {
    let long = |unit: &str| unit.repeat(1024 / unit.len());
    for source in [
        long("1+"),
        long("("),
        long("["),
        long("{"),
        long("!"),
        long("-"),
        long("a?a:"),
        long("a in "),
        long("known("),
        long("'"),
        long("\""),
        long("\\"),
        long("."),
        long("1,"),
        long("a&&"),
        long("0x"),
        long("\"\"\""),
        long("`"),
        long("//"),
        long("\n"),
        "\0".to_owned(),
        "r'\\".to_owned(),
        "'\\u12'".to_owned(),
        "1e999".to_owned(),
        "99999999999999999999".to_owned(),
        "-0x".to_owned(),
        "has(a.b)".to_owned(),
        "a.?b".to_owned(),
        "a[?0]".to_owned(),
        "@in(a)".to_owned(),
        "💥".repeat(200),
        "lead == 'cut' ;".to_owned(),
        ".supply".to_owned(),
    ] {
        let faults = compile(&source).expect_err(&source);
        assert!(!faults.is_empty(), "{source}");
    }
}

/// Texts that look like expressions more often than plain noise does.
fn text_like_an_expression() -> impl Strategy<Value = String> {
    let tokens = vec![
        "supply",
        "lead",
        "ice_pattern",
        "plate",
        "known",
        "row",
        "min",
        "volt",
        "deg_f",
        "(",
        ")",
        "[",
        "]",
        "{",
        "}",
        ",",
        ".",
        "?",
        ":",
        "&&",
        "||",
        "!",
        "==",
        "!=",
        "<",
        "<=",
        "+",
        "-",
        "*",
        "/",
        "%",
        "in",
        "1",
        "2.5",
        "1e308",
        "0x1F",
        "3u",
        "\"cut\"",
        "'",
        "\"",
        "true",
        "null",
        "has",
        "all",
        "map",
        " ",
        "\n",
        "\\",
        "r'a'",
        "b'a'",
        "`a`",
        "é",
        "//",
    ];
    proptest::collection::vec(select(tokens), 0..40).prop_map(|parts| parts.concat())
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(noise in any::<String>(), like in text_like_an_expression()) {
        for source in [noise, like] {
            if let Ok(expression) = compile(&source) {
                let _ = expression.eval(&measured());
                let _ = expression.holds(&Known::default());
            }
        }
    }
}
