//! Hands in a unit are near everything in it: a touching step names every source of its flow.

use super::super::finding::Grade;
use super::super::ground::{Graph, Ground};
use super::Rule;
use crate::flow::model::{Danger, Setting, SourceKind, Step};
use crate::flow::name::SourceName;

pub(super) const RULE: Rule = Rule {
    name: "source_left_out",
    grade: Grade::Error,
    page: include_str!("../pages/source_left_out.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let Danger::Touches(touched) = &step.danger else {
                continue;
            };
            let graph = ground.flow(place.flow);
            for (name, source) in &graph.flow.energy {
                let named = touched.iter().any(|it| it.it == *name);
                let is_free = source.kind == SourceKind::Motion
                    && is_free(ground, place.flow, place.step, name);
                if named || is_free {
                    continue;
                }
                let told = (
                    format!("`{}` reaches in and leaves out `{name}`.", step.name),
                    format!("Add `{name}` to its `touches`, or to no step of this flow."),
                );
                findings.push(ground.finding(rule, place.flow, step.at, told));
            }
        }
        findings
    },
};

fn sets(step: &Step, source: &SourceName, wanted: Setting) -> bool {
    let mut sets = step.sets.iter();
    sets.any(|(name, setting)| name.it == *source && *setting == wanted)
}

/// Whether a moving part is free at a step: freed before it and not blocked again, or about to be
/// blocked for the first time. A flow that has nothing else to do with it is not judged.
fn is_free(ground: &Ground<'_>, flow: usize, step: usize, source: &SourceName) -> bool {
    let graph = ground.flow(flow);
    let is = |at: usize, setting| {
        let runs = graph.runs[at].is_some_and(|run| sets_inside(ground, run, setting));
        runs || sets(graph.steps[at], source, setting)
    };
    let deals = |at: usize| {
        let touches = match &graph.steps[at].danger {
            Danger::Touches(list) => list.iter().any(|it| it.it == *source),
            Danger::HandsOff | Danger::TestsLive { .. } => false,
        };
        touches
            || graph.steps[at]
                .sets
                .iter()
                .any(|(name, _)| name.it == *source)
    };
    let mut steps = 0..graph.steps.len();
    if !steps.clone().any(deals) {
        return true;
    }
    let behind = |from: usize| reached(graph, from, |at| is(at, Setting::Blocked))[step];
    let freed = steps.any(|at| {
        let mut after = graph.edges[at].iter().map(|edge| edge.to);
        at != step && is(at, Setting::Freed) && after.any(behind)
    });
    if freed {
        return true;
    }
    let not_yet = reached(graph, graph.start, |at| is(at, Setting::Blocked))[step];
    let ahead = reached(graph, step, |at| is(at, Setting::Freed));
    let blocks = |(at, reached): (usize, &bool)| *reached && is(at, Setting::Blocked);
    not_yet && ahead.iter().enumerate().any(blocks)
}

/// Whether a flow, or one that it runs, sets any moving part so.
fn sets_inside(ground: &Ground<'_>, flow: usize, wanted: Setting) -> bool {
    let graph = ground.flow(flow);
    let steps = graph.steps.iter().zip(&graph.runs);
    let mut steps = steps.map(|(step, run)| {
        let own = step.sets.iter().any(|(_, setting)| *setting == wanted);
        own || run.is_some_and(|run| sets_inside(ground, run, wanted))
    });
    steps.any(|sets| sets)
}

/// The steps that can be come to without leaving one that is closed.
fn reached(graph: &Graph<'_>, from: usize, closed: impl Fn(usize) -> bool) -> Vec<bool> {
    let mut reached = vec![false; graph.steps.len()];
    let mut waiting = vec![from];
    while let Some(step) = waiting.pop() {
        if !std::mem::replace(&mut reached[step], true) && !closed(step) {
            waiting.extend(graph.edges[step].iter().map(|edge| edge.to));
        }
    }
    reached
}
