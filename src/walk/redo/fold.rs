//! Folding what happens to steps that are done again.

use std::sync::Arc;

use super::super::state::{Alone, Call, Doing, Redo, Review, State, Visit};
use crate::record::entry::{StepRef, What};

/// A supervisor sent the job back with these steps.
pub(in crate::walk) fn sent_back(state: &mut State, remark: &str, steps: &[StepRef]) {
    state.review = Review::SentBack {
        remark: remark.to_owned(),
    };
    state.redo = (!steps.is_empty()).then(|| Redo {
        steps: steps.to_vec(),
        left: steps.to_vec(),
        end: state.mode.clone(),
        alone: None,
        from: None,
    });
}

/// The step at the end of the trail was answered.
pub(in crate::walk) fn done(state: &mut State) {
    let at = state.trail.last().and_then(Visit::step_ref);
    if let (Some(redo), Some(at)) = (&mut state.redo, at) {
        // On another way through its flow the same step may have another number.
        redo.left
            .retain(|left| (&left.flow, &left.step) != (&at.flow, &at.step));
    }
}

/// The walk goes on from the step that was done by itself: what was kept aside is walked again.
pub(in crate::walk) fn left_alone(state: &mut State) {
    let here = state.stack.last();
    let within = |alone: &Alone| {
        let there: Option<&Call> = alone.aside.first().and_then(|visit| visit.stack.last());
        matches!((here, there), (Some(here), Some(there))
            if here.flow == there.flow && here.instance == there.instance)
    };
    let leaves = state.alone().is_some_and(within);
    if let Some(redo) = state.redo.as_mut().filter(|_| leaves) {
        redo.alone = None;
    }
}

/// The walk went back over so many steps.
pub(in crate::walk) fn walk_on(state: &mut State, over: usize) {
    let keep = state.trail.len().saturating_sub(over);
    let Some(redo) = &mut state.redo else { return };
    redo.from = Some(redo.from.map_or(keep, |from| from.min(keep)));
    if redo.alone.as_ref().is_some_and(|alone| keep <= alone.at) {
        redo.alone = None;
    }
}

/// Folds in that the walk went to a step, or that what was kept aside stands.
pub(in crate::walk) fn apply(state: &mut State, what: &What) {
    match what {
        What::WentTo { over, ask_state } => go_to(state, usize::from(*over), *ask_state),
        What::WayStands { at_end } => put_back(state, *at_end),
        _ => {}
    }
}

fn go_to(state: &mut State, over: usize, ask_state: bool) {
    let at = state.trail.len().saturating_sub(over);
    let aside = state.trail.split_off(at);
    let ended = std::mem::take(&mut state.stack);
    if let Some(first) = aside.first() {
        state.stack = first.stack.to_vec();
    }
    let ahead = state.ahead.clone();
    let mut facts: Vec<_> = aside.iter().filter_map(Visit::fact_ref).collect();
    facts.append(&mut state.ahead);
    state.ahead = facts;
    state.doing = Doing::default();
    state.ask_state |= ask_state;
    state.told.clear();
    let alone = Alone {
        at,
        aside,
        stack: ended,
        ahead,
        facts: state
            .room()
            .map(|room| room.facts.clone())
            .unwrap_or_default(),
        sources: state.sources.clone(),
    };
    if let Some(redo) = &mut state.redo {
        redo.alone = Some(alone);
        redo.from = Some(at);
    }
}

fn put_back(state: &mut State, at_end: bool) {
    let Some(redo) = &mut state.redo else { return };
    let Some(alone) = redo.alone.take() else {
        return;
    };
    let mut aside = alone.aside.into_iter();
    // The step itself was walked again and stands at the end of the trail.
    let before = aside.next();
    if let (Some(again), Some(before)) = (state.trail.last_mut(), before) {
        again.stack = Arc::clone(&before.stack);
    }
    redo.from = None;
    state.trail.extend(aside);
    state.stack = alone.stack;
    state.ahead = alone.ahead;
    state.doing = Doing::default();
    if at_end {
        state.mode = redo.end.clone();
        state.redo = None;
    }
}
