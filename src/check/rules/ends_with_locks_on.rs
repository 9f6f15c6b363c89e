//! No job ends while a lock hangs, but left locked out with an owner.

use super::super::energy::Fault;
use super::super::finding::Grade;
use super::{Rule, energy_findings};

pub(super) const RULE: Rule = Rule {
    name: "ends_with_locks_on",
    grade: Grade::Error,
    page: include_str!("../pages/ends_with_locks_on.md"),
    run: |rule, ground| {
        energy_findings(rule, ground, Fault::LeftLocked, |danger, step| {
            let (name, label, state) = (&step.name, &danger.label, danger.state);
            (
                format!("The job ends at `{name}` while a lock hangs: {label} is {state}."),
                "Take the locks off before it, or end with the outcome `left_locked_out`."
                    .to_owned(),
            )
        })
    },
};
