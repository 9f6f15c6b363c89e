//! An answer that changed after the job was handed in, without having been sent back.

use super::super::entry::What;
use super::super::step_ref::StepRef;
use super::super::stream::Seq;
use super::answers::Given;
use super::words::quoted;
use super::{Finding, Look, Rule};

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let handed_in = look
        .moments
        .iter()
        .find(|moment| matches!(moment.entry.what, What::HandedIn));
    let Some(handed_in) = handed_in.map(|moment| moment.seq) else {
        return Vec::new();
    };
    let answers = look.answers();
    let mut findings: Vec<Finding> = Vec::new();
    for (at, given) in answers.iter().enumerate() {
        let before = answers[..at].iter().rfind(|before| before.same_as(given));
        let Some(before) = before.filter(|_| given.seq > handed_in) else {
            continue;
        };
        if !given.amends && before.answer.value() == given.answer.value() {
            continue;
        }
        if asked_for(look, given) {
            continue;
        }
        let (was, is) = (before.answer.words(), given.answer.words());
        let change = match was == is {
            true => "was answered anew".to_owned(),
            false => format!("was changed from {was} to {is}"),
        };
        let sentence = format!(
            "{} {change} after the job had been handed in.",
            quoted(&given.place.asked)
        );
        let entries: Vec<Seq> = vec![before.seq, given.seq];
        findings.push(Finding::new(Rule::ChangedAfterHandIn, entries, sentence));
    }
    findings
}

/// Whether this step was sent back since the last hand-in: then another answer is what the
/// reviewer wanted.
fn asked_for(look: &Look<'_>, given: &Given<'_>) -> bool {
    let before = look.moments.iter().filter(|it| it.seq < given.seq);
    let last = before.rev().find_map(|moment| match &moment.entry.what {
        What::SentBack { steps, .. } => Some(steps.as_slice()),
        What::HandedIn => Some(&[][..]),
        _ => None,
    });
    let is_it = |step: &StepRef| {
        step.flow == given.place.flow.name
            && step.instance == given.place.instance
            && step.step == given.place.step.name
    };
    last.is_some_and(|steps| steps.iter().any(is_it))
}
