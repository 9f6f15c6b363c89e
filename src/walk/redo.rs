//! Doing again the steps of a job that a supervisor sent back.
//!
//! A chosen step is done in its own place, with the flows below it as they stood. What was walked
//! after it is kept aside. It stands if nothing follows from the new answer but what was walked
//! before and every source is as it was; otherwise the walk goes on from there, through the
//! return to service, to the end, with the earlier answers shown.

mod fold;
mod matters;

pub(super) use fold::{apply, done, left_alone, sent_back, walk_on};

use std::sync::Arc;

use super::decide::not_now;
use super::draft::Draft;
use super::guard::is_protected;
use super::refusal::Refusal;
use super::state::{Alone, Call, Known, State, Visit};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Danger, Step};
use crate::flow::name::StepName;
use crate::record::entry::{FactRef, StepRef, VoidReason, What};

/// So many steps are named on one screen.
const NAMES_MAX: usize = 8;

impl Draft<'_> {
    /// The chosen steps in the order in which they were walked; every one must have been.
    pub(super) fn chosen_steps(&self, chosen: &[StepRef]) -> Result<Vec<StepRef>, Refusal> {
        let mut walked = self.state.walked();
        if !chosen.iter().all(|step| walked.contains(step)) {
            return Err(not_now(
                "One of these steps was not walked in this job. Choose among the steps that were.",
            ));
        }
        walked.retain(|step| chosen.contains(step));
        Ok(walked)
    }

    /// Takes a job up again of which steps were sent back: nothing counts as proved any more.
    pub(super) fn take_up(&mut self) -> Result<(), Refusal> {
        self.only_holder()?;
        self.void_all(VoidReason::LongPause);
        self.push(What::Resumed);
        self.next_sent_back();
        self.settle()
    }

    /// Goes to the first of the steps that are left to do.
    fn next_sent_back(&mut self) {
        let left = self.state.redo.iter().flat_map(|redo| &redo.left);
        let trail = &self.state.trail;
        let found = left
            .filter_map(|step| {
                trail
                    .iter()
                    .rposition(|at| at.step_ref().as_ref() == Some(step))
            })
            .min();
        let Some(at) = found else { return };
        let ask_state = self.is_out_of_service();
        match self.ladder_before(at) {
            Some(from) => self.push(What::WentBack {
                over: steps_over(trail.len(), from),
                ask_state,
            }),
            None => self.push(What::WentTo {
                over: steps_over(trail.len(), at),
                ask_state,
            }),
        }
    }

    fn is_out_of_service(&self) -> bool {
        let mut sources = self.state.sources.values();
        sources.any(|source| !source.is_in_service())
    }

    /// Where to begin if the step at this place climbs the ladder of a source with hands off: a
    /// ladder is climbed from its foot, so its flow is walked from its first step.
    fn ladder_before(&self, at: usize) -> Option<usize> {
        let visit = self.state.trail.get(at)?;
        let call = visit.stack.last()?;
        let step = self.edition.step(&call.flow, &visit.step)?;
        climbs(step).then(|| first_of(&self.state.trail, call, visit.stack.len()))
    }

    /// Where to begin if sources were set in the flow at hand, or in one below it, before the
    /// step that was just done again: what comes after it counts on them.
    fn ladder_to_climb_again(&self, alone: &Alone) -> Option<usize> {
        let before = self.state.trail.get(..alone.at)?;
        let calls = self.state.stack.iter().enumerate();
        let mut begun = calls.filter(|(depth, call)| {
            let own = |visit: &&Visit| visit.stack.len() == depth + 1;
            let same = |visit: &&Visit| visit.stack.last().is_some_and(|at| is_same(at, call));
            let mut visits = before.iter().filter(own).filter(same);
            visits.any(|visit| visit.set || !visit.proved.is_empty())
        });
        let (depth, call) = begun.next()?;
        Some(first_of(before, call, depth + 1))
    }

    /// Goes to the step that follows, unless the step at hand was done again by itself and what
    /// was walked after it stands.
    pub(super) fn go(&mut self, step: &Step, to: &StepName) -> Result<(), Refusal> {
        let Some(alone) = self.alone_at(step).cloned() else {
            self.push(What::Went { step: to.clone() });
            return Ok(());
        };
        if self.way_stands(&alone, to) {
            let left = self
                .state
                .redo
                .as_ref()
                .is_some_and(|redo| !redo.left.is_empty());
            self.push(What::WayStands { at_end: !left });
            if left {
                self.next_sent_back();
            }
            return Ok(());
        }
        if self.has_changed(&alone) && !self.state.ahead.is_empty() {
            let facts = self.state.ahead.clone();
            self.push(What::Unconfirmed { facts });
        }
        let protected = self.stands_protected(step);
        match self.ladder_to_climb_again(&alone).filter(|_| !protected) {
            Some(from) => {
                let ask_state = self.is_out_of_service();
                let over = steps_over(self.state.trail.len(), from);
                self.push(What::WentBack { over, ask_state });
            }
            None => self.push(What::Went { step: to.clone() }),
        }
        Ok(())
    }

    /// The step done by itself, if it is the one at hand.
    pub(super) fn alone_at(&self, step: &Step) -> Option<&Alone> {
        let alone = self.state.alone()?;
        let wanted = alone.aside.first()?;
        let here = self.state.top()?;
        let there = wanted.stack.last()?;
        let same = wanted.stack.len() == self.state.stack.len()
            && is_same(here, there)
            && wanted.step == step.name;
        same.then_some(alone)
    }

    /// Whether hands went in behind a proof made anew: then every source is where the walk to
    /// come expects it.
    fn stands_protected(&self, step: &Step) -> bool {
        let touched = self.touched(step);
        let holder = self.state.holder;
        matches!(step.danger, Danger::Touches(_))
            && !touched.is_empty()
            && touched
                .iter()
                .all(|name| is_protected(&self.state, name, holder))
    }

    fn way_stands(&self, alone: &Alone, to: &StepName) -> bool {
        let sources = &self.state.sources;
        let unmoved = alone
            .sources
            .iter()
            .all(|(name, before)| sources.get(name).is_some_and(|now| now.stands_as(before)));
        let changed = self.changed(alone);
        unmoved
            && !changed
                .iter()
                .any(|fact| matters::matters(self.edition, &self.state, fact))
            && self.leads_on_as_before(alone, to)
    }

    fn has_changed(&self, alone: &Alone) -> bool {
        !self.changed(alone).is_empty()
    }

    /// The facts of the flow at hand with another value than before, or none any more.
    fn changed(&self, alone: &Alone) -> Vec<FactRef> {
        let (Some(call), Some(room)) = (self.state.top(), self.state.room()) else {
            return Vec::new();
        };
        let differs = |name: &crate::flow::name::FactName| {
            let seen = |known: &Arc<Known>| (known.value.clone(), known.confirmed);
            let now = room.facts.get(name).map(seen);
            now != alone.facts.get(name).map(seen)
        };
        let names = room.facts.keys().filter(|name| differs(name));
        names
            .map(|fact| FactRef {
                flow: call.flow.clone(),
                instance: call.instance,
                fact: fact.clone(),
            })
            .collect()
    }

    /// Whether the walk, going on by itself, comes to the step that was walked next.
    fn leads_on_as_before(&self, alone: &Alone, to: &StepName) -> bool {
        let mut trial = Draft::new(self.edition, &self.state, self.context);
        trial.looks_ahead = true;
        trial.state.redo = None;
        trial.push(What::Went { step: to.clone() });
        if trial.settle().is_err() {
            return false;
        }
        let walked = match alone.aside.get(1) {
            Some(visit) => &visit.stack[..],
            None => &alone.stack,
        };
        let depth = self.state.stack.len();
        place(&trial.state.stack, depth) == place(walked, depth)
    }
}

