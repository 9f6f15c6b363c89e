//! Every branch is taken in some case.

use super::super::cases::Cases;
use super::super::finding::Grade;
use super::{Rule, outcomes_of};

pub(super) const RULE: Rule = Rule {
    name: "branch_never_taken",
    grade: Grade::Error,
    page: include_str!("../pages/branch_never_taken.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places().filter(|(_, step)| step.then.len() > 1) {
            let graph = ground.flow(place.flow);
            let Some(cases) = Cases::of(graph, step, &outcomes_of(ground, place)) else {
                continue;
            };
            let mut taken = vec![false; step.then.len()];
            for case in cases.each() {
                if let Some(branch) = case.taken(step) {
                    taken[branch] = true;
                }
            }
            for (branch, _) in step.then.iter().zip(taken).filter(|(_, taken)| !taken) {
                let told = format!(
                    "The branch of `{}` to `{}` is never taken.",
                    step.name, branch.go.it
                );
                let mend = "The ones before it take every case of it, or it can't hold: correct \
                            its condition, or take it away.";
                findings.push(ground.finding(rule, place.flow, branch.go.at, (told, mend)));
            }
        }
        findings
    },
};
