//! A circuit is tested only once it is open and locked.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "proved_before_locked",
    grade: Grade::Error,
    page: include_str!("../pages/proved_before_locked.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::ProvedBeforeLocked, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` tests {label} (here: {state})."),
                format!("Open {label} and hang the lock on every way before the test."),
            )
        })
    },
};
