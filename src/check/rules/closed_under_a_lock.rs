//! Nothing is switched on under a lock.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "closed_under_a_lock",
    grade: Grade::Error,
    page: include_str!("../pages/closed_under_a_lock.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::ClosedUnderLock, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` switches {label} on, which is {state} here."),
                format!("Set {label} `unlocked` in a step before it."),
            )
        })
    },
};
