//! What people are to be signed off for is needed somewhere.

use super::super::finding::Grade;
use super::Rule;

pub(super) const RULE: Rule = Rule {
    name: "competence_never_needed",
    grade: Grade::Advice,
    page: include_str!("../pages/competence_never_needed.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            for (name, competence) in &graph.flow.competences {
                let mut needed = graph.steps.iter().flat_map(|step| &step.needs_shown);
                if needed.any(|needed| needed.it == *name) {
                    continue;
                }
                let told = format!("No step needs somebody to have shown `{name}`.");
                let mend = "Say `needs_shown` at the steps that are for such people.";
                findings.push(ground.finding(rule, number, competence.at, (told, mend)));
            }
        }
        findings
    },
};
