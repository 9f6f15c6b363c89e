//! An answer that changed after the job was handed in.

use super::super::entry::What;
use super::super::stream::Seq;
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
