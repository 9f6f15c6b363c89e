//! Several readings that are the same to the last digit.
//!
//! Two meters, two phases or two points seldom agree so well. Nothing at all is what a proof wants
//! to find, so zeros do not count; nor does what stands printed on a plate.

use super::answers::Given;
use super::words::quoted;
use super::{Finding, Look, Rule};

/// So many of one kind in one flow.
const SAME_MIN: usize = 4;

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let measured: Vec<Given<'_>> = look
        .standing()
        .into_iter()
        .filter(|given| {
            given
                .measured()
                .is_some_and(|(reading, _)| reading.value.si != 0.0)
        })
        .collect();
    let mut findings = Vec::new();
    let mut done = vec![false; measured.len()];
    for at in 0..measured.len() {
        if done[at] {
            continue;
        }
        let same: Vec<usize> = (at..measured.len())
            .filter(|other| agree(&measured[at], &measured[*other]))
            .collect();
        for other in &same {
            done[*other] = true;
        }
        if same.len() < SAME_MIN {
            continue;
        }
        let sentence = format!(
            "{} readings are all {}, from {} on. Readings of several points seldom agree to the \
             last digit.",
            same.len(),
            measured[at].answer.words(),
            quoted(&measured[at].place.asked)
        );
        let entries = same.iter().map(|other| measured[*other].seq).collect();
        findings.push(Finding::new(Rule::AllTheSame, entries, sentence));
    }
    findings
}

/// Whether two readings in one walk of a flow say the same.
fn agree(one: &Given<'_>, other: &Given<'_>) -> bool {
    let (Some((first, _)), Some((second, _))) = (one.measured(), other.measured()) else {
        return false;
    };
    one.place.flow.name == other.place.flow.name
        && one.place.instance == other.place.instance
        && first.value == second.value
        && first.unit == second.unit
}
