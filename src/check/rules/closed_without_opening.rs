//! Only what is off is switched on.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "closed_without_opening",
    grade: Grade::Error,
    page: include_str!("../pages/closed_without_opening.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::ClosedWithoutOpening, |danger, step| {
            let (name, label) = (&step.name, &danger.label);
            (
                format!("`{name}` switches {label} on, which is on already on some way."),
                format!(
                    "Set {label} `opened` where it is switched off, or lead that way past this step."
                ),
            )
        })
    },
};
