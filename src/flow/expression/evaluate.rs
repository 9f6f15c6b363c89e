//! Evaluation in SI doubles. Total: what can't be known or reckoned is [`Missing`].

use super::{Amount, Comparison, Facts, Measure, Missing, Node, Term, Truth, Word, WordTerm};
use crate::flow::name::{ChoiceKey, FactName};
use crate::trade::formula::{TRUTH, Value};
use crate::trade::quantity::{Quantity, nearly_equal};

/// The value of a whole expression.
pub(super) fn value(node: &Node, facts: &dyn Facts) -> Result<Value, Missing> {
    match node {
        Node::Truth(of) => {
            let [yes, no] = TRUTH else {
                return Err(Missing::NotANumber);
            };
            let word = if truth(of, facts)? { yes } else { no };
            Ok(Value::Word((*word).to_owned()))
        }
        Node::Amount(of) => {
            let si = amount(of, facts)?;
            Ok(match of.measure {
                Measure::Number => Value::Number(si),
                Measure::Quantity(kind) => Value::Quantity(Quantity { kind, si }),
            })
        }
        Node::Word(of) => Ok(Value::Word(word(of, facts)?.to_owned())),
        Node::Words { fact, .. } => match given(fact, facts)? {
            value @ Value::Words(_) => Ok(value.clone()),
            _ => Err(Missing::OtherType(fact.clone())),
        },
        Node::Text(fact) => match given(fact, facts)? {
            value @ Value::Text(_) => Ok(value.clone()),
            _ => Err(Missing::OtherType(fact.clone())),
        },
        Node::Quantities { fact, kind } => match given(fact, facts)? {
            Value::Quantities(list) if list.iter().all(|one| one.kind == *kind) => {
                Ok(Value::Quantities(list.clone()))
            }
            _ => Err(Missing::OtherType(fact.clone())),
        },
    }
}

fn given<'f>(fact: &FactName, facts: &'f dyn Facts) -> Result<&'f Value, Missing> {
    facts.value(fact).ok_or_else(|| Missing::Fact(fact.clone()))
}

/// Whether a condition holds.
pub(super) fn truth(of: &Truth, facts: &dyn Facts) -> Result<bool, Missing> {
    match of {
        Truth::Constant(value) => Ok(*value),
        Truth::Known(fact) => Ok(facts.value(fact).is_some()),
        Truth::Not(of) => Ok(!truth(of, facts)?),
        Truth::And(left, right) => decided_by(false, left, right, facts),
        Truth::Or(left, right) => decided_by(true, left, right, facts),
        Truth::Choice {
            when,
            then,
            otherwise,
        } => {
            let chosen = if truth(when, facts)? { then } else { otherwise };
            truth(chosen, facts)
        }
        Truth::Compare { how, left, right } => {
            Ok(compare(*how, amount(left, facts)?, amount(right, facts)?))
        }
        Truth::Is { left, right, same } => Ok((word(left, facts)? == word(right, facts)?) == *same),
        Truth::OneOf { word: of, keys } => {
            let of = word(of, facts)?;
            Ok(keys.iter().any(|key| key.as_str() == of))
        }
        Truth::Has { word: of, within } => {
            let of = word(of, facts)?;
            match given(within, facts)? {
                Value::Words(words) => Ok(words.iter().any(|word| word == of)),
                _ => Err(Missing::OtherType(within.clone())),
            }
        }
    }
}

/// `deciding` on either side decides, even where the other side has no value.
fn decided_by(
    deciding: bool,
    left: &Truth,
    right: &Truth,
    facts: &dyn Facts,
) -> Result<bool, Missing> {
    let left = truth(left, facts);
    if left == Ok(deciding) {
        return Ok(deciding);
    }
    match truth(right, facts) {
        Ok(right) if right == deciding => Ok(deciding),
        right => left.and(right),
    }
}

fn compare(how: Comparison, left: f64, right: f64) -> bool {
    let equal = nearly_equal(left, right);
    match how {
        Comparison::Less => left < right && !equal,
        Comparison::AtMost => left < right || equal,
        Comparison::More => left > right && !equal,
        Comparison::AtLeast => left > right || equal,
        Comparison::Equal => equal,
        Comparison::Different => !equal,
    }
}

/// The SI value of an amount; always finite.
pub(super) fn amount(of: &Amount, facts: &dyn Facts) -> Result<f64, Missing> {
    let si = match of.term.as_ref() {
        Term::Constant(si) | Term::Row { si, .. } => *si,
        Term::Fact(fact) => match (given(fact, facts)?, of.measure) {
            (Value::Number(number), Measure::Number) => *number,
            (Value::Quantity(quantity), Measure::Quantity(kind)) if quantity.kind == kind => {
                quantity.si
            }
            _ => return Err(Missing::OtherType(fact.clone())),
        },
        Term::Negative(of) => -amount(of, facts)?,
        Term::Absolute(of) => amount(of, facts)?.abs(),
        Term::Sum(left, right) => amount(left, facts)? + amount(right, facts)?,
        Term::Difference(left, right) => amount(left, facts)? - amount(right, facts)?,
        Term::Product(left, right) => amount(left, facts)? * amount(right, facts)?,
        Term::Quotient(left, right) => amount(left, facts)? / amount(right, facts)?,
        Term::Least(list) => fold(list, f64::INFINITY, f64::min, facts)?,
        Term::Greatest(list) => fold(list, f64::NEG_INFINITY, f64::max, facts)?,
        Term::Choice {
            when,
            then,
            otherwise,
        } => {
            let chosen = if truth(when, facts)? { then } else { otherwise };
            amount(chosen, facts)?
        }
    };
    if si.is_finite() {
        Ok(si)
    } else {
        Err(Missing::NotANumber)
    }
}

fn fold(
    list: &[Amount],
    start: f64,
    pick: fn(f64, f64) -> f64,
    facts: &dyn Facts,
) -> Result<f64, Missing> {
    list.iter()
        .try_fold(start, |best, one| Ok(pick(best, amount(one, facts)?)))
}

fn word<'a>(of: &'a Word, facts: &'a dyn Facts) -> Result<&'a str, Missing> {
    match &of.term {
        WordTerm::Key(key) => Ok(ChoiceKey::as_str(key)),
        WordTerm::Fact(fact) => match given(fact, facts)? {
            Value::Word(word) => Ok(word),
            _ => Err(Missing::OtherType(fact.clone())),
        },
        WordTerm::Choice {
            when,
            then,
            otherwise,
        } => {
            let chosen = if truth(when, facts)? { then } else { otherwise };
            word(chosen, facts)
        }
    }
}
