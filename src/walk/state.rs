//! The state of a job: the fold of its entries, never stored beside them.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use jiff::Timestamp;

use super::check_ins::Watch;
use crate::flow::expression::Facts;
use crate::flow::model::{Setting, SourceKind};
use crate::flow::name::{FactName, FlowName, OutcomeName, SourceName, StepName};
use crate::record::before::Before;
use crate::record::entry::{
    Answer, Band, FactRef, Pins, ProofFailure, SourceEntry, StepRef, TypedReading, VoidReason,
};
use crate::record::person::PersonId;
use crate::trade::formula::{Arguments, Results, Value};

/// Where a job stands.
///
/// It is copied at every input, so what stays as it is lies behind an [`Arc`] that copies share.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// What the job is pinned to.
    pub pins: Arc<Pins>,
    /// How many entries there are: every entry makes older screens stale.
    pub revision: u64,
    /// The revision at which what is asked now was first asked. What happens beside the question,
    /// such as a call for the supervisor, makes older screens stale but leaves this as it is.
    pub asked_since: u64,
    /// When the job began.
    pub began_at: Timestamp,
    /// The time of the last entry.
    pub last_at: Timestamp,
    /// The time of the last entry that a person made.
    pub last_human_at: Timestamp,
    /// The time of the last thing that a person did at the walk itself: what happens beside it
    /// keeps no proof young.
    pub last_work_at: Timestamp,
    /// Since when it is at its step, paused, stopped, left or over, whichever it is.
    pub stands_since: Timestamp,
    /// When it was last left locked out. Where steps were done again since, it is left still.
    pub left_at: Timestamp,
    /// Since when its review stands as it does.
    pub review_since: Timestamp,
    /// Whose job it is.
    pub holder: PersonId,
    /// Everybody whose job it ever was.
    pub holders: BTreeSet<PersonId>,
    /// To whom it is offered, if it is.
    pub offer: Option<Offer>,
    /// Whether anybody of the crew may answer the steps that are not hands-on.
    pub shared: bool,
    /// Whether it is being walked, paused, stopped or over.
    pub mode: Mode,
    /// Where it stands in review.
    pub review: Review,
    /// What is to be done again, while a sent-back job names steps.
    pub redo: Option<Redo>,
    /// The flow on top is the last.
    pub stack: Vec<Call>,
    /// What each walk through each flow has collected.
    pub rooms: BTreeMap<(FlowName, u32), Room>,
    /// The energy sources by the root's names.
    pub sources: BTreeMap<SourceName, SourceState>,
    /// The steps that were answered, in order.
    pub trail: Vec<Visit>,
    /// Facts of the steps that were gone back over, and are walked again from the first.
    pub ahead: Vec<FactRef>,
    /// The present state of the sources must be confirmed before anything else.
    pub ask_state: bool,
    /// The steps that are asked as one list, while the walk is among them.
    pub together: Vec<StepName>,
    /// What has happened within the step at hand.
    pub doing: Doing,
    /// What to tell about the answer before.
    pub told: Vec<Told>,
    /// What earlier jobs recorded of the evaporator's nameplate.
    pub before: Arc<BTreeMap<(FlowName, FactName), Before>>,
    /// Whether the holder is asked now and then if they are all right.
    pub watch: Watch,
    /// The last result of each formula, for charts at later steps.
    pub worked: BTreeMap<String, Arc<Worked>>,
}

/// Whether a job is being walked.
#[derive(Clone, Debug, PartialEq)]
pub enum Mode {
    /// Somebody is at it.
    Walking,
    /// Paused.
    Paused,
    /// Stopped; a supervisor lets it go on.
    Stopped {
        /// Why, once that was said.
        why: Option<String>,
    },
    /// Being left with an owner.
    Leaving {
        /// The owner, once that was said.
        owner: Option<String>,
        /// Why work was stopped before, if it was.
        stopped: Option<Option<String>>,
    },
    /// Left with an owner.
    Left {
        /// Who owns what is open.
        owner: String,
        /// When it will be looked at again.
        again: String,
    },
    /// Walked to an end.
    Finished {
        /// How.
        outcome: OutcomeName,
        /// Its label.
        label: String,
    },
}

/// A finished job's way through review.
#[derive(Clone, Debug, PartialEq)]
pub enum Review {
    /// Not handed in.
    None,
    /// Handed in.
    HandedIn,
    /// Sent back.
    SentBack {
        /// Why.
        remark: String,
    },
    /// Accepted.
    Accepted,
}

