//! The end of the way back to service: locks come off, and nobody reaches in any more.

use super::draft::here;
use super::state::{Mode, State};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Danger, Duty, Flow, Setting, Step};
use crate::flow::name::{SourceName, StepName};

/// The sources of which the step at hand takes the locks off, while it may be answered.
pub(super) fn unlocked_here(edition: &Edition, state: &State) -> Vec<SourceName> {
    let is_asked = state.mode == Mode::Walking && state.offer.is_none() && !state.ask_state;
    match here(edition, state).filter(|_| is_asked) {
        Some((_, step)) => unlocked(state, [step]),
        None => Vec::new(),
    }
}

/// The sources of which locks come off here or further on in the flow at hand; before that nobody
/// reaches in, and nobody is to be cleared away (29 CFR 1910.147(e)(1) and (2)(i)).
pub(super) fn unlocked_from_here(edition: &Edition, state: &State) -> Vec<SourceName> {
    let at_hand = unlocked_here(edition, state);
    let is_asked = state.mode == Mode::Walking && state.offer.is_none() && !state.ask_state;
    let Some((flow, step)) = here(edition, state).filter(|_| is_asked && at_hand.is_empty()) else {
        return at_hand;
    };
    let ahead = ahead(flow, step);
    match ahead.iter().any(|step| comes_before_locks(step)) {
        true => Vec::new(),
        false => unlocked(state, ahead),
    }
}

fn unlocked<'s>(state: &State, steps: impl IntoIterator<Item = &'s Step>) -> Vec<SourceName> {
    let sets = steps.into_iter().flat_map(|step| &step.sets);
    let unlocked = sets.filter(|(_, setting)| *setting == Setting::Unlocked);
    unlocked
        .map(|(source, _)| state.root_source(&source.it))
        .collect()
}

/// The step itself and every step of its flow that may come after it.
fn ahead<'f>(flow: &'f Flow, from: &'f Step) -> Vec<&'f Step> {
    let mut found = vec![from];
    let mut next = 0;
    while let Some(step) = found.get(next).copied() {
        next += 1;
        for to in ways(step).filter_map(|name| flow.step(name)) {
            if found.iter().all(|known| known.name != to.name) {
                found.push(to);
            }
        }
    }
    found
}

fn ways(step: &Step) -> impl Iterator<Item = &StepName> {
    let other = match &step.act {
        Act::WorkOut(work) => Some(&work.unable.it),
        Act::ProveDead(proof) => Some(&proof.not_dead.it),
        _ => None,
    };
    step.then.iter().map(|branch| &branch.go.it).chain(other)
}

/// Whether locks stay on until this is done. What another flow does is not looked at.
fn comes_before_locks(step: &Step) -> bool {
    let is_duty = |duty| matches!(duty, Duty::Inspect | Duty::ClearPeople);
    let runs = matches!(step.act, Act::Run(_) | Act::ProveDead(_));
    let duty = step.duty.as_ref().is_some_and(|duty| is_duty(duty.it));
    runs || duty || !matches!(step.danger, Danger::HandsOff)
}
