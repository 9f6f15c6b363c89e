//! What must hold for every formula, whatever its topic.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use fanwright::trade::formula::{Arguments, Formula, Value, ValueType};
use fanwright::trade::formulas;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::Kind;
use fanwright::trade::speed_book::SpeedBook;
use proptest::prelude::*;

/// A value of the type that a parameter takes, made from raw numbers in any unit of its kind.
fn made(takes: &ValueType, raw: &[f64], pick: usize) -> Value {
    let quantity = |kind: Kind, number: f64| {
        let units: Vec<_> = kind.units().collect();
        units[pick % units.len()].of(number)
    };
    match takes {
        ValueType::Quantity(kind) => Value::Quantity(quantity(*kind, raw[pick % raw.len()])),
        ValueType::Number => Value::Number(raw[pick % raw.len()]),
        ValueType::Word(words) => Value::Word(words[pick % words.len()].to_owned()),
        ValueType::Quantities(kind) => {
            Value::Quantities(raw.iter().map(|number| quantity(*kind, *number)).collect())
        }
        ValueType::Text => Value::Text(TEXTS[pick % TEXTS.len()].into()),
    }
}

/// Texts that some formula knows: a model, a mounting, a class, a region.
const TEXTS: &[&str] = &[
    "as typed",
    "NQ-HV-4120",
    "flange 12",
    "IP54",
    "us_average",
    "",
];

/// Whether a value is what its output declares.
fn is_declared(value: &Value, gives: &ValueType) -> bool {
    match (value, gives) {
        (Value::Quantity(one), ValueType::Quantity(kind)) => one.kind == *kind,
        (Value::Quantities(all), ValueType::Quantities(kind)) => {
            all.iter().all(|one| one.kind == *kind)
        }
        (Value::Number(_), ValueType::Number) | (Value::Text(_), ValueType::Text) => true,
        (Value::Word(word), ValueType::Word(words)) => words.contains(&word.as_str()),
        _ => false,
    }
}

static GOODS: LazyLock<(Kit, SpeedBook)> = LazyLock::new(|| {
    let kit = include_str!("../../flows/demo/kit.yaml");
    let book = include_str!("../../flows/demo/speed-book.yaml");
    (Kit::read(kit).unwrap(), SpeedBook::read(book).unwrap())
});

/// Runs a formula on made-up arguments and says what is wrong with its results, if anything.
fn fault(formula: &Formula, raw: &[f64], picks: &[usize]) -> Option<String> {
    let (kit, speed_book) = &*GOODS;
    let goods = Goods { kit, speed_book };
    let mut arguments = Arguments::default();
    for (place, parameter) in formula.takes.iter().enumerate() {
        let pick = picks[place % picks.len()];
        if parameter.unless_given.is_some() && pick.is_multiple_of(3) {
            continue;
        }
        arguments.0.insert(
            parameter.name.into(),
            made(&parameter.takes, raw, pick + place),
        );
    }
    // The raw computation, so that what follows is its own doing.
    let results = match (formula.run)(&arguments, &goods) {
        Ok(results) => results,
        Err(why) => {
            let why = why.to_string();
            let whole = why.ends_with('.') && why.chars().count() > 15;
            return (!whole).then(|| format!("{}: not a sentence: {why}", formula.name));
        }
    };
    let finite = |value: &Value| match value {
        Value::Quantity(quantity) => quantity.si.is_finite(),
        Value::Number(number) => number.is_finite(),
        Value::Quantities(several) => several.iter().all(|quantity| quantity.si.is_finite()),
        _ => true,
    };
    for (name, value) in &results.values {
        let Some(output) = formula.gives.iter().find(|output| output.name == name) else {
            return Some(format!("{}: {name} is not declared", formula.name));
        };
        if !is_declared(value, &output.gives) {
            return Some(format!("{}: {name} is {value:?}", formula.name));
        }
        if !finite(value) {
            return Some(format!(
                "{}: {name} is {value:?} from {arguments:?}",
                formula.name
            ));
        }
    }
    None
}

#[test]
fn every_formula_has_its_own_name_a_source_and_symbols() {
    let mut names = BTreeSet::new();
    for formula in formulas() {
        assert!(
            names.insert(formula.name),
            "{} is there twice",
            formula.name
        );
        for text in [formula.about, formula.symbols, formula.source] {
            assert!(!text.trim().is_empty(), "{}", formula.name);
        }
        assert!(!formula.gives.is_empty(), "{}", formula.name);
    }
    assert!(names.len() > 25);
}

/// Numbers of any size that a sensor or a slip of the finger could produce, and no numbers.
fn hostile() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => (any::<bool>(), -40.0_f64..40.0)
            .prop_map(|(minus, power)| if minus { -1.0 } else { 1.0 } * 10_f64.powf(power)),
        2 => Just(0.0),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::NEG_INFINITY),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn plausible_numbers_give_finite_results_or_a_sentence(
        raw in prop::collection::vec(0.0_f64..600.0, 4..7),
        picks in prop::collection::vec(0_usize..1_000, 12),
    ) {
        for formula in formulas() {
            prop_assert_eq!(fault(formula, &raw, &picks), None);
        }
    }

    #[test]
    fn hostile_numbers_give_finite_results_or_a_sentence(
        raw in prop::collection::vec(hostile(), 4..7),
        picks in prop::collection::vec(0_usize..1_000, 12),
    ) {
        for formula in formulas() {
            prop_assert_eq!(fault(formula, &raw, &picks), None);
        }
    }
}
