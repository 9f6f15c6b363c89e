//! No job ends with a circuit that is off and that anybody may switch on.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "left_switched_off",
    grade: Grade::Error,
    page: include_str!("../pages/left_switched_off.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::LeftOpen, |danger, step| {
            let (name, label) = (&step.name, &danger.label);
            (
                format!("The job ends at `{name}` while {label} is off and has no lock."),
                format!(
                    "Set {label} `closed` where it is switched on again, or leave it locked out."
                ),
            )
        })
    },
};
