//! Conditions and formulas: Common Expression Language, typed with units at load.
//!
//! The text is parsed by the `cel` crate and lowered to our own typed tree ([`Node`]), which is
//! evaluated in SI doubles. What CEL would find out while running (a missing key, a sum of volts
//! and amperes) is found while the flow is loaded.
//!
//! Two things differ from plain CEL, both on purpose:
//! - every number is a double: `7 / 2` is 3.5, and `1 + 1.5` is not an error;
//! - two amounts that differ by less than one part in 10¹² count as equal: a reading typed in
//!   another unit carries that much rounding, and must not fall outside a range at whose end it
//!   stands.

mod amounts;
mod evaluate;
mod limits;
mod lower;
mod node;
mod reads;
mod syntax;
mod without;
mod wording;
mod words;

use super::model::At;
use super::name::{ChoiceKey, FactName};
use crate::trade::formula::Value;
use crate::trade::quantity::{Kind, Quantity, Unit};

pub use limits::{EXPRESSION_BYTES_MAX, EXPRESSION_DEPTH_MAX, EXPRESSION_OPERATORS_MAX};
pub use node::{Amount, Comparison, Measure, Node, Term, Truth, Word, WordTerm};

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
    /// The unit in which the fact called `name` is shown, if the flow says one.
    fn shown_in(&self, _name: &str) -> Option<&'static Unit> {
        None
    }
    /// What people read for the choice `key` of the fact called `name`.
    fn label(&self, _name: &str, _key: &str) -> Option<String> {
        None
    }
    /// The most characters of the text fact called `name`.
    fn characters_max(&self, _name: &str) -> Option<u32> {
        None
    }
}

/// Confirmed values of facts.
pub trait Facts {
    /// The confirmed value of `name`.
    fn value(&self, name: &FactName) -> Option<&Value>;
}

/// One thing that is wrong with an expression or a template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where; inside a text of several lines, the place where the text begins.
    pub at: At,
    /// What is wrong, one sentence.
    pub wrong: String,
    /// What to do about it, one sentence.
    pub mend: String,
}

/// Why an expression has no value now.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Missing {
    /// This fact has no confirmed value.
    #[error("“{0}” is not known. Answer it first.")]
    Fact(FactName),
    /// A division by zero, or a number beyond all measure.
    #[error("This can't be worked out: it divides by zero or grows too large. Check the readings.")]
    NotANumber,
    /// The fact's value is of another type than its flow declares.
    #[error("“{0}” holds something else than its flow declares. Answer it again.")]
    OtherType(FactName),
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
    node: Node,
}

impl Expression {
    /// Reads and types `source`, whose first character stands at `at`.
    ///
    /// # Errors
    /// Everything that is wrong with it, in the order of the text.
    pub fn compile(source: &str, at: At, scope: &dyn Scope) -> Result<Self, Vec<Fault>> {
        let place = syntax::Place { source, at };
        limits::hold(&place).map_err(|fault| vec![fault])?;
        let tree = syntax::parse(&place).map_err(|fault| vec![fault])?;
        let node = lower::lower(&tree, &place, scope)?;
        Ok(Self {
            source: source.to_owned(),
            at,
            gives: node.gives(),
            node,
        })
    }

    /// The value. A truth comes as one of the words of [`crate::trade::formula::TRUTH`], as
    /// formulas take it.
    ///
    /// # Errors
    /// When a fact that decides it is missing, or no finite number comes out.
    pub fn eval(&self, facts: &dyn Facts) -> Result<Value, Missing> {
        evaluate::value(&self.node, facts)
    }

    /// Whether the condition holds.
    ///
    /// # Errors
    /// As [`Expression::eval`]; also [`Missing::NotANumber`] when this is no condition, which a
    /// loaded flow never asks.
    pub fn holds(&self, facts: &dyn Facts) -> Result<bool, Missing> {
        match &self.node {
            Node::Truth(truth) => evaluate::truth(truth, facts),
            _ => Err(Missing::NotANumber),
        }
    }

    /// The quantity.
    ///
    /// # Errors
    /// As [`Expression::eval`]; also [`Missing::NotANumber`] when this gives no quantity, which
    /// a loaded flow never asks.
    pub fn quantity(&self, facts: &dyn Facts) -> Result<Quantity, Missing> {
        match self.eval(facts)? {
            Value::Quantity(quantity) => Ok(quantity),
            _ => Err(Missing::NotANumber),
        }
    }

    /// The plain number.
    ///
    /// # Errors
    /// As [`Expression::eval`]; also [`Missing::NotANumber`] when this gives no plain number,
    /// which a loaded flow never asks.
    pub fn number(&self, facts: &dyn Facts) -> Result<f64, Missing> {
        match self.eval(facts)? {
            Value::Number(number) => Ok(number),
            _ => Err(Missing::NotANumber),
        }
    }

    /// The facts whose values it reads, each once, in the order of the text.
    pub fn facts(&self) -> Vec<&FactName> {
        reads::facts(&self.node)
    }

    /// The facts of which it only asks `known(…)`, each once, in the order of the text.
    ///
    /// A fact may be in both lists: `known(x) && x > 3`.
    pub fn known_asks(&self) -> Vec<&FactName> {
        reads::known_asks(&self.node)
    }

    /// Whether it may have no value where this fact is missing, whatever the others are. In
    /// `known(x) && x > 3` it always has one, in `known(x) || x > 3` not.
    pub fn may_lack_a_value_without(&self, fact: &FactName) -> bool {
        without::may_lack_a_value(&self.node, fact)
    }

    /// The data rows that it reads.
    pub fn rows(&self) -> Vec<&'static str> {
        reads::rows(&self.node)
    }

    /// The typed tree.
    pub fn node(&self) -> &Node {
        &self.node
    }

    /// The fact, where the whole expression is nothing but its name.
    pub fn bare_fact(&self) -> Option<&FactName> {
        self.node.bare_fact()
    }
}
