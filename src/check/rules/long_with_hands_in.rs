//! Work with hands in has a place to pause now and then.

use std::collections::VecDeque;

use super::super::finding::Grade;
use super::super::ground::Graph;
use super::Rule;
use crate::flow::model::Danger;

pub(super) const RULE: Rule = Rule {
    name: "long_with_hands_in",
    grade: Grade::Advice,
    page: include_str!("../pages/long_with_hands_in.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            let runs = runs(graph);
            let long = (0..graph.steps.len()).filter(|step| runs[*step] == Some(STEPS_MAX + 1));
            for step in long {
                let step = graph.steps[step];
                let told = format!(
                    "`{}` comes after {STEPS_MAX} steps with hands in, without one with hands off.",
                    step.name
                );
                let mend = "Put a step with `hands_off: true` in between: a photo, a look back.";
                findings.push(ground.finding(rule, number, step.at, (told, mend)));
            }
        }
        findings
    },
};

/// So many steps in a row with hands in are enough: common practice, no source.
const STEPS_MAX: usize = 20;

/// For each step with hands in, how many such steps in a row end with it, on the shortest way.
fn runs(graph: &Graph<'_>) -> Vec<Option<usize>> {
    let count = graph.steps.len();
    let hands_in = |step: usize| matches!(graph.steps[step].danger, Danger::Touches(_));
    let mut runs: Vec<Option<usize>> = vec![None; count];
    let mut waiting = VecDeque::new();
    let after_rest = (0..count)
        .filter(|step| !hands_in(*step))
        .flat_map(|step| graph.edges[step].iter().map(|edge| edge.to));
    for step in after_rest.chain([graph.start]) {
        if hands_in(step) && runs[step].is_none() {
            runs[step] = Some(1);
            waiting.push_back(step);
        }
    }
    while let Some(step) = waiting.pop_front() {
        let next = runs[step].map(|run| run + 1);
        for edge in &graph.edges[step] {
            if hands_in(edge.to) && runs[edge.to].is_none() {
                runs[edge.to] = next;
                waiting.push_back(edge.to);
            }
        }
    }
    runs
}
