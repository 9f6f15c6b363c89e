//! Folding entries into state. Total: it never fails, evaluates nothing and reads no flow.

mod energy;

use std::collections::BTreeMap;
use std::sync::Arc;

use super::check_ins::{self, Watch};
use super::redo;
use super::state::{
    Call, Doing, Known, Mode, Offer, Review, Room, SourceState, State, Told, Visit, Worked,
};
use crate::flow::name::{FactName, StepName};
use crate::record::before::Before;
use crate::record::check_in::CheckIn;
use crate::record::entry::{Answer, Entry, What};
use crate::record::person::PersonId;
use crate::trade::formula::Value;

impl State {
    /// The state after `entries`; none if they do not begin with the job's beginning.
    pub fn fold<'e>(entries: impl IntoIterator<Item = &'e Entry>) -> Option<State> {
        let mut entries = entries.into_iter();
        let mut state = State::begun(entries.next()?)?;
        for entry in entries {
            apply(&mut state, entry);
        }
        Some(state)
    }

    fn begun(first: &Entry) -> Option<State> {
        let What::Begun {
            pins,
            holder,
            sources,
        } = &first.what
        else {
            return None;
        };
        let sources = sources.iter().map(|declared| {
            let state = SourceState {
                declared: Arc::new(declared.clone()),
                setting: None,
                locks: Default::default(),
                proof: None,
                void: None,
            };
            (declared.name.clone(), state)
        });
        Some(State {
            pins: Arc::new(pins.clone()),
            revision: 1,
            asked_since: 1,
            began_at: first.at,
            last_at: first.at,
            last_human_at: first.at,
            last_work_at: first.at,
            stands_since: first.at,
            left_at: first.at,
            review_since: first.at,
            holder: *holder,
            holders: [*holder].into(),
            offer: None,
            shared: false,
            mode: Mode::Walking,
            review: Review::None,
            redo: None,
            stack: Vec::new(),
            rooms: BTreeMap::new(),
            sources: sources.collect(),
            trail: Vec::new(),
            ahead: Vec::new(),
            ask_state: false,
            together: Vec::new(),
            doing: Doing::default(),
            told: Vec::new(),
            before: Arc::default(),
            watch: Watch::Unasked,
            worked: BTreeMap::new(),
        })
    }
}

/// Folds one entry in.
pub fn apply(state: &mut State, entry: &Entry) {
    state.revision += 1;
    if !is_beside_the_question(&entry.what) {
        state.asked_since = state.revision;
    }
    state.last_at = state.last_at.max(entry.at);
    if entry.who.is_some() && !matches!(entry.what, What::CheckIn { .. }) {
        state.last_human_at = state.last_at;
        if keeps_proofs_young(&entry.what) {
            state.last_work_at = state.last_at;
        }
    }
    note_since(state, &entry.what);
    match &entry.what {
        What::Begun { .. } => {}
        What::KnownBefore { facts } => {
            let place = |before: &Before| (before.flow.clone(), before.fact.clone());
            let known = facts.iter().map(|before| (place(before), before.clone()));
            state.before = Arc::new(known.collect());
        }
        What::StillSo { .. } => {}
        What::Went { .. }
        | What::Entered { .. }
        | What::CameBack { .. }
        | What::WentBack { .. }
        | What::Unconfirmed { .. } => apply_move(state, entry),
        What::WentTo { .. } | What::WayStands { .. } => redo::apply(state, &entry.what),
        What::Answered { .. }
        | What::ReadAgain { .. }
        | What::WorkedOut { .. }
        | What::WaitBegan { .. }
        | What::WaitOver { .. }
        | What::Released { .. }
        | What::AskedTogether { .. }
        | What::StoodOn { .. }
        | What::StandsBeside { .. } => apply_step(state, entry),
        What::SourceSet { .. }
        | What::ProofPart { .. }
        | What::ProofFailed { .. }
        | What::Proved { .. }
        | What::ProofVoided { .. }
        | What::StateConfirmed
        | What::OwnLockOn { .. }
        | What::OwnLockOff { .. }
        | What::LockTakenOff { .. } => energy::apply(state, entry),
        _ => apply_course(state, &entry.what, entry.who),
    }
    check_ins::apply(state, entry);
}

/// Whether whoever reads the screen still answers the same after this entry. Only what is sure to
/// leave the question as it was is named here: after anything else it is to be read again.
fn is_beside_the_question(what: &What) -> bool {
    match what {
        // Often time itself or somebody else does these, while the person types.
        What::SupervisorCalled
        | What::OwnLockOn { .. }
        | What::OwnLockOff { .. }
        | What::Shared
        | What::SharingEnded
        | What::Sealed { .. } => true,
        What::CheckIn { of } => match of {
            CheckIn::Asked { .. } | CheckIn::Well | CheckIn::Found | CheckIn::Ended { .. } => true,
            // How often is a question of its own, which comes before the one of the step.
            CheckIn::Wanted | CheckIn::Agreed { .. } | CheckIn::Declined => false,
        },
        _ => false,
    }
}

