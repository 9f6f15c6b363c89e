//! Every step can be come to.

use super::super::finding::Grade;
use super::Rule;

pub(super) const RULE: Rule = Rule {
    name: "unreachable_step",
    grade: Grade::Error,
    page: include_str!("../pages/unreachable_step.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            let reached = graph.reached_from(graph.start);
            for (step, _) in graph
                .steps
                .iter()
                .zip(reached)
                .filter(|(_, reached)| !reached)
            {
                let told = format!("No way leads to `{}`.", step.name);
                let mend = "Lead a branch to it, or take it away.";
                findings.push(ground.finding(rule, number, step.at, (told, mend)));
            }
        }
        findings
    },
};