/// The steps of a sent-back job that are to be done again.
#[derive(Clone, Debug, PartialEq)]
pub struct Redo {
    /// All of them, in the order in which they were walked.
    pub steps: Vec<StepRef>,
    /// Those that are left to do.
    pub left: Vec<StepRef>,
    /// How the job had ended.
    pub end: Mode,
    /// The step that is done by itself, while what was walked after it is kept aside.
    pub alone: Option<Alone>,
    /// How many steps were walked before the one from which steps are done again: what lies
    /// before it is closed. The sources do not stand any more as they stood there.
    pub from: Option<usize>,
}

/// A step that is done again by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Alone {
    /// How many steps were walked before it.
    pub at: usize,
    /// It and what was walked after it.
    pub aside: Vec<Visit>,
    /// The flows as they stood at the end of the job.
    pub stack: Vec<Call>,
    /// What was ahead at the end of the job.
    pub ahead: Vec<FactRef>,
    /// The facts of its flow before it was done again.
    pub facts: BTreeMap<FactName, Arc<Known>>,
    /// The sources before it was done again.
    pub sources: BTreeMap<SourceName, SourceState>,
}

/// An offer of the job to somebody else.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// To whom; nobody means anyone of the crew.
    pub to: Option<PersonId>,
}

/// One flow being walked.
#[derive(Clone, Debug, PartialEq)]
pub struct Call {
    /// The flow.
    pub flow: FlowName,
    /// Which time it is walked in this job, from 1.
    pub instance: u32,
    /// The step it stands at.
    pub step: StepName,
    /// Whether it interrupts the flow below to prove a source again.
    pub reproof: bool,
    /// How the flow that it ran last ended.
    pub outcome: Option<Value>,
}

/// What one walk through one flow has collected.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Room {
    /// The facts.
    pub facts: BTreeMap<FactName, Arc<Known>>,
    /// Its source names, each with the root's.
    pub sources: BTreeMap<SourceName, SourceName>,
}

/// A fact with a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// The value.
    pub value: Value,
    /// The answer that gave it, if a person did.
    pub answer: Option<Answer>,
    /// When.
    pub at: Timestamp,
    /// Whether it still holds after an earlier answer was changed.
    pub confirmed: bool,
}

/// One answered step.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The flows below and the one on top, as they stood.
    pub stack: Arc<[Call]>,
    /// The step.
    pub step: StepName,
    /// The fact that was answered.
    pub fact: Option<FactName>,
    /// Whether sources were set.
    pub set: bool,
    /// The sources that were proved, by the root's names.
    pub proved: Vec<SourceName>,
}

/// The state of one energy source.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceState {
    /// What it is.
    pub declared: Arc<SourceEntry>,
    /// How far down its ladder it is; none while nothing was done to it.
    pub setting: Option<(Setting, Timestamp)>,
    /// Who has a lock on it.
    pub locks: BTreeSet<PersonId>,
    /// The proof, while it holds.
    pub proof: Option<Proof>,
    /// Why the last proof is void.
    pub void: Option<VoidReason>,
}

/// A proof that holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proof {
    /// Who made it.
    pub by: PersonId,
    /// When.
    pub at: Timestamp,
}

/// What has happened within the step at hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Doing {
    /// The first reading, when it was asked for once more.
    pub first_reading: Option<(TypedReading, Band)>,
    /// The parts of a proof that are answered.
    pub proof: Vec<Answer>,
    /// Who answered them: a test is one person's from its first part to its last.
    pub prover: Option<PersonId>,
    /// Why the proof had to begin again.
    pub failure: Option<ProofFailure>,
    /// The end of a wait.
    pub until: Option<Timestamp>,
    /// Whether the wait is over.
    pub wait_over: bool,
    /// The result of a formula.
    pub worked: Option<Arc<Worked>>,
    /// How the flow ended that was to prove the touched sources.
    pub reproof_outcome: Option<OutcomeName>,
    /// Who stands beside the apprentice.
    pub beside: Option<PersonId>,
    /// Whose sign-offs what happens here stands on, as far as that is written down.
    pub stood_on: BTreeSet<PersonId>,
}

/// A formula's result.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked {
    /// Its name.
    pub formula: String,
    /// What went in.
    pub inputs: Arguments,
    /// What came out, or why nothing did.
    pub results: Result<Results, String>,
}

/// Something to tell on the next screen.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// A reading with what was expected.
    Reading(TypedReading, Option<Band>),
    /// A sentence.
    Said(String),
    /// Sources were proved.
    Proved(Vec<SourceName>),
    /// Proofs became void.
    Voided(Vec<SourceName>, VoidReason),
    /// A proof did not pass.
    ProofFailed(ProofFailure),
    /// A test was broken off and begins again.
    TestBrokenOff,
}

impl State {
    /// The flow on top, if the job is anywhere.
    pub fn top(&self) -> Option<&Call> {
        self.stack.last()
    }

    /// What the flow on top has collected.
    pub fn room(&self) -> Option<&Room> {
        let call = self.top()?;
        self.rooms.get(&(call.flow.clone(), call.instance))
    }

