//! Conditions and formulas: Common Expression Language, typed with units at load.

use super::model::At;
use super::name::{ChoiceKey, FactName};
use crate::trade::formula::Value;
use crate::trade::quantity::Kind;

/// The most bytes one expression may have.
pub const EXPRESSION_BYTES_MAX: usize = 1024;

/// The type of an expression or fact.
#[derive(Clone, Debug, PartialEq)]
pub enum Type {
    /// True or false.
    Bool,
    /// A plain number.
    Number,
    /// A quantity of this kind.
    Quantity(Kind),
    /// One key of these.
    Word(Vec<ChoiceKey>),
    /// Several keys of these.
    Words(Vec<ChoiceKey>),
    /// Text.
    Text,
    /// Several quantities of this kind.
    Quantities(Kind),
    /// A photo: it can only be known or not.
    Photo,
}

/// What an expression may name, with types.
pub trait Scope {
    /// The type of the fact called `name`.
    fn fact(&self, name: &str) -> Option<Type>;
    /// All fact names, for "did you mean".
    fn names(&self) -> Vec<&str>;
}

/// Confirmed values of facts.
pub trait Facts {
    /// The confirmed value of `name`.
    fn value(&self, name: &FactName) -> Option<&Value>;
}

/// A typed expression.
#[derive(Clone, Debug)]
pub struct Expression {
    /// As the file says it.
    pub source: String,
    /// Where it stands.
    pub at: At,
    /// Its type.
    pub gives: Type,
}
