//! No release by the role that an answer asked for.
//!
//! A fact may declare answers after which nothing goes on until a role releases a hold; and a
//! value that rests on a rule of thumb is released by a supervisor.

use super::super::entry::What;
use super::words::quoted;
use super::{Finding, Look, Moment, Rule};
use crate::flow::model::Role;
use crate::trade::formula::Value;

/// How a formula says that its result rests on a rule of thumb.
const RULE_OF_THUMB: &str = "rule_of_thumb";

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let is_over = look
        .moments
        .iter()
        .any(|moment| matches!(moment.entry.what, What::Finished { .. }));
    // While it is walked the hold is still to come, and a job that is left never came to it.
    if !is_over {
        return Vec::new();
    }
    let standing: Vec<_> = look.standing().iter().map(|given| given.seq).collect();
    let mut findings = Vec::new();
    for (at, moment) in look.moments.iter().enumerate() {
        let answered = matches!(moment.entry.what, What::Answered { .. });
        if answered && !standing.contains(&moment.seq) {
            continue;
        }
        let Some((role, why)) = asks_for(moment) else {
            continue;
        };
        let released = look.moments[at..].iter().any(
            |later| matches!(&later.entry.what, What::Released { role: by, .. } if *by == role),
        );
        if !released {
            let sentence = format!("{why} No {} released it.", role.word());
            findings.push(Finding::new(Rule::HoldMissing, vec![moment.seq], sentence));
        }
    }
    findings
}

/// The role that has to release something after this entry, and why.
fn asks_for(moment: &Moment<'_>) -> Option<(Role, String)> {
    let place = moment.place.as_ref()?;
    match &moment.entry.what {
        What::Answered { answer, fact, .. } => {
            let declared = place.flow.facts.get(fact.as_ref()?)?;
            let value = answer.value()?;
            let says = |key: &str| match &value {
                Value::Word(word) => word == key,
                Value::Words(words) => words.iter().any(|word| word == key),
                _ => false,
            };
            let held = declared.held.iter();
            let (_, role) = held.clone().find(|(key, _)| says(key.it.as_str()))?;
            let why = format!("{}: {}.", quoted(&place.asked), answer.words());
            Some((*role, why))
        }
        What::WorkedOut { facts, .. } => {
            let thumb = |value: &Value| matches!(value, Value::Word(word) if word == RULE_OF_THUMB);
            facts.values().any(thumb).then(|| {
                let why = format!("{} rests on a rule of thumb.", quoted(&place.asked));
                (Role::Supervisor, why)
            })
        }
        _ => None,
    }
}