/// Whether a step, with hands off, sets or proves a source.
fn climbs(step: &Step) -> bool {
    let hands_off = !matches!(step.danger, Danger::Touches(_));
    matches!(step.act, Act::ProveDead(_)) || (hands_off && !step.sets.is_empty())
}

/// The place in the trail of the first step within a call.
fn first_of(trail: &[Visit], call: &Call, depth: usize) -> usize {
    let within = |visit: &Visit| {
        visit
            .stack
            .get(depth - 1)
            .is_some_and(|at| is_same(at, call))
    };
    trail.iter().position(within).unwrap_or(0)
}

fn is_same(one: &Call, other: &Call) -> bool {
    one.flow == other.flow && one.instance == other.instance
}

/// The flows with the steps at which they stand; where, above this depth, something was being
/// proved again, the step that waited for it.
fn place(stack: &[Call], depth: usize) -> Vec<(&str, &str)> {
    let walked = stack.iter().enumerate();
    let walked = walked.take_while(|(at, call)| *at < depth || !call.reproof);
    walked
        .map(|(_, call)| (call.flow.as_str(), call.step.as_str()))
        .collect()
}

/// How many steps are stepped over to come to this place.
fn steps_over(walked: usize, at: usize) -> u16 {
    u16::try_from(walked.saturating_sub(at)).unwrap_or(u16::MAX)
}

