//! The typed tree of an expression. What cannot be typed cannot be built.

use super::Type;
use crate::flow::name::{ChoiceKey, FactName};
use crate::trade::quantity::Kind;

/// A whole expression, by what it gives.
#[derive(Clone, Debug, PartialEq)]
pub enum Node {
    /// True or false.
    Truth(Truth),
    /// A plain number or a quantity.
    Amount(Amount),
    /// One key.
    Word(Word),
    /// Several keys: a fact as it is.
    Words {
        /// The fact.
        fact: FactName,
        /// The keys it may hold.
        keys: Vec<ChoiceKey>,
    },
    /// Text: a fact as it is.
    Text(FactName),
    /// Several quantities: a fact as it is.
    Quantities {
        /// The fact.
        fact: FactName,
        /// The kind of each.
        kind: Kind,
    },
}

/// Something that holds or not.
#[derive(Clone, Debug, PartialEq)]
pub enum Truth {
    /// `true` or `false`.
    Constant(bool),
    /// `known(x)`: whether the fact has a confirmed value.
    Known(FactName),
    /// `!a`
    Not(Box<Truth>),
    /// `a && b`: false decides, whatever is missing on the other side.
    And(Box<Truth>, Box<Truth>),
    /// `a || b`: true decides, whatever is missing on the other side.
    Or(Box<Truth>, Box<Truth>),
    /// `a ? b : c`
    Choice {
        /// The condition.
        when: Box<Truth>,
        /// The value where it holds.
        then: Box<Truth>,
        /// The value where it does not.
        otherwise: Box<Truth>,
    },
    /// `a < b` and its like, within one measure.
    Compare {
        /// How they must stand to each other.
        how: Comparison,
        /// The left side.
        left: Amount,
        /// The right side.
        right: Amount,
    },
    /// `lead == "cut"`; with `same: false`, `lead != "cut"`.
    Is {
        /// The left side.
        left: Word,
        /// The right side.
        right: Word,
        /// Whether they must be the same or differ.
        same: bool,
    },
    /// `lead in ["cut", "bare"]`
    OneOf {
        /// What is looked for.
        word: Word,
        /// Where.
        keys: Vec<ChoiceKey>,
    },
    /// `"bottom" in ice_pattern`
    Has {
        /// What is looked for.
        word: Word,
        /// The fact with several keys.
        within: FactName,
    },
}

/// How two amounts stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// `<`
    Less,
    /// `<=`
    AtMost,
    /// `>`
    More,
    /// `>=`
    AtLeast,
    /// `==`
    Equal,
    /// `!=`
    Different,
}

/// What an amount measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// A plain number.
    Number,
    /// A quantity of this kind, in its SI unit.
    Quantity(Kind),
}

/// A plain number or a quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    /// What it measures.
    pub measure: Measure,
    /// How it comes about.
    pub term: Box<Term>,
}

/// How an amount comes about.
#[derive(Clone, Debug, PartialEq)]
pub enum Term {
    /// A literal: `4`, or `volt(187)` in its SI unit.
    Constant(f64),
    /// A named data row, in its SI unit.
    Row {
        /// Its name.
        name: &'static str,
        /// Its value.
        si: f64,
    },
    /// A fact.
    Fact(FactName),
    /// `-a`
    Negative(Amount),
    /// `abs(a)`
    Absolute(Amount),
    /// `a + b`
    Sum(Amount, Amount),
    /// `a - b`
    Difference(Amount, Amount),
    /// `a * b`
    Product(Amount, Amount),
    /// `a / b`
    Quotient(Amount, Amount),
    /// `min(a, b, …)`; two at least.
    Least(Vec<Amount>),
    /// `max(a, b, …)`; two at least.
    Greatest(Vec<Amount>),
    /// `a ? b : c`
    Choice {
        /// The condition.
        when: Truth,
        /// The amount where it holds.
        then: Amount,
        /// The amount where it does not.
        otherwise: Amount,
    },
}

/// One key.
#[derive(Clone, Debug, PartialEq)]
pub struct Word {
    /// The keys it may be.
    pub keys: Vec<ChoiceKey>,
    /// How it comes about.
    pub term: WordTerm,
}

/// How a word comes about.
#[derive(Clone, Debug, PartialEq)]
pub enum WordTerm {
    /// A literal: `"cut"`.
    Key(ChoiceKey),
    /// A fact.
    Fact(FactName),
    /// `a ? b : c`
    Choice {
        /// The condition.
        when: Box<Truth>,
        /// The word where it holds.
        then: Box<Word>,
        /// The word where it does not.
        otherwise: Box<Word>,
    },
}

impl Node {
    /// The type of what it gives.
    pub fn gives(&self) -> Type {
        match self {
            Self::Truth(_) => Type::Bool,
            Self::Amount(amount) => amount.measure.into(),
            Self::Word(word) => Type::Word(word.keys.clone()),
            Self::Words { keys, .. } => Type::Words(keys.clone()),
            Self::Text(_) => Type::Text,
            Self::Quantities { kind, .. } => Type::Quantities(*kind),
        }
    }

    /// The fact, where this is nothing but its name.
    pub fn bare_fact(&self) -> Option<&FactName> {
        match self {
            Self::Truth(_) => None,
            Self::Amount(amount) => match amount.term.as_ref() {
                Term::Fact(fact) => Some(fact),
                _ => None,
            },
            Self::Word(word) => match &word.term {
                WordTerm::Fact(fact) => Some(fact),
                _ => None,
            },
            Self::Words { fact, .. } | Self::Text(fact) | Self::Quantities { fact, .. } => {
                Some(fact)
            }
        }
    }
}

impl From<Measure> for Type {
    fn from(measure: Measure) -> Self {
        match measure {
            Measure::Number => Type::Number,
            Measure::Quantity(kind) => Type::Quantity(kind),
        }
    }
}

impl Amount {
    /// An amount of `measure` that comes about by `term`.
    pub(super) fn new(measure: Measure, term: Term) -> Self {
        Self {
            measure,
            term: Box::new(term),
        }
    }
}
