//! A lock comes off only where one hangs.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "unlocked_without_lock",
    grade: Grade::Error,
    page: include_str!("../pages/unlocked_without_lock.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::UnlockedWithoutLock, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` takes the lock off {label} (here: {state})."),
                format!("Lock {label} on every way to this step, or lead that way past it."),
            )
        })
    },
};
