//! The flow that proves a source can be walked wherever the source is touched, and proves it.

use super::super::answers::Answers;
use super::super::finding::Grade;
use super::super::ground::Ground;
use super::Rule;
use crate::flow::model::{Act, Danger, Setting};
use crate::flow::name::SourceName;

pub(super) const RULE: Rule = Rule {
    name: "proof_out_of_reach",
    grade: Grade::Error,
    page: include_str!("../pages/proof_out_of_reach.md"),
    run: |rule, ground| {
        let answers = Answers::of(ground);
        let mut findings = Vec::new();
        let mut told: Vec<(usize, SourceName)> = Vec::new();
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
                } else if !can_prove(ground, prover, &source.it, 0) {
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
                told.push(key);
            }
        }
        findings
    },
};

/// Deeper than this no flow runs another on its way to a proof.
const DEPTH_MAX: usize = 8;

/// Whether a flow has a step, itself or in a flow that it runs, that proves the source.
fn can_prove(ground: &Ground<'_>, flow: usize, source: &SourceName, depth: usize) -> bool {
    let graph = ground.flow(flow);
    graph.steps.iter().zip(&graph.runs).any(|(step, run)| {
        let tests = match &step.act {
            Act::ProveDead(proof) => proof.sources.iter().any(|(name, _)| name.it == *source),
            _ => false,
        };
        let mut sets = step.sets.iter();
        let blocks = sets.any(|(name, set)| name.it == *source && *set == Setting::Blocked);
        let inside = match (&step.act, run) {
            (Act::Run(run), Some(inner)) if depth < DEPTH_MAX => {
                let mut names = ground.flow(*inner).flow.energy.keys();
                names.any(|theirs| {
                    run.energy.get(theirs).unwrap_or(theirs) == source
                        && can_prove(ground, *inner, theirs, depth + 1)
                })
            }
            _ => false,
        };
        tests || blocks || inside
    })
}
