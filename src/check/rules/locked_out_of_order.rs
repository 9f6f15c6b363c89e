//! The way to the lock: tell the affected people, shut down in good order, then lock.

use super::super::finding::Grade;
use super::super::flag::{Flag, does, sets};
use super::{Rule, flag_findings};
use crate::flow::model::{Duty, Setting};

pub(super) const RULE: Rule = Rule {
    name: "locked_out_of_order",
    grade: Grade::Error,
    page: include_str!("../pages/locked_out_of_order.md"),
    run: |rule, ground| {
        let mut findings = flag_findings(
            rule,
            ground,
            &TOLD,
            "hangs a lock before the affected people were told",
            "Put a step with `duty: tell_affected` before the first lock, on every way.",
        );
        findings.extend(flag_findings(
            rule,
            ground,
            &SHUT_DOWN,
            "hangs a lock before the machine was shut down in good order",
            "Put a step with `duty: shut_down` before the first lock, on every way.",
        ));
        findings
    },
};

const TOLD: Flag = Flag {
    says: ["the people are told", "nobody is told"],
    at_first: false,
    sets: |step| does(step, Duty::TellAffected),
    clears: |step| sets(step, Setting::Closed),
    wants: |step| sets(step, Setting::Locked).then_some(true),
};

const SHUT_DOWN: Flag = Flag {
    says: ["it is shut down", "it is not shut down"],
    at_first: false,
    sets: |step| does(step, Duty::ShutDown),
    clears: |step| sets(step, Setting::Closed),
    wants: |step| sets(step, Setting::Locked).then_some(true),
};
