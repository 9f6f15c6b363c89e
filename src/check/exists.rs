//! What a condition can be when only some facts are known: the part of the branches that the
//! energy analysis follows.

use crate::flow::expression::{Expression, Node, Truth, Word, WordTerm};
use crate::flow::model::{Fact, FactType, Step};
use crate::flow::name::{ChoiceKey, FactName};
use indexmap::IndexMap;

/// More combinations of answers than this are not told apart.
const COMBINATIONS_MAX: usize = 256;

/// Facts with the key that each is taken to have.
pub(super) type Taken<'a> = [(&'a FactName, &'a str)];

/// Whether a condition holds where these facts are as taken: `None` where others decide.
pub(super) fn holds(condition: &Expression, taken: &Taken<'_>) -> Option<bool> {
    match condition.node() {
        Node::Truth(truth) => decide(truth, taken),
        _ => None,
    }
}

/// As [`holds`], for a part of a condition.
pub(super) fn decide(truth: &Truth, taken: &Taken<'_>) -> Option<bool> {
    match truth {
        Truth::Constant(value) => Some(*value),
        Truth::Known(_) | Truth::Compare { .. } | Truth::Has { .. } => None,
        Truth::Not(of) => decide(of, taken).map(|value| !value),
        Truth::And(left, right) => match (decide(left, taken), decide(right, taken)) {
            (Some(false), _) | (_, Some(false)) => Some(false),
            (Some(true), Some(true)) => Some(true),
            _ => None,
        },
        Truth::Or(left, right) => match (decide(left, taken), decide(right, taken)) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), Some(false)) => Some(false),
            _ => None,
        },
        Truth::Choice {
            when,
            then,
            otherwise,
        } => match decide(when, taken) {
            Some(true) => decide(then, taken),
            Some(false) => decide(otherwise, taken),
            None => decide(then, taken).filter(|value| decide(otherwise, taken) == Some(*value)),
        },
        Truth::Is { left, right, same } => {
            let (left, right) = (word(left, taken)?, word(right, taken)?);
            Some((left == right) == *same)
        }
        Truth::OneOf { word: of, keys } => {
            let of = word(of, taken)?;
            Some(keys.iter().any(|key| key.as_str() == of))
        }
    }
}

fn word<'w>(of: &'w Word, taken: &'w Taken<'_>) -> Option<&'w str> {
    match &of.term {
        WordTerm::Key(key) => Some(key.as_str()),
        WordTerm::Fact(fact) => taken
            .iter()
            .find(|(name, _)| *name == fact)
            .map(|(_, key)| *key),
        WordTerm::Choice { .. } => None,
    }
}

/// Every combination of keys that these facts can have; none where they are no choices of one
/// key each, or where there are too many.
pub(super) fn combinations<'f>(
    facts: &IndexMap<FactName, Fact>,
    names: &[&'f FactName],
) -> Option<Vec<Vec<(&'f FactName, ChoiceKey)>>> {
    let mut all: Vec<Vec<(&FactName, ChoiceKey)>> = vec![Vec::new()];
    for name in names {
        let FactType::OneOf(choices) = &facts.get(*name)?.holds else {
            return None;
        };
        let longer = all.iter().flat_map(|begun| {
            choices.keys().map(|key| {
                let mut begun = begun.clone();
                begun.push((*name, key.clone()));
                begun
            })
        });
        all = longer.collect();
        if all.len() > COMBINATIONS_MAX {
            return None;
        }
    }
    Some(all)
}

/// Whether the branch may be taken: its condition may hold, and none before it must.
pub(super) fn may_take(
    step: &Step,
    branch: usize,
    taken: &[(&FactName, ChoiceKey)],
    outcome: Option<&str>,
) -> bool {
    let outcome_name = FactName::from(crate::flow::OUTCOME);
    let mut known: Vec<(&FactName, &str)> = taken
        .iter()
        .map(|(name, key)| (*name, key.as_str()))
        .collect();
    if let Some(outcome) = outcome {
        known.push((&outcome_name, outcome));
    }
    let value = |at: usize| {
        let when = step.then.get(at).and_then(|branch| branch.when.as_ref());
        when.map_or(Some(true), |when| holds(when, &known))
    };
    value(branch) != Some(false) && (0..branch).all(|before| value(before) != Some(true))
}
