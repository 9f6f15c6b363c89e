//! A lock goes on and comes off by the hand of the person who walks the job, by nobody else's.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, Setting};

pub(super) const RULE: Rule = Rule {
    name: "lock_by_another",
    grade: Grade::Error,
    page: include_str!("../pages/lock_by_another.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let mut sets = step.sets.iter();
            let lock = sets.find(|(_, it)| matches!(it, Setting::Locked | Setting::Unlocked));
            let by_another = matches!(step.act, Act::Hold { .. }) || !step.by.is_empty();
            let Some((source, setting)) = lock.filter(|_| by_another) else {
                continue;
            };
            let does = match setting {
                Setting::Locked => "hangs a lock on",
                _ => "takes the lock off",
            };
            let told = (
                format!("`{}` {does} `{}` by another's hand.", step.name, source.it),
                "Let the person who walks the job do it: no `hold` and no `by` on this step. For \
                 a lock whose owner has left, the engine has its own way, with a supervisor.",
            );
            findings.push(ground.finding(rule, place.flow, source.at, told));
        }
        findings
    },
};
