//! What people are signed off for has one label in all flows.

use std::collections::HashMap;

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Competence, Flow};
use crate::flow::name::CompetenceName;

pub(super) const RULE: Rule = Rule {
    name: "competence_called_otherwise",
    grade: Grade::Error,
    page: include_str!("../pages/competence_called_otherwise.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        let mut first: HashMap<&CompetenceName, (&Competence, &Flow)> = HashMap::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            for (name, competence) in &graph.flow.competences {
                let (known, flow) = *first.entry(name).or_insert((competence, graph.flow));
                if known.label == competence.label {
                    continue;
                }
                let told = format!(
                    "`{name}` is “{}” here and “{}” in {}.",
                    competence.label, known.label, flow.file
                );
                let mend = "Give both the same label, or one of them another name.";
                findings.push(ground.finding(rule, number, competence.at, (told, mend)));
            }
        }
        findings
    },
};
