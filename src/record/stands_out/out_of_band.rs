//! A reading outside of what was expected.

use super::super::entry::{Answer, What};
use super::words::quoted;
use super::{Finding, Look, Rule};

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for given in look.standing() {
        let (Answer::Reading { reading }, Some(band)) = (given.answer, given.band) else {
            continue;
        };
        if band.holds(reading.value) {
            continue;
        }
        let unit = reading
            .value
            .kind
            .units()
            .find(|unit| unit.symbol == reading.unit)
            .unwrap_or_else(|| reading.value.kind.usual_unit());
        let asked_again = look
            .moments
            .iter()
            .rfind(|moment| moment.seq < given.seq)
            .filter(|moment| matches!(moment.entry.what, What::ReadAgain { .. }));
        let twice = if asked_again.is_some() {
            ", read twice"
        } else {
            ""
        };
        let sentence = format!(
            "{}: {}{twice}. Expected was {} to {}.",
            quoted(&given.place.asked),
            reading.words(),
            band.low.show(unit),
            band.high.show(unit)
        );
        let entries = asked_again.map(|moment| moment.seq).into_iter();
        let entries = entries.chain([given.seq]).collect();
        findings.push(Finding::new(Rule::OutOfBand, entries, sentence));
    }
    findings
}
