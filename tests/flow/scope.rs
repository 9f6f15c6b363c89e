//! A small made-up flow's facts, to type and evaluate expressions against.

use std::collections::BTreeMap;

use fanwright::flow::expression::{Expression, Facts, Fault, Scope, Type};
use fanwright::flow::model::At;
use fanwright::flow::name::{ChoiceKey, FactName};
use fanwright::trade::formula::Value;
use fanwright::trade::quantity::{Kind, Unit};

/// The facts that every test may name.
pub(crate) struct Example;

fn keys(words: &[&str]) -> Vec<ChoiceKey> {
    words.iter().map(|word| ChoiceKey::from(*word)).collect()
}

impl Scope for Example {
    fn fact(&self, name: &str) -> Option<Type> {
        Some(match name {
            "supply" | "rated" => Type::Quantity(Kind::Voltage),
            "draw" => Type::Quantity(Kind::Current),
            "speed" => Type::Quantity(Kind::RotationalSpeed),
            "box_temperature" | "suction" => Type::Quantity(Kind::Temperature),
            "superheat" => Type::Quantity(Kind::TemperatureDifference),
            "tolerance" => Type::Quantity(Kind::Ratio),
            "fans_dead" | "fans_total" | "factor" => Type::Number,
            "lead" => Type::Word(keys(&["plug", "cut", "bare"])),
            "end_found" => Type::Word(keys(&["cut", "corroded"])),
            "defrost" => Type::Word(keys(&["electric", "hot_gas", "air"])),
            "ice_pattern" => Type::Words(keys(&["top", "bottom", "even"])),
            "remark" => Type::Text,
            "readings" => Type::Quantities(Kind::Voltage),
            "plate" => Type::Photo,
            _ => return None,
        })
    }

    fn names(&self) -> Vec<&str> {
        vec![
            "supply",
            "rated",
            "draw",
            "speed",
            "box_temperature",
            "suction",
            "superheat",
            "tolerance",
            "fans_dead",
            "fans_total",
            "factor",
            "lead",
            "end_found",
            "defrost",
            "ice_pattern",
            "remark",
            "readings",
            "plate",
        ]
    }

    fn shown_in(&self, name: &str) -> Option<&'static Unit> {
        match name {
            "rated" => Unit::of_literal("millivolt"),
            "suction" => Unit::of_literal("deg_c"),
            _ => None,
        }
    }

    fn label(&self, name: &str, key: &str) -> Option<String> {
        let label = match (name, key) {
            ("lead", "plug") => "The plug fits and locks",
            ("lead", "cut") => "It does not fit",
            ("ice_pattern", "top") => "At the top",
            ("ice_pattern", "bottom") => "At the bottom",
            _ => return None,
        };
        Some(label.to_owned())
    }

    fn characters_max(&self, name: &str) -> Option<u32> {
        (name == "remark").then_some(200)
    }
}

/// Values of some facts.
#[derive(Clone, Debug, Default)]
pub(crate) struct Known(pub(crate) BTreeMap<FactName, Value>);

impl Known {
    pub(crate) fn with(mut self, name: &str, value: Value) -> Self {
        self.0.insert(FactName::from(name), value);
        self
    }

    /// `literal` is a unit's name in expressions: `volt`.
    pub(crate) fn measured(self, name: &str, literal: &str, value: f64) -> Self {
        let quantity = Unit::of_literal(literal).unwrap().of(value);
        self.with(name, Value::Quantity(quantity))
    }

    pub(crate) fn word(self, name: &str, word: &str) -> Self {
        self.with(name, Value::Word(word.to_owned()))
    }

    pub(crate) fn words(self, name: &str, words: &[&str]) -> Self {
        let words = words.iter().map(|word| (*word).to_owned()).collect();
        self.with(name, Value::Words(words))
    }

    pub(crate) fn number(self, name: &str, number: f64) -> Self {
        self.with(name, Value::Number(number))
    }
}

impl Facts for Known {
    fn value(&self, name: &FactName) -> Option<&Value> {
        self.0.get(name)
    }
}

/// Where every test's text begins.
pub(crate) const AT: At = At {
    line: 7,
    column: 20,
};

/// Compiles against the example's facts.
pub(crate) fn compile(source: &str) -> Result<Expression, Vec<Fault>> {
    Expression::compile(source, AT, &Example)
}
