//! A lock goes on an open device only.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "locked_before_opened",
    grade: Grade::Error,
    page: include_str!("../pages/locked_before_opened.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::LockedBeforeOpened, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` locks {label} (here: {state})."),
                format!("Set {label} `opened` in a step before it."),
            )
        })
    },
};
