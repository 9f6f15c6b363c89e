//! What a new motor gains, against published values.

use fanwright::trade::formula::{Arguments, Results, Value};
use fanwright::trade::formula_named;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::{Kind, Quantity, Unit};
use fanwright::trade::speed_book::SpeedBook;
use proptest::prelude::proptest;
use proptest::{prop_assert, prop_assume};

use super::{Vector, vectors_of};

/// Runs `name` without goods.
fn run(name: &str, arguments: Vec<(&str, Value)>) -> Results {
    let (kit, speed_book) = (Kit::default(), SpeedBook::default());
    let goods = Goods {
        kit: &kit,
        speed_book: &speed_book,
    };
    let given = arguments
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value))
        .collect();
    let formula = formula_named(name).unwrap_or_else(|| panic!("no formula {name}"));
    (formula.run)(&Arguments(given), &goods).unwrap_or_else(|why| panic!("{name}: {why}"))
}

fn quantity(kind: Kind, unit: &str, value: f64) -> Value {
    let unit = Unit::typed(kind, unit).unwrap_or_else(|| panic!("no unit {unit}"));
    Value::Quantity(unit.of(value))
}

/// The first result in the unit that the vector expects, or as a plain number.
fn first(results: &Results, unit: &str) -> f64 {
    match &results.values[0].1 {
        Value::Number(number) => *number,
        Value::Quantity(quantity) => in_unit(*quantity, unit),
        other => panic!("not a number: {other:?}"),
    }
}

fn in_unit(quantity: Quantity, text: &str) -> f64 {
    let word = text.split_whitespace().next().unwrap_or_default();
    let unit = word.strip_suffix("/yr").unwrap_or(word);
    let unit = Unit::typed(quantity.kind, unit)
        .unwrap_or_else(|| panic!("no unit {text} of {:?}", quantity.kind));
    quantity.in_unit(unit)
}

/// The COP or EER of a vector, whichever it has.
fn efficiency(vector: &Vector) -> (&'static str, Value) {
    if vector.has("eer") {
        let unit = Kind::CoolingEfficiency;
        (
            "eer",
            quantity(unit, vector.unit("eer"), vector.number("eer")),
        )
    } else {
        ("cop", Value::Number(vector.number("cop")))
    }
}

fn saving(vector: &Vector) -> Results {
    let number = |key: &str| Value::Number(vector.number(key));
    let of = |kind, unit: &str, key: &str| quantity(kind, unit, vector.number(key));
    if vector.takes(&["W_base", "W_new", "n", "hours", "cop"]) {
        return run(
            "energy_saved",
            vec![
                ("watts_before", of(Kind::Power, "W", "W_base")),
                ("watts_after", of(Kind::Power, "W", "W_new")),
                ("motors", number("n")),
                ("hours", of(Kind::Duration, "h", "hours")),
                efficiency(vector),
            ],
        );
    }
    if vector.has("coef_a") {
        return run(
            "lifetime_energy_saved",
            vec![
                ("power", of(Kind::Power, "kW", "P_kW")),
                ("coefficient_a", number("coef_a")),
                ("coefficient_b", of(Kind::Power, "kW", "coef_b")),
                ("average", number("avg_power_factor")),
                ("hours", of(Kind::Duration, "h", "hours")),
                ("life", of(Kind::Duration, "years", "life_years")),
                efficiency(vector),
            ],
        );
    }
    if vector.takes(&["kwh", "factor"]) {
        let factor = of(Kind::EmissionFactor, vector.unit("factor"), "factor");
        let energy = of(Kind::Energy, "kWh", "kwh");
        return run(
            "carbon_dioxide",
            vec![("energy", energy), ("emission_factor", factor)],
        );
    }
    if vector.takes(&["kwh", "rate"]) {
        let price = of(Kind::EnergyPrice, vector.unit("rate"), "rate");
        let energy = of(Kind::Energy, "kWh", "kwh");
        return run("energy_cost", vec![("energy", energy), ("price", price)]);
    }
    if vector.takes(&["W_full", "speed_ratio"]) {
        let full = of(Kind::Power, vector.unit("W_full"), "W_full");
        let ratio = number("speed_ratio");
        return run(
            "power_at_speed",
            vec![("full_power", full), ("speed_ratio", ratio)],
        );
    }
    if vector.takes(&["eer"]) || vector.takes(&["cop"]) {
        let name = if vector.expected_unit() == "W/W" {
            "cop_from_eer"
        } else {
            "interactive_factor"
        };
        return run(name, vec![efficiency(vector)]);
    }
    panic!(
        "{}: nobody knows these inputs: {:?}",
        vector.label(),
        vector.inputs.keys()
    )
}

