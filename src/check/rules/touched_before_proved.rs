//! Hands go in only where every touched source is proved and locked.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "touched_before_proved",
    grade: Grade::Error,
    page: include_str!("../pages/touched_before_proved.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::Touched, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("`{name}` touches {label} (here: {state})."),
                format!(
                    "Prove {label} before it on every way: run the flow that locks and tests it."
                ),
            )
        })
    },
};
