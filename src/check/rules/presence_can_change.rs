//! Whether a source is on this evaporator is settled before anything is done with it.

use std::collections::{BTreeSet, VecDeque};

use super::super::finding::{Finding, Grade};
use super::super::ground::{Ground, Place};
use super::Rule;
use crate::flow::model::{Act, Danger, Step};
use crate::flow::name::{FactName, SourceName};

pub(super) const RULE: Rule = Rule {
    name: "presence_can_change",
    grade: Grade::Error,
    page: include_str!("../pages/presence_can_change.md"),
    run: |rule, ground| {
        let worked_on = worked_on(ground);
        let mut findings = Vec::new();
        for flow in 0..ground.flows.len() {
            for (name, source) in &ground.flow(flow).flow.energy {
                let Some(condition) = &source.exists_when else {
                    continue;
                };
                let late = Late {
                    name,
                    label: &source.label,
                    facts: condition.facts().into_iter().collect(),
                };
                findings.extend(late.findings(rule, ground, flow, &worked_on));
            }
        }
        findings
    },
};

/// A source that is not on every evaporator, with the facts that decide whether it is.
struct Late<'a> {
    name: &'a SourceName,
    label: &'a str,
    facts: Vec<&'a FactName>,
}

impl Late<'_> {
    /// Every step that answers one of the facts after something was done with the source.
    fn findings(
        &self,
        rule: &Rule,
        ground: &Ground<'_>,
        flow: usize,
        worked_on: &[BTreeSet<&SourceName>],
    ) -> Vec<Finding> {
        let graph = ground.flow(flow);
        let works = |step| {
            let mut worked_on = works(ground, Place { flow, step }, worked_on).into_iter();
            worked_on.any(|name| name == self.name)
        };
        let works: Vec<bool> = (0..graph.steps.len()).map(works).collect();
        // For each step that comes after such work, the one before it on a shortest way.
        let mut before: Vec<Option<usize>> = vec![None; graph.steps.len()];
        let first = (0..graph.steps.len()).filter(|step| works[*step]);
        let mut waiting: VecDeque<usize> = first.collect();
        let mut findings = Vec::new();
        while let Some(step) = waiting.pop_front() {
            for to in graph.edges[step].iter().map(|edge| edge.to) {
                if before[to].is_some() {
                    continue;
                }
                before[to] = Some(step);
                if !works[to] {
                    waiting.push_back(to);
                }
                let Some(fact) = self.answered_by(graph.steps[to]) else {
                    continue;
                };
                let it = graph.steps[to];
                let told = format!(
                    "`{}` answers `{fact}`, which says whether there is `{}` ({}), after steps \
                     that work on it.",
                    it.name, self.name, self.label
                );
                let mend = "Ask for it on every way before, and not again.";
                let mut finding = ground.finding(rule, flow, it.at, (told, mend));
                let mut way = vec![to];
                let mut at = before[to];
                while let Some(step) = at {
                    way.push(step);
                    at = before[step].filter(|_| !works[step]);
                }
                let stops = way.iter().rev();
                let stops = stops.map(|step| ground.stop(Place { flow, step: *step }, None));
                finding.walk = stops.collect();
                findings.push(finding);
            }
        }
        findings
    }

    /// The fact among these that a step answers.
    fn answered_by(&self, step: &Step) -> Option<&FactName> {
        let mut facts = self.facts.iter().copied();
        facts.find(|fact| {
            step.asks_for() == Some(*fact)
                || match &step.act {
                    Act::WorkOut(work) => work.store.contains_key(*fact),
                    Act::Run(run) => run.take.contains_key(*fact),
                    _ => false,
                }
        })
    }
}

/// For each flow the sources that it sets, tests or touches, itself or in what it runs.
fn worked_on<'a>(ground: &Ground<'a>) -> Vec<BTreeSet<&'a SourceName>> {
    let mut worked_on = vec![BTreeSet::new(); ground.flows.len()];
    for flow in ground.runners_first.iter().rev() {
        let steps = 0..ground.flow(*flow).steps.len();
        let all = steps.flat_map(|step| works(ground, Place { flow: *flow, step }, &worked_on));
        worked_on[*flow] = all.collect();
    }
    worked_on
}

/// The sources that a step sets, tests or touches, also in the flow that it runs.
fn works<'a>(
    ground: &Ground<'a>,
    place: Place,
    worked_on: &[BTreeSet<&'a SourceName>],
) -> Vec<&'a SourceName> {
    let step = ground.step(place);
    let mut all: Vec<&SourceName> = step.sets.iter().map(|(source, _)| &source.it).collect();
    match &step.danger {
        Danger::Touches(sources) => all.extend(sources.iter().map(|source| &source.it)),
        Danger::TestsLive { .. } | Danger::HandsOff => {}
    }
    match (&step.act, ground.flow(place.flow).runs[place.step]) {
        (Act::ProveDead(proof), _) => {
            all.extend(proof.sources.iter().map(|(source, _)| &source.it));
        }
        (Act::Run(run), Some(inner)) => {
            let theirs = worked_on[inner].iter().copied();
            all.extend(theirs.map(|name| run.energy.get(name).unwrap_or(name)));
        }
        _ => {}
    }
    all
}