// Sources: the form of New South Wales ESS activity F5, US EIA and 10 CFR 431 subpart R values,
// each beside its vector.
#[test]
fn savings_meet_every_published_value() {
    let vectors = vectors_of(&["savings"]);
    assert!(!vectors.is_empty());
    for vector in vectors {
        vector.meets(first(&saving(&vector), vector.expected_unit()));
    }
}

// Sources: US EIA State Electricity Profiles 2022; US EPA eGRID2018.
#[test]
fn emission_factors_meet_every_published_value() {
    let vectors = vectors_of(&["co2"]);
    assert!(!vectors.is_empty());
    for vector in vectors {
        let unit = vector.expected_unit();
        if vector.has("year") {
            let year = Value::Number(vector.number("year"));
            let results = run("emission_factor", vec![("year", year)]);
            vector.meets(first(&results, unit));
        } else {
            let given = Unit::typed(Kind::EmissionFactor, vector.unit("x")).unwrap();
            vector.meets(in_unit(given.of(vector.number("x")), unit));
        }
    }
}

/// The savings method of public technical reference manuals, (W₀ − W₁)·n·h·(1 + 1/COP)/1000, as
/// the New South Wales Energy Savings Scheme codes its interactive factor (HEAB activity F5):
/// two motors from 135 W to 45 W at COP 3.634 save 2010.7 kWh a year, and with the 0.86 lb/kWh
/// of the US EIA (2022) 1729 lb of carbon dioxide.
#[test]
fn the_savings_method_of_public_manuals_comes_out() {
    let results = run(
        "gains",
        vec![
            ("watts_before", quantity(Kind::Power, "W", 135.0)),
            ("watts_after", quantity(Kind::Power, "W", 45.0)),
            ("motors", Value::Number(2.0)),
            ("cop", Value::Number(3.634)),
        ],
    );
    for (name, unit, expected) in [
        ("saved", "W", 180.0),
        ("energy", "kWh", 2010.7),
        ("carbon_dioxide", "lb", 1729.2),
    ] {
        let Some(Value::Quantity(got)) = results.get(name) else {
            panic!("no {name}");
        };
        let got = in_unit(*got, unit);
        assert!((got / expected - 1.0).abs() < 1e-3, "{name}: {got} {unit}");
    }
}

/// Low, likely and high of a result, if it is there.
fn three(results: &Results, name: &str) -> Option<[f64; 3]> {
    let number = |name: &str| match results.get(name)? {
        Value::Number(number) => Some(*number),
        Value::Quantity(quantity) => Some(quantity.si),
        _ => None,
    };
    Some([
        number(&format!("{name}_low"))?,
        number(name)?,
        number(&format!("{name}_high"))?,
    ])
}

proptest! {
    #[test]
    fn every_gain_is_finite_and_stands_between_its_low_and_high(
        before in 0.0..2000.0f64,
        after in 0.0..2000.0f64,
        motors in 1..12u32,
        cop in 0.5..10.0f64,
        known in 0..3usize,
        price in 0.0..2.0f64,
    ) {
        let by = ["wattmeter", "nameplate", "motor_type"][known];
        let results = run("gains", vec![
            ("watts_before", quantity(Kind::Power, "W", before)),
            ("watts_after", quantity(Kind::Power, "W", after)),
            ("before_known_by", Value::Word(by.into())),
            ("motors", Value::Number(f64::from(motors))),
            ("cop", Value::Number(cop)),
            ("price", quantity(Kind::EnergyPrice, "/kWh", price)),
            ("cost", Value::Number(350.0)),
            ("coil_capacity", quantity(Kind::Power, "kW", 100.0)),
        ]);
        let mut seen = 0;
        for name in ["saved", "each", "heat", "energy", "compressor_energy", "carbon_dioxide",
                     "freed", "run_time_less", "money", "payback"] {
            let Some([low, likely, high]) = three(&results, name) else { continue };
            prop_assert!(low.is_finite() && high.is_finite(), "{name}");
            prop_assert!(low <= likely && likely <= high, "{name}: {low} {likely} {high}");
            seen += 1;
        }
        prop_assert!(seen >= 9);
        prop_assert!(results.get("for_owner").is_some());
    }

    #[test]
    fn saving_more_watts_saves_more_energy(
        after in 1.0..500.0f64,
        more in 1.0..500.0f64,
        cop in 0.5..10.0f64,
    ) {
        prop_assume!(more > 1e-6);
        let energy = |before: f64| first(&run("energy_saved", vec![
            ("watts_before", quantity(Kind::Power, "W", before)),
            ("watts_after", quantity(Kind::Power, "W", after)),
            ("cop", Value::Number(cop)),
        ]), "kWh");
        prop_assert!(energy(after + more) > energy(after));
    }
}
