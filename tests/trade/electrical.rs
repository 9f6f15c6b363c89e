//! Supply, wires, motors and the rules of electrical work against published values.
//!
//! Most vectors go through the formulas by name, which call the typed functions; so the names
//! that a flow uses are tested too.

mod handbook;
mod lockout;
mod motors;
mod rules;
mod wires;

use std::collections::BTreeSet;

use fanwright::trade::formula::{Arguments, CannotWorkOut, Results, Value};
use fanwright::trade::formula_named;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::{Kind, Quantity, Unit};
use fanwright::trade::speed_book::SpeedBook;

use super::{Vector, vectors_of};

/// A group of vectors with what asserts one of them.
type Claim = (&'static str, fn(&Vector));

const CLAIMS: &[Claim] = &[
    ("nec_430_248", wires::full_load_current),
    ("nec_430_22", wires::one_motor),
    ("nec_430_24", wires::several_motors),
    ("nec_ch9_t8", wires::conductor),
    ("voltage_drop", wires::voltage_drop),
    ("c84_1", motors::system_band),
    ("service_voltage", motors::utility_band),
    ("mg1", motors::tolerance),
    ("insulation", motors::insulation),
    ("capacitor", motors::capacitor),
    ("motor", motors::motor),
    ("splices", rules::splices),
    ("disconnect", rules::disconnect),
    ("location", rules::location),
    ("regulation", rules::regulation),
    ("ip", rules::protection),
    ("loto", lockout::lockout),
    ("absence_of_voltage", lockout::absence_of_voltage),
    ("defrost_logic", rules::defrost_logic),
    ("ec", rules::ec),
    ("ladder", rules::ladder),
    ("units", rules::units),
];

/// Whether this module asserts the vectors of `group`.
pub(crate) fn claims(group: &str) -> bool {
    CLAIMS.iter().any(|(claimed, _)| *claimed == group)
}

#[test]
fn every_electrical_vector_is_met() {
    for (group, assert_one) in CLAIMS {
        let vectors = vectors_of(&[group]);
        assert!(!vectors.is_empty(), "no vectors of {group}");
        vectors.iter().for_each(assert_one);
    }
}

/// A harness that accepts anything proves nothing: each kind of vector, told by its inputs,
/// fails once any part of what it expects is changed.
#[test]
fn a_changed_expectation_fails() {
    for (group, assert_one) in CLAIMS {
        let mut seen = BTreeSet::new();
        for (count, vector) in vectors_of(&[group]).iter().enumerate() {
            let kind: Vec<String> = vector.inputs.keys().cloned().collect();
            if !seen.insert((kind, vector.expected.is_object())) {
                continue;
            }
            for place in 0.. {
                let mut changed = vectors_of(&[group]).swap_remove(count);
                if !change(&mut changed.expected, &mut { place }) {
                    break;
                }
                let met = std::panic::catch_unwind(|| assert_one(&changed)).is_ok();
                assert!(!met, "{} accepts {}", changed.label(), changed.expected);
            }
        }
    }
}

/// Changes the number, word or truth at `place`, counted through lists and maps; false where
/// there is none. Units keep their words.
fn change(value: &mut serde_json::Value, place: &mut usize) -> bool {
    use serde_json::Value as Json;
    match value {
        Json::Array(list) => list.iter_mut().any(|one| change(one, place)),
        Json::Object(map) => map
            .iter_mut()
            .any(|(key, one)| key != "unit" && change(one, place)),
        _ if *place > 0 => {
            *place -= 1;
            false
        }
        Json::Bool(so) => {
            *so = !*so;
            true
        }
        Json::Number(number) => {
            *value = (1.5 * number.as_f64().unwrap() + 3.0).into();
            true
        }
        _ => {
            *value = "something else".into();
            true
        }
    }
}

/// Runs the formula `name` without goods.
fn try_run(name: &str, arguments: Vec<(&str, Value)>) -> Result<Results, CannotWorkOut> {
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
    formula.work_out(&Arguments(given), &goods)
}

fn run(name: &str, arguments: Vec<(&str, Value)>) -> Results {
    try_run(name, arguments).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// `value` in the unit that the trade writes as `unit`.
fn quantity(kind: Kind, unit: &str, value: f64) -> Value {
    Value::Quantity(unit_of(kind, unit).of(value))
}

fn unit_of(kind: Kind, unit: &str) -> &'static Unit {
    Unit::typed(kind, unit).unwrap_or_else(|| panic!("no unit {unit} of {}", kind.word()))
}

fn word(text: &str) -> Value {
    Value::Word(text.to_owned())
}

fn truth(so: bool) -> Value {
    word(if so { "true" } else { "false" })
}

/// The input under `key`; a plain number is in `unit_if_plain`.
fn input(vector: &Vector, key: &str, kind: Kind, unit_if_plain: &str) -> Value {
    let unit = if vector.unit(key).is_empty() {
        unit_if_plain
    } else {
        vector.unit(key)
    };
    quantity(kind, unit, vector.number(key))
}

/// The result under `key`, in `unit`.
fn number(results: &Results, key: &str, unit: &str) -> f64 {
    match results.get(key) {
        Some(Value::Number(number)) => *number,
        Some(Value::Quantity(quantity)) => in_unit(*quantity, unit),
        other => panic!("{key} is no number: {other:?}"),
    }
}

/// The result under `key`, in the unit that the vector expects; words behind it do not count.
fn expected_number(vector: &Vector, results: &Results, key: &str) -> f64 {
    let unit = vector
        .expected_unit()
        .split_whitespace()
        .next()
        .unwrap_or_default();
    number(results, key, unit.split("/yr").next().unwrap_or_default())
}

fn in_unit(quantity: Quantity, unit: &str) -> f64 {
    let unit = match (quantity.kind, unit) {
        (Kind::Ratio, "" | "ratio") => "×",
        (_, "Vdc") => "V",
        (_, "ohm/kft") => "ohm",
        (_, "circular") => "cmil",
        (_, unit) => unit,
    };
    quantity.in_unit(unit_of(quantity.kind, unit))
}

fn result_word(results: &Results, key: &str) -> String {
    match results.get(key) {
        Some(Value::Word(word) | Value::Text(word)) => word.clone(),
        other => panic!("{key} is no word: {other:?}"),
    }
}

/// Whether the vector expects a yes: `true`, `OK`, `PASS`; or a no: `false`, `BLOCK`, `FAIL`.
/// Any other text fails.
fn expects_yes(vector: &Vector) -> bool {
    if let Some(so) = vector.expected.as_bool() {
        return so;
    }
    let text = vector.expected.as_str().unwrap_or_default().to_uppercase();
    let starts = |words: &[&str]| words.iter().any(|word| text.starts_with(word));
    let no = starts(&[
        "BLOCK",
        "FAIL",
        "VIOLATION",
        "NOT ",
        "NO ",
        "NO:",
        "INVALID",
        "REFUSE",
        "STOP",
        "RESULT INVALID",
    ]) || text == "NO";
    let yes = starts(&[
        "OK",
        "PASS",
        "ALLOW",
        "ACCEPT",
        "YES",
        "GO",
        "VALID",
        "COMPLIANT",
    ]);
    assert!(
        yes != no,
        "{}: neither yes nor no: {}",
        vector.label(),
        vector.expected
    );
    yes
}

/// The key among `keys` that the vector has.
fn key_of<'a>(vector: &Vector, keys: &[&'a str]) -> Option<&'a str> {
    keys.iter().copied().find(|key| vector.has(key))
}

fn unhandled(vector: &Vector) -> ! {
    panic!(
        "{}: nobody handles this kind of vector: {:?}",
        vector.label(),
        vector.inputs
    )
}

fn says(vector: &Vector, so: bool) {
    assert_eq!(so, expects_yes(vector), "{}", vector.label());
}
