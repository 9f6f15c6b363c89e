//! What drains a charge gets its time before anybody goes near.

use super::super::finding::Grade;
use super::super::flag::{Flag, does};
use super::{Rule, flag_findings, is_safety_wait};
use crate::flow::model::{Act, Danger, Duty, Step};

pub(super) const RULE: Rule = Rule {
    name: "drained_without_wait",
    grade: Grade::Error,
    page: include_str!("../pages/drained_without_wait.md"),
    run: |rule, ground| {
        let mut findings = flag_findings(
            rule,
            ground,
            &DRAINING,
            "goes to a charge that had no time to drain",
            "Put a `wait` with `safety: true` right after the step with `duty: drain_charge`.",
        );
        findings.extend(flag_findings(
            rule,
            ground,
            &RESTED,
            "looks again at a charge that had no time to build up",
            "Put a `wait` with `safety: true` between the test and this step.",
        ));
        findings
    },
};

const DRAINING: Flag = Flag {
    says: ["the charge drains", "the time to drain is over"],
    at_first: false,
    sets: |step| does(step, Duty::DrainCharge),
    clears: is_safety_wait,
    wants: |step| is_near(step).then_some(false),
};

const RESTED: Flag = Flag {
    says: ["it rested", "it did not rest"],
    at_first: true,
    sets: is_safety_wait,
    clears: |step| matches!(step.act, Act::ProveDead(_)),
    wants: |step| does(step, Duty::LookAgain).then_some(true),
};

/// Whether hands or a meter go near live or proved parts here.
fn is_near(step: &Step) -> bool {
    !matches!(step.danger, Danger::HandsOff)
}
