//! The warning stands before the hazard, on its screen and above the question.

use super::super::finding::Grade;
use super::super::flag::sets;
use super::Rule;
use crate::flow::model::{Danger, Setting, Step};

pub(super) const RULE: Rule = Rule {
    name: "hazard_without_caution",
    grade: Grade::Advice,
    page: include_str!("../pages/hazard_without_caution.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let wrong = if is_hazard(step) && step.caution.is_none() {
                format!(
                    "`{}` has to do with live parts and has no `caution`.",
                    step.name
                )
            } else if let Some(word) = warning_in_text(step) {
                format!(
                    "`{}` warns (“{word}”) beside its question, not above it.",
                    step.name
                )
            } else {
                continue;
            };
            let mend = "Write the warning as `caution`: it is shown above the question.";
            findings.push(ground.finding(rule, place.flow, step.at, (wrong, mend)));
        }
        findings
    },
};

/// Words with which a warning begins.
const WARNINGS: [&str; 5] = ["Caution", "Warning", "Danger", "Be careful", "Watch out"];

fn is_hazard(step: &Step) -> bool {
    matches!(step.danger, Danger::TestsLive { .. })
        && !step.by.is_empty()
        && matches!(step.act, crate::flow::model::Act::ProveDead(_))
        || sets(step, Setting::Closed)
}

fn warning_in_text(step: &Step) -> Option<&'static str> {
    let texts = [Some(&step.say), step.how.as_ref(), step.why.as_ref()];
    let mut texts = texts.into_iter().flatten().map(|text| text.source.trim());
    texts.find_map(|text| {
        let mut words = WARNINGS.into_iter();
        words.find(|word| text.split(". ").any(|sentence| sentence.starts_with(word)))
    })
}
