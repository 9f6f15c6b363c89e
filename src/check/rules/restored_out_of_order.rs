//! The way back to service: look, clear the people, take the locks off, tell, switch on.

use super::super::finding::Grade;
use super::super::flag::{Flag, does, sets};
use super::{Rule, flag_findings};
use crate::flow::model::{Danger, Duty, Setting};

pub(super) const RULE: Rule = Rule {
    name: "restored_out_of_order",
    grade: Grade::Error,
    page: include_str!("../pages/restored_out_of_order.md"),
    run: |rule, ground| {
        let mut findings = flag_findings(
            rule,
            ground,
            &INSPECTED,
            "takes a lock off before the area was looked over",
            "Put a step with `duty: inspect` before the first lock comes off, on every way.",
        );
        findings.extend(flag_findings(
            rule,
            ground,
            &CLEARED,
            "takes a lock off before the people are known to be clear, since hands were last in",
            "Put a step with `duty: clear_people` before the first lock comes off, on every way.",
        ));
        findings.extend(flag_findings(
            rule,
            ground,
            &UNTOLD,
            "switches on before the affected people were told that the locks are off",
            "Put a step with `duty: tell_affected` between the last lock and this step.",
        ));
        findings
    },
};

const INSPECTED: Flag = Flag {
    says: ["the area is looked over", "not looked over"],
    at_first: false,
    sets: |step| does(step, Duty::Inspect),
    clears: |step| sets(step, Setting::Locked),
    wants: |step| sets(step, Setting::Unlocked).then_some(true),
};

const CLEARED: Flag = Flag {
    says: ["the people are clear", "people not looked for"],
    at_first: false,
    sets: |step| does(step, Duty::ClearPeople),
    clears: |step| sets(step, Setting::Locked) || matches!(step.danger, Danger::Touches(_)),
    wants: |step| sets(step, Setting::Unlocked).then_some(true),
};

const UNTOLD: Flag = Flag {
    says: ["a lock is off and nobody is told", "the people are told"],
    at_first: false,
    sets: |step| sets(step, Setting::Unlocked),
    clears: |step| does(step, Duty::TellAffected),
    wants: |step| sets(step, Setting::Closed).then_some(false),
};
