//! Whether anything that was walked later follows from the value of a fact.

use super::super::state::State;
use crate::flow::edition::Edition;
use crate::flow::expression::Expression;
use crate::flow::model::{Act, Danger, Flow, Run, Step};
use crate::flow::name::FactName;
use crate::record::entry::FactRef;

/// Whether another step, another flow or the runner goes by this fact of the flow at hand. A
/// text that only shows it does not count; where it is not sure, it does.
pub(super) fn matters(edition: &Edition, state: &State, fact: &FactRef) -> bool {
    let Some(flow) = edition.flow(&fact.flow) else {
        return true;
    };
    let here = state.top().map(|call| &call.step);
    let declared = flow.facts.get(&fact.fact);
    // An answer that must be held first is never passed over.
    declared.is_none_or(|declared| !declared.held.is_empty())
        || decides_presence(flow, &fact.fact)
        || flow.steps.values().any(|step| {
            let own = Some(&step.name) == here;
            goes_by(edition, step, &fact.fact, own)
        })
        || is_taken(edition, state, &fact.fact)
}

fn decides_presence(flow: &Flow, fact: &FactName) -> bool {
    let sources = flow.energy.values();
    let mut conditions = sources.filter_map(|source| source.exists_when.as_ref());
    conditions.any(|condition| reads(condition, fact))
}

fn goes_by(edition: &Edition, step: &Step, fact: &FactName, own: bool) -> bool {
    // Its own way on is tried out, not guessed.
    let branches = step.then.iter().filter(|_| !own);
    let mut ways = branches.filter_map(|branch| branch.when.as_ref());
    if ways.any(|when| reads(when, fact)) {
        return true;
    }
    if let Danger::TestsLive { gear, .. } = &step.danger
        && gear.iter().any(|gear| gear.it == *fact)
    {
        return true;
    }
    match &step.act {
        Act::Measure(measure) => {
            let ranges = [&measure.plausible, &measure.expect];
            let mut ranges = ranges.into_iter().flatten();
            ranges.any(|range| reads(&range.from, fact) || reads(&range.to, fact))
        }
        Act::Wait { long, .. } => reads(long, fact),
        Act::WorkOut(work) => work.with.values().any(|with| reads(with, fact)),
        Act::Run(run) => is_needed(edition, run, fact),
        _ => false,
    }
}

/// Whether the flow that is run takes the fact, by an expression or by the same name.
fn is_needed(edition: &Edition, run: &Run, fact: &FactName) -> bool {
    let by_name = |other: &Flow| {
        let mut needs = other.needs.iter();
        needs.any(|need| need.it == *fact && !run.with.contains_key(&need.it))
    };
    run.with.values().any(|with| reads(with, fact))
        || edition.flow(&run.flow.it).is_none_or(by_name)
}

/// Whether the runner of the flow at hand took the fact when it came back.
fn is_taken(edition: &Edition, state: &State, fact: &FactName) -> bool {
    let runner = state.stack.len().checked_sub(2);
    let Some(call) = runner.and_then(|at| state.stack.get(at)) else {
        return false;
    };
    match edition.step(&call.flow, &call.step).map(|step| &step.act) {
        Some(Act::Run(run)) => run.take.values().any(|given| given == fact),
        // A flow that proves a source again gives nothing.
        _ => false,
    }
}

fn reads(expression: &Expression, fact: &FactName) -> bool {
    expression.facts().contains(&fact) || expression.known_asks().contains(&fact)
}
