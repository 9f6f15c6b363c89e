//! In every circle somebody answers something that can lead out of it.

use super::super::finding::Grade;
use super::super::ground::{Graph, Ground};
use super::Rule;
use crate::flow::circles;
use crate::flow::model::{Act, Step};

pub(super) const RULE: Rule = Rule {
    name: "loop_without_input",
    grade: Grade::Error,
    page: include_str!("../pages/loop_without_input.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        let decides = flows_that_decide(ground);
        for (number, graph) in ground.flows.iter().enumerate() {
            let is_free = |step: usize| match graph.runs[step] {
                Some(run) => !decides[run],
                None => !is_decided(graph.steps[step]),
            };
            for step in circles(graph, &is_free) {
                let step = graph.steps[step];
                let told = format!(
                    "`{}` leads back in a circle in which nobody is asked anything.",
                    step.name
                );
                let mend =
                    "Put a `choose`, a `measure` or a test into the circle, and branch on it.";
                findings.push(ground.finding(rule, number, step.at, (told, mend)));
            }
        }
        findings
    },
};

/// Whether the answer to a step can change the way.
fn is_decided(step: &Step) -> bool {
    matches!(
        step.act,
        Act::Choose { .. } | Act::Measure(_) | Act::ProveDead(_)
    )
}

/// Which flows ask something that can change the way, themselves or through others.
fn flows_that_decide(ground: &Ground<'_>) -> Vec<bool> {
    let mut decides = vec![false; ground.flows.len()];
    for number in ground.runners_first.iter().rev() {
        let graph = ground.flow(*number);
        decides[*number] = graph.steps.iter().any(|step| is_decided(step))
            || graph.runs.iter().flatten().any(|run| decides[*run]);
    }
    decides
}

/// The steps that close a circle of free steps: one for each, the last in the file's order.
fn circles(graph: &Graph<'_>, is_free: &dyn Fn(usize) -> bool) -> Vec<usize> {
    let count = graph.steps.len();
    let free: Vec<bool> = (0..count).map(is_free).collect();
    let next = |step: usize| -> Vec<usize> {
        let edges = graph.edges[step].iter().map(|edge| edge.to);
        edges.filter(|to| free[step] && free[*to]).collect()
    };
    let next: Vec<Vec<usize>> = (0..count).map(next).collect();
    let groups = circles::groups(&next);
    let closes = |step: &usize| {
        let mut next = next[*step].iter();
        next.any(|to| to <= step && groups[*to] == groups[*step])
    };
    (0..count).filter(closes).collect()
}
