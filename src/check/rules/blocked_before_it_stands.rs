//! Only what stands still is blocked.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "blocked_before_it_stands",
    grade: Grade::Error,
    page: include_str!("../pages/blocked_before_it_stands.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::BlockedBeforeStopped, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` blocks {label} (here: {state})."),
                format!("Set {label} `stopped` in a step before it, where the person looks."),
            )
        })
    },
};
