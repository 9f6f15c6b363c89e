//! Published and computed values that the trade functions must meet, read from one file.
//!
//! A module claims groups of vectors and asserts every one of them by its group and the keys of
//! its inputs, never by its id. A vector that nobody handles fails.

mod air;
mod by_command;
mod coil;
mod curve;
mod electrical;
mod formulas;
mod gains;
mod laws;
mod refrigerant;
mod selection;
mod work_out;

use serde_json::{Map, Value};

/// One value with where it comes from and how near the answer must be.
pub(crate) struct Vector {
    /// For failure messages only.
    pub(crate) id: String,
    /// What it is about.
    pub(crate) group: String,
    /// Its name within the group.
    pub(crate) name: String,
    /// What goes in.
    pub(crate) inputs: Map<String, Value>,
    /// What must come out.
    pub(crate) expected: Value,
    /// How near: `abs`, `rel`, `exact`, or `<key>_abs` for one of several results.
    pub(crate) tolerance: Map<String, Value>,
}

/// Every vector of `groups`, in the order of the file.
pub(crate) fn vectors_of(groups: &[&str]) -> Vec<Vector> {
    all_vectors()
        .into_iter()
        .filter(|vector| groups.contains(&vector.group.as_str()))
        .collect()
}

fn all_vectors() -> Vec<Vector> {
    let file: Value = serde_json::from_str(include_str!("vectors.json")).unwrap();
    let text = |value: &Value, key: &str| value[key].as_str().unwrap_or_default().to_owned();
    let map = |value: &Value, key: &str| value[key].as_object().cloned().unwrap_or_default();
    let vectors = file["vectors"].as_array().unwrap();
    vectors
        .iter()
        .map(|value| Vector {
            id: text(value, "id"),
            group: text(value, "group"),
            name: text(value, "name"),
            inputs: map(value, "inputs"),
            expected: value["expected"].clone(),
            tolerance: map(value, "tolerance"),
        })
        .collect()
}

impl Vector {
    /// `id group/name`, for messages.
    pub(crate) fn label(&self) -> String {
        format!("{} {}/{}", self.id, self.group, self.name)
    }

    /// Whether there is an input called `key`.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.inputs.contains_key(key)
    }

    /// Whether the inputs are exactly these keys, in any order.
    pub(crate) fn takes(&self, keys: &[&str]) -> bool {
        self.inputs.len() == keys.len() && keys.iter().all(|key| self.has(key))
    }

    /// The number under `key`: `{ value, unit }`, a plain number or a fraction such as `1-1/2`.
    pub(crate) fn number(&self, key: &str) -> f64 {
        let value = &self.inputs[key];
        value
            .as_f64()
            .or_else(|| value["value"].as_f64())
            .or_else(|| fraction(value.as_str()?))
            .unwrap_or_else(|| panic!("{}: {key} is not a number: {value}", self.label()))
    }

    /// The unit under `key`, or nothing where the number is plain.
    pub(crate) fn unit(&self, key: &str) -> &str {
        self.inputs[key]["unit"].as_str().unwrap_or_default()
    }

    /// The text under `key`.
    pub(crate) fn text(&self, key: &str) -> &str {
        self.inputs[key]
            .as_str()
            .unwrap_or_else(|| panic!("{}: {key} is not a text", self.label()))
    }

    /// The truth under `key`.
    pub(crate) fn truth(&self, key: &str) -> bool {
        self.inputs[key]
            .as_bool()
            .unwrap_or_else(|| panic!("{}: {key} is neither true nor false", self.label()))
    }

    /// The unit of the expected value, or nothing.
    pub(crate) fn expected_unit(&self) -> &str {
        self.expected["unit"].as_str().unwrap_or_default()
    }

    /// Asserts that `got` meets the one expected number.
    pub(crate) fn meets(&self, got: f64) {
        let expected = if self.expected.is_number() {
            &self.expected
        } else {
            &self.expected["value"]
        };
        self.near("value", expected, got);
    }

    /// Asserts that `got` meets the expected number under `key`.
    pub(crate) fn meets_under(&self, key: &str, got: f64) {
        let under = &self.expected[key];
        self.near(
            key,
            if under.is_number() {
                under
            } else {
                &under["value"]
            },
            got,
        );
    }

    fn near(&self, key: &str, expected: &Value, got: f64) {
        let expected = expected
            .as_f64()
            .unwrap_or_else(|| panic!("{}: no number expected under {key}", self.label()));
        let under = |name: &str| self.tolerance.get(name).and_then(Value::as_f64);
        let allowed = under(&format!("{key}_abs"))
            .or_else(|| under("abs"))
            .or_else(|| under("rel").map(|share| share * expected.abs()))
            .unwrap_or_else(|| panic!("{}: no tolerance for {key}", self.label()));
        // "abs 0" means the printed value itself; a double may still be off in its last digits.
        let allowed = allowed + 1e-9 * expected.abs();
        assert!(
            (got - expected).abs() <= allowed,
            "{}: {key} is {got}, expected {expected} within {allowed}",
            self.label()
        );
    }
}

/// A number such as `7-1/2`, `1/6` or `2`.
pub(crate) fn fraction(text: &str) -> Option<f64> {
    let (whole, part) = match text.split_once('-') {
        Some((whole, part)) => (whole.parse::<f64>().ok()?, part),
        None => (0.0, text),
    };
    match part.split_once('/') {
        Some((top, bottom)) => Some(whole + top.parse::<f64>().ok()? / bottom.parse::<f64>().ok()?),
        None => Some(whole + part.parse::<f64>().ok()?),
    }
}

#[test]
fn fractions_read_as_people_write_them() {
    for (text, value) in [("7-1/2", 7.5), ("1/4", 0.25), ("2", 2.0), ("0.5", 0.5)] {
        assert_eq!(fraction(text), Some(value));
    }
    assert_eq!(fraction("half"), None);
}

/// Groups that the other modules assert.
const ELSEWHERE: &[&str] = &[
    "air",
    "sensible",
    "velocity",
    "fanlaw",
    "coil",
    "savings",
    "co2",
    "pt",
    "tp",
    "pt_crosscheck",
    "superheat",
    "glide",
    "safety_group",
];

#[test]
fn no_group_of_vectors_is_forgotten() {
    for vector in all_vectors() {
        let group = vector.group.as_str();
        let claimed = ELSEWHERE.contains(&group) || electrical::claims(group);
        assert!(claimed, "{}: no module asserts this group", vector.label());
    }
}
