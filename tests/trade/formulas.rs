//! What must hold for every formula, whatever its topic.

use std::collections::BTreeSet;

use fanwright::trade::formula::{Arguments, Formula, Value, ValueType};
use fanwright::trade::formulas;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::Quantity;
use fanwright::trade::speed_book::SpeedBook;
use proptest::prelude::*;

/// A value of the type that a parameter takes, made from raw numbers.
fn made(takes: &ValueType, raw: &[f64], pick: usize) -> Value {
    let quantity = |kind, number: f64| Quantity { kind, si: number };
    match takes {
        ValueType::Quantity(kind) => Value::Quantity(quantity(*kind, raw[pick % raw.len()])),
        ValueType::Number => Value::Number(raw[pick % raw.len()]),
        ValueType::Word(words) => Value::Word(words[pick % words.len()].to_owned()),
        ValueType::Quantities(kind) => {
            Value::Quantities(raw.iter().map(|number| quantity(*kind, *number)).collect())
        }
        _ => Value::Text("as typed".into()),
    }
}

/// Runs a formula on made-up arguments and says what is wrong with its results, if anything.
fn fault(formula: &Formula, raw: &[f64], picks: &[usize]) -> Option<String> {
    let (kit, speed_book) = (Kit::default(), SpeedBook::default());
    let goods = Goods {
        kit: &kit,
        speed_book: &speed_book,
    };
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
        if !formula.gives.iter().any(|output| output.name == name) {
            return Some(format!("{}: {name} is not declared", formula.name));
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