    /// Facts of the flow on top, as expressions see them.
    pub fn facts(&self) -> RoomFacts<'_> {
        RoomFacts {
            room: self.room(),
            outcome: self.top().and_then(|call| call.outcome.as_ref()),
        }
    }

    /// Facts of one of the flows that are walked.
    pub fn facts_of<'a>(&'a self, call: &'a Call) -> RoomFacts<'a> {
        RoomFacts {
            room: self.rooms.get(&(call.flow.clone(), call.instance)),
            outcome: call.outcome.as_ref(),
        }
    }

    /// Facts of the root flow.
    pub fn root_facts(&self) -> RoomFacts<'_> {
        let root = self.stack.first();
        let room = root.and_then(|call| self.rooms.get(&(call.flow.clone(), call.instance)));
        RoomFacts {
            room,
            outcome: None,
        }
    }

    /// The root's name of a source of the flow on top.
    pub fn root_source(&self, local: &SourceName) -> SourceName {
        self.room()
            .and_then(|room| room.sources.get(local))
            .unwrap_or(local)
            .clone()
    }

    /// The step that is done again by itself, if one is.
    pub fn alone(&self) -> Option<&Alone> {
        self.redo.as_ref()?.alone.as_ref()
    }

    /// The steps that were walked and stand, each once, where it was last answered.
    pub fn walked(&self) -> Vec<StepRef> {
        let mut steps: Vec<StepRef> = Vec::new();
        for step in self.trail.iter().filter_map(Visit::step_ref) {
            steps.retain(|earlier| *earlier != step);
            steps.push(step);
        }
        steps
    }

    /// Whether anybody's lock hangs.
    pub fn has_locks(&self) -> bool {
        self.sources.values().any(|source| !source.locks.is_empty())
    }

    /// Whether the job can still go on.
    pub fn is_open(&self) -> bool {
        !matches!(self.mode, Mode::Finished { .. } | Mode::Left { .. })
    }

    /// When somebody has to be asked whether they are all right.
    pub fn next_check_in(&self) -> Option<Timestamp> {
        self.rounds().map(|rounds| rounds.due)
    }

    /// When time itself has to act on this job, if it has to.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        let running = self.mode == Mode::Walking || self.mode == Mode::Paused;
        self.doing
            .until
            .filter(|_| running && !self.doing.wait_over)
    }
}

impl Visit {
    /// Which step it was.
    pub fn step_ref(&self) -> Option<StepRef> {
        let call = self.stack.last()?;
        Some(StepRef {
            flow: call.flow.clone(),
            instance: call.instance,
            step: self.step.clone(),
        })
    }
}

impl SourceState {
    /// Whether power is on and nobody holds it off, as far as the record says.
    pub fn is_in_service(&self) -> bool {
        let off = [Setting::Opened, Setting::Locked, Setting::Unlocked];
        let is_off = matches!(self.setting, Some((setting, _)) if off.contains(&setting));
        let is_held = matches!(self.setting, Some((Setting::Blocked, _)));
        self.locks.is_empty() && !is_off && !is_held
    }

    /// Whether it stands as it stood at another time, whenever that was brought about.
    pub fn stands_as(&self, other: &SourceState) -> bool {
        let setting = |source: &SourceState| source.setting.map(|(setting, _)| setting);
        setting(self) == setting(other)
            && self.locks == other.locks
            && self.proof.is_some() == other.proof.is_some()
    }

    /// How to treat it while it is not proved: a blade turns, a wire is live.
    pub fn unproved(&self) -> &'static str {
        match self.declared.kind {
            SourceKind::Electrical | SourceKind::Charge => "treat as live",
            SourceKind::Motion => "it can turn at any time",
        }
    }

    /// Whether the ladder of its kind is climbed far enough to be proved.
    pub fn is_isolated(&self) -> bool {
        match self.declared.kind {
            SourceKind::Electrical => {
                matches!(self.setting, Some((Setting::Locked, _))) && !self.locks.is_empty()
            }
            SourceKind::Charge => matches!(self.setting, Some((Setting::Waited, _))),
            SourceKind::Motion => matches!(self.setting, Some((Setting::Blocked, _))),
        }
    }
}

/// The confirmed facts of one walk through one flow.
#[derive(Clone, Copy)]
pub struct RoomFacts<'a> {
    room: Option<&'a Room>,
    outcome: Option<&'a Value>,
}

impl Facts for RoomFacts<'_> {
    fn value(&self, name: &FactName) -> Option<&Value> {
        if name.as_str() == crate::flow::OUTCOME {
            return self.outcome;
        }
        let known = self.room?.facts.get(name)?;
        known.confirmed.then_some(&known.value)
    }
}