/// Whether steps are done again from here on: what was walked before is closed.
pub(super) fn no_step_back(state: &State) -> bool {
    let from = state.redo.as_ref().and_then(|redo| redo.from);
    from.is_some_and(|from| state.trail.len() <= from)
}

/// What to say of the steps that are to be done again.
pub(super) fn told(edition: &Edition, state: &State) -> Option<String> {
    let redo = state.redo.as_ref()?;
    let (all, left) = (redo.steps.len(), redo.left.len());
    if !state.is_open() {
        let names = redo.left.iter().take(NAMES_MAX);
        let names: Vec<String> = names.map(|step| step_label(edition, step)).collect();
        let more = match left - names.len() {
            0 => String::new(),
            more => format!(" · and {more} more"),
        };
        return Some(format!("To be done again: {}{more}.", names.join(" · ")));
    }
    let which = match all {
        1 => "the one step sent back".to_owned(),
        _ => format!("step {} of the {all} sent back", (all - left + 1).min(all)),
    };
    Some(match &redo.alone {
        Some(alone) if is_proving(state, alone) => format!("The proof comes first, then {which}."),
        Some(_) => format!("This is {which}."),
        None if left == 0 => "What was sent back is done again. Walk on to the end, because \
                              something that follows from it may have changed."
            .to_owned(),
        None => format!("Walk on to the end. On the way comes {which}."),
    })
}

fn is_proving(state: &State, alone: &Alone) -> bool {
    state.stack.len() > alone.aside.first().map_or(0, |visit| visit.stack.len())
}

/// What people call a step: the title of its flow, and what it asks for.
pub fn step_label(edition: &Edition, at: &StepRef) -> String {
    let flow = edition.flow(&at.flow);
    let title = flow.map_or_else(|| at.flow.to_string(), |flow| flow.title.clone());
    let step = flow.and_then(|flow| flow.step(&at.step));
    let fact = step.and_then(Step::asks_for);
    let fact = fact.and_then(|fact| flow.and_then(|flow| flow.facts.get(fact)));
    let own = match (fact, step.map(|step| &step.act)) {
        (Some(fact), _) => fact.label.clone(),
        (None, Some(Act::Tell { button } | Act::Confirm { button })) => button.clone(),
        (None, Some(Act::Hold { release, .. })) => release.clone(),
        _ => at.step.as_str().replace('_', " "),
    };
    format!("{title}: {own}")
}

/// Whether a job that is over is to be taken up for steps that were sent back.
pub(super) fn is_wanted(state: &State) -> bool {
    let mut wanted = state.redo.iter().filter(|redo| !redo.left.is_empty());
    wanted.any(|redo| redo.end == state.mode)
}
