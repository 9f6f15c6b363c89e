//! What expressions of one flow may name.

use indexmap::IndexMap;

use super::super::expression::{Scope, Type};
use super::super::model::{Fact, FactType};
use super::super::name::FactName;
use crate::trade::quantity::Unit;

/// The facts of a flow as a scope; after a `run` also its outcomes.
pub(super) struct FlowScope<'a> {
    pub(super) facts: &'a IndexMap<FactName, Fact>,
    pub(super) outcome: Option<Vec<super::super::name::ChoiceKey>>,
}

/// The name under which a condition asks how the flow just run ended.
pub const OUTCOME: &str = "outcome";

impl Scope for FlowScope<'_> {
    fn fact(&self, name: &str) -> Option<Type> {
        if name == OUTCOME {
            return self.outcome.clone().map(Type::Word);
        }
        self.facts.get(name).map(|fact| type_of(&fact.holds))
    }

    fn names(&self) -> Vec<&str> {
        self.facts.keys().map(FactName::as_str).collect()
    }

    fn shown_in(&self, name: &str) -> Option<&'static Unit> {
        match self.facts.get(name)?.holds {
            FactType::Measures { show_in, .. } => Some(show_in),
            _ => None,
        }
    }

    fn characters_max(&self, name: &str) -> Option<u32> {
        match self.facts.get(name)?.holds {
            FactType::Text { characters_max } => Some(characters_max),
            _ => None,
        }
    }

    fn label(&self, name: &str, key: &str) -> Option<String> {
        match &self.facts.get(name)?.holds {
            FactType::OneOf(choices) | FactType::SomeOf(choices) => choices.get(key).cloned(),
            _ => None,
        }
    }
}

/// The type that a fact has in expressions.
pub(crate) fn type_of(holds: &FactType) -> Type {
    match holds {
        FactType::OneOf(choices) => Type::Word(choices.keys().cloned().collect()),
        FactType::SomeOf(choices) => Type::Words(choices.keys().cloned().collect()),
        FactType::Measures { kind, .. } => Type::Quantity(*kind),
        FactType::Counts { .. } | FactType::Number { .. } => Type::Number,
        FactType::Text { .. } => Type::Text,
        FactType::Photo { .. } => Type::Photo,
    }
}

impl Type {
    /// Whether every value of this type may stand where `wanted` is expected.
    pub(crate) fn fits(&self, wanted: &Type) -> bool {
        match (self, wanted) {
            (Type::Word(keys), Type::Word(wanted)) | (Type::Words(keys), Type::Words(wanted)) => {
                keys.iter().all(|key| wanted.contains(key))
            }
            _ => self == wanted,
        }
    }
}
