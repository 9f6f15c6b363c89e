//! A stored charge is measured only after its time.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "charge_tested_before_its_wait",
    grade: Grade::Error,
    page: include_str!("../pages/charge_tested_before_its_wait.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::ProvedBeforeWaited, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` tests {label} (here: {state})."),
                format!(
                    "Let a `wait` with `safety: true` set {label} `waited`, after the power is off."
                ),
            )
        })
    },
};