/// Whether somebody was at the walk itself: what may be done from anywhere says nothing about what
/// became of the evaporator meanwhile, and neither does a sign of life alone.
fn keeps_proofs_young(what: &What) -> bool {
    let is_beside_the_walk = matches!(what, What::CheckIn { .. } | What::LockTakenOff { .. });
    !is_beside_the_walk && !is_beside_the_question(what)
}

/// Notes since when the job stands where this entry brings it.
fn note_since(state: &mut State, what: &What) {
    if let What::LeftLockedOut { .. } = what {
        state.left_at = state.last_at;
    }
    match what {
        What::HandedIn | What::Accepted { .. } | What::SentBack { .. } => {
            state.review_since = state.last_at;
        }
        What::Went { .. }
        | What::WentBack { .. }
        | What::Paused
        | What::Resumed
        | What::Stopped
        | What::StopLifted
        | What::LeaveWithdrawn
        | What::LeftLockedOut { .. }
        | What::Finished { .. } => state.stands_since = state.last_at,
        _ => {}
    }
}

fn apply_move(state: &mut State, entry: &Entry) {
    match &entry.what {
        What::Went { step } => {
            redo::left_alone(state);
            if let Some(call) = state.stack.last_mut() {
                if call.step == *step && !state.doing.proof.is_empty() {
                    state.told.push(Told::TestBrokenOff);
                }
                call.step = step.clone();
            }
            if !state.together.contains(step) {
                state.together.clear();
            }
            state.doing = Doing::default();
        }
        What::Entered {
            flow,
            instance,
            reproof,
            facts,
            sources,
        } => {
            let room = state.rooms.entry((flow.clone(), *instance)).or_default();
            room.sources = sources.clone();
            set_facts(room, facts, entry);
            state.together.clear();
            state.stack.push(Call {
                flow: flow.clone(),
                instance: *instance,
                step: StepName::from(""),
                reproof: *reproof,
                outcome: None,
            });
            state.doing = Doing::default();
        }
        What::CameBack {
            outcome,
            said,
            facts,
        } => {
            let ended = state.stack.pop();
            state.together.clear();
            state.doing = Doing::default();
            if ended.is_some_and(|call| call.reproof) {
                state.doing.reproof_outcome = Some(outcome.clone());
            } else if let Some(call) = state.stack.last_mut() {
                call.outcome = Some(Value::Word(outcome.as_str().to_owned()));
                let key = (call.flow.clone(), call.instance);
                set_facts(state.rooms.entry(key).or_default(), facts, entry);
            }
            if !said.is_empty() {
                state.told.push(Told::Said(said.clone()));
            }
        }
        What::WentBack { over, ask_state } => go_back(state, usize::from(*over), *ask_state),
        What::Unconfirmed { facts } => {
            for fact in facts {
                let room = state.rooms.get_mut(&(fact.flow.clone(), fact.instance));
                if let Some(known) = room.and_then(|room| room.facts.get_mut(&fact.fact)) {
                    Arc::make_mut(known).confirmed = false;
                }
            }
        }
        _ => {}
    }
}

fn set_facts(room: &mut Room, facts: &BTreeMap<FactName, Value>, entry: &Entry) {
    for (name, value) in facts {
        let known = Known {
            value: value.clone(),
            answer: None,
            at: entry.at,
            confirmed: true,
        };
        room.facts.insert(name.clone(), Arc::new(known));
    }
}

fn go_back(state: &mut State, over: usize, ask_state: bool) {
    redo::walk_on(state, over);
    let keep = state.trail.len().saturating_sub(over);
    let cut = state.trail.split_off(keep);
    if let Some(first) = cut.first() {
        state.stack = first.stack.to_vec();
    }
    // Newest first in time, so that answers cut by an earlier step back stay behind these.
    let answered = cut.iter().filter_map(Visit::fact_ref);
    let mut ahead: Vec<_> = answered.collect();
    ahead.append(&mut state.ahead);
    state.ahead = ahead;
    state.together.clear();
    state.doing = Doing::default();
    state.ask_state |= ask_state;
    state.told.clear();
}

impl Visit {
    /// The fact that was answered here, with the walk that it belongs to.
    pub(super) fn fact_ref(&self) -> Option<crate::record::entry::FactRef> {
        let call = self.stack.last()?;
        Some(crate::record::entry::FactRef {
            flow: call.flow.clone(),
            instance: call.instance,
            fact: self.fact.clone()?,
        })
    }
}

