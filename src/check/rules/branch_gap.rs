//! The branches of a step leave no case open.

use super::super::cases::Cases;
use super::super::finding::Grade;
use super::{Rule, outcomes_of};

pub(super) const RULE: Rule = Rule {
    name: "branch_gap",
    grade: Grade::Error,
    page: include_str!("../pages/branch_gap.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let open = step.then.last().filter(|last| last.when.is_some());
            let Some(last) = open else {
                continue;
            };
            let graph = ground.flow(place.flow);
            let cases = Cases::of(graph, step, &outcomes_of(ground, place));
            let told = match cases {
                None => format!(
                    "The branches of `{}` tell too many cases apart to see that none is open.",
                    step.name
                ),
                Some(cases) => {
                    let gap = cases.each().find(|case| case.taken(step).is_none());
                    let Some(gap) = gap else {
                        continue;
                    };
                    format!("`{}` has no branch where {}.", step.name, gap.told(graph))
                }
            };
            let mend = "Add a branch for it, or let the last have no `when`.";
            findings.push(ground.finding(rule, place.flow, last.go.at, (told, mend)));
        }
        findings
    },
};
