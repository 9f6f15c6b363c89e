//! Every way can come to an end.

use super::super::finding::Grade;
use super::super::ground::Graph;
use super::Rule;
use crate::flow::model::Act;

pub(super) const RULE: Rule = Rule {
    name: "cannot_finish",
    grade: Grade::Error,
    page: include_str!("../pages/cannot_finish.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            for step in traps(graph) {
                let step = graph.steps[step];
                let told = format!("From `{}` no way leads to a `finish`.", step.name);
                let mend = "Lead a branch out of the circle, or to a `finish`.";
                findings.push(ground.finding(rule, number, step.at, (told, mend)));
            }
        }
        findings
    },
};

/// The steps at which a walk gets caught: those that can be come to and cannot finish, and are
/// the first such on their way.
fn traps(graph: &Graph<'_>) -> Vec<usize> {
    let count = graph.steps.len();
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (step, edges) in graph.edges.iter().enumerate() {
        for edge in edges {
            before[edge.to].push(step);
        }
    }
    let ends = graph.steps.iter().enumerate();
    let ends = ends.filter(|(_, step)| matches!(step.act, Act::Finish { .. }));
    let mut waiting: Vec<usize> = ends.map(|(number, _)| number).collect();
    let mut finishes = vec![false; count];
    while let Some(step) = waiting.pop() {
        if !std::mem::replace(&mut finishes[step], true) {
            waiting.extend(&before[step]);
        }
    }
    let reached = graph.reached_from(graph.start);
    let caught = |step: usize| reached[step] && !finishes[step];
    let first = |step: usize| {
        step == graph.start
            || before[step]
                .iter()
                .any(|from| reached[*from] && finishes[*from])
    };
    (0..count)
        .filter(|step| caught(*step) && first(*step))
        .collect()
}