fn apply_step(state: &mut State, entry: &Entry) {
    match &entry.what {
        What::Answered {
            step,
            answer,
            fact,
            band,
            ..
        } => {
            state.told.clear();
            if let Answer::Reading { reading } = answer {
                state.told.push(Told::Reading(reading.clone(), *band));
            }
            if let (Some(fact), Some(value)) = (fact, answer.value()) {
                learn(state, fact, value, answer, entry);
            }
            visit(state, step, fact.clone());
        }
        What::ReadAgain { reading, band, .. } => {
            state.doing.first_reading = Some((reading.clone(), *band));
            state.told.clear();
        }
        What::WorkedOut {
            formula,
            inputs,
            results,
            facts,
            ..
        } => {
            if let Some(call) = state.stack.last() {
                let key = (call.flow.clone(), call.instance);
                set_facts(state.rooms.entry(key).or_default(), facts, entry);
            }
            let worked = Arc::new(Worked {
                formula: formula.clone(),
                inputs: inputs.clone(),
                results: results.clone(),
            });
            state.worked.insert(formula.clone(), Arc::clone(&worked));
            state.doing.worked = Some(worked);
        }
        What::WaitBegan { until, .. } => {
            state.doing.until = Some(*until);
            state.doing.wait_over = false;
        }
        What::WaitOver { .. } => state.doing.wait_over = true,
        What::Released { step, .. } => {
            state.told.clear();
            visit(state, step, None);
        }
        What::StandsBeside { .. } => state.doing.beside = entry.who,
        What::AskedTogether { steps } => state.together.clone_from(steps),
        What::StoodOn { .. } => state.doing.stood_on.extend(entry.who),
        _ => {}
    }
}

fn learn(state: &mut State, fact: &FactName, value: Value, answer: &Answer, entry: &Entry) {
    let Some(call) = state.stack.last() else {
        return;
    };
    let key = (call.flow.clone(), call.instance);
    state
        .ahead
        .retain(|ahead| !(ahead.fact == *fact && ahead.flow == key.0 && ahead.instance == key.1));
    let known = Known {
        value,
        answer: Some(answer.clone()),
        at: entry.at,
        confirmed: true,
    };
    state
        .rooms
        .entry(key)
        .or_default()
        .facts
        .insert(fact.clone(), Arc::new(known));
}

/// Remembers an answered step, sharing the stack with the visit before where it is the same.
fn visit(state: &mut State, step: &StepName, fact: Option<FactName>) {
    let same = |visit: &&Visit| visit.stack[..] == state.stack[..];
    let stack = match state.trail.last().filter(same) {
        Some(visit) => Arc::clone(&visit.stack),
        None => Arc::from(state.stack.as_slice()),
    };
    state.trail.push(Visit {
        stack,
        step: step.clone(),
        fact,
        set: false,
        proved: Vec::new(),
    });
    redo::done(state);
}

fn resume(state: &mut State) {
    state.mode = Mode::Walking;
    // What is walked again is handed in again.
    if state.review == Review::HandedIn {
        state.review = Review::None;
    }
}

fn apply_course(state: &mut State, what: &What, who: Option<PersonId>) {
    match what {
        What::Paused => state.mode = Mode::Paused,
        What::Resumed => resume(state),
        What::StopLifted => {
            state.mode = Mode::Walking;
            state.doing.reproof_outcome = None;
        }
        What::Stopped => {
            state.mode = Mode::Stopped { why: None };
            state.told.clear();
        }
        What::StopExplained { why } => {
            state.mode = Mode::Stopped {
                why: Some(why.clone()),
            }
        }
        What::HandoverOffered { to } => state.offer = Some(Offer { to: *to }),
        What::HandoverWithdrawn => state.offer = None,
        What::Shared | What::SharingEnded => state.shared = matches!(what, What::Shared),
        What::HandoverTaken => {
            state.offer = None;
            state.doing.beside = None;
            state.holder = who.unwrap_or(state.holder);
            state.holders.insert(state.holder);
        }
        What::LeaveAsked => {
            let stopped = match &state.mode {
                Mode::Stopped { why } => Some(why.clone()),
                _ => None,
            };
            state.mode = Mode::Leaving {
                owner: None,
                stopped,
            };
        }
        What::LeaveWithdrawn => {
            state.mode = match &state.mode {
                Mode::Leaving {
                    stopped: Some(why), ..
                } => Mode::Stopped { why: why.clone() },
                _ => Mode::Walking,
            };
        }
        What::LeaveOwner { owner } => {
            if let Mode::Leaving { owner: slot, .. } = &mut state.mode {
                *slot = Some(owner.clone());
            }
        }
        What::LeftLockedOut { owner, again } => {
            // What nobody took is not on offer any more: it has an owner.
            state.offer = None;
            state.mode = Mode::Left {
                owner: owner.clone(),
                again: again.clone(),
            };
        }
        What::Finished { outcome, label } => {
            state.mode = Mode::Finished {
                outcome: outcome.clone(),
                label: label.clone(),
            };
            state.redo = None;
        }
        What::HandedIn => {
            state.review = Review::HandedIn;
            state.redo = None;
        }
        What::Accepted { .. } => state.review = Review::Accepted,
        What::SentBack { remark, steps } => redo::sent_back(state, remark, steps),
        _ => {}
    }
}
