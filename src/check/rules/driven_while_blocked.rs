//! Nothing is switched on that a wedge still holds.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "driven_while_blocked",
    grade: Grade::Error,
    page: include_str!("../pages/driven_while_blocked.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::DrivenWhileBlocked, |danger, step| {
            let (name, label) = (&step.name, &danger.label);
            (
                format!("`{name}` switches on what drives {label}, which is still blocked."),
                format!("Let a step before it take the block away and set {label} `freed`."),
            )
        })
    },
};
