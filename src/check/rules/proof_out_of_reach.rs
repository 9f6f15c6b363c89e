//! The flow that proves a source can be walked wherever the source is touched, and proves it.

use std::collections::HashSet;

use super::super::answers::Answers;
use super::super::finding::Grade;
use super::super::ground::Ground;
use super::Rule;
use crate::flow::model::{Act, Danger, Setting, Step};
use crate::flow::name::SourceName;

pub(super) const RULE: Rule = Rule {
    name: "proof_out_of_reach",
    grade: Grade::Error,
    page: include_str!("../pages/proof_out_of_reach.md"),
    run: |rule, ground| {
        let answers = Answers::of(ground);
        let mut findings = Vec::new();
        let mut told: HashSet<(usize, SourceName)> = HashSet::new();
        for (place, step) in ground.places() {
            let Danger::Touches(sources) = &step.danger else {
                continue;
            };
            let flow = ground.flow(place.flow).flow;
            for source in sources {
                let declared = flow.energy.get(&source.it);
                let prover = declared.and_then(|it| it.proved_by.as_ref());
                let Some(prover) = prover.and_then(|it| ground.number(it)) else {
                    continue;
                };
                let key = (place.flow, source.it.clone());
                if told.contains(&key) {
                    continue;
                }
                let needs = ground.flow(prover).flow.needs.iter().map(|need| &need.it);
                let unknown = needs
                    .filter(|_| prover != place.flow)
                    .find(|need| !answers.has(ground, place, need));
                let name = &ground.flow(prover).flow.name;
                let wrong = if let Some(need) = unknown {
                    format!(
                        "`{name}` proves `{}` and needs `{need}`, which is not answered on every \
                         way to `{}`.",
                        source.it, step.name
                    )
                } else if !can_prove(ground, prover, &source.it) {
                    format!(
                        "`{name}` is to prove `{}` and has no step that does.",
                        source.it
                    )
                } else {
                    continue;
                };
                let mend = "The engine walks that flow again after a pause or a handover: it must \
                            be able to, here.";
                findings.push(ground.finding(rule, place.flow, source.at, (wrong, mend)));
                told.insert(key);
            }
        }
        findings
    },
};

/// Whether a flow has a step, itself or in a flow that it runs, that proves the source.
fn can_prove(ground: &Ground<'_>, flow: usize, source: &SourceName) -> bool {
    let mut seen: HashSet<(usize, &SourceName)> = HashSet::new();
    let mut waiting = vec![(flow, source)];
    while let Some((flow, source)) = waiting.pop() {
        if !seen.insert((flow, source)) {
            continue;
        }
        let graph = ground.flow(flow);
        if graph.steps.iter().any(|step| proves(step, source)) {
            return true;
        }
        for (step, run) in graph.steps.iter().zip(&graph.runs) {
            let (Act::Run(run), Some(inner)) = (&step.act, run) else {
                continue;
            };
            let theirs = ground.flow(*inner).flow.energy.keys();
            let theirs = theirs.filter(|name| run.energy.get(*name).unwrap_or(name) == source);
            waiting.extend(theirs.map(|name| (*inner, name)));
        }
    }
    false
}

fn proves(step: &Step, source: &SourceName) -> bool {
    let tests = match &step.act {
        Act::ProveDead(proof) => proof.sources.iter().any(|(name, _)| name.it == *source),
        _ => false,
    };
    let mut sets = step.sets.iter();
    tests || sets.any(|(name, set)| name.it == *source && *set == Setting::Blocked)
}
