//! The entries of a job: outcomes, never instructions.
//!
//! An entry says what happened, with every value that followed from it, so that folding entries
//! never evaluates an expression and a later fix cannot rewrite an old record.

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::before::Before;
use super::chain::Head;
use super::check_in::CheckIn;
use super::person::PersonId;
use super::seal::Seal;
use crate::flow::model::{Role, Setting};
use crate::flow::name::{FactName, FlowName, OutcomeName, SourceName, StepName};
use crate::trade::formula::{Arguments, Results, Value};
use crate::trade::quantity::{Quantity, is_within};

pub use super::answer::{Answer, PhotoRef, TypedReading};
pub use super::sign_off::SignOff;
pub use super::step_ref::StepRef;

/// The version of the entry format that this program writes.
///
/// Since 2 a record also holds its seals. Since 3 a photo also says how it looks, a job may be
/// sent back with the steps that are to be done again, and the walk may go to one of them. Since 4
/// it is said on which sign-offs an answer stands, which steps were asked as one list, what was
/// known of the evaporator before, and which of it was looked at again and is still so; a job may
/// be open to the crew, a record also holds check-ins, and locks may go on beside that of the
/// primary person.
pub const ENTRY_FORMAT: u16 = 4;

/// One entry of a job's record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// The format, [`ENTRY_FORMAT`] when written.
    pub v: u16,
    /// When it happened; never before the entry before it.
    pub at: Timestamp,
    /// Who did it; nobody for time itself.
    pub who: Option<PersonId>,
    /// The channel it came through.
    pub channel: Channel,
    /// What happened.
    pub what: What,
}

/// Where people talk to the bot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// A Telegram chat.
    Telegram,
    /// The browser page.
    Browser,
    /// The terminal.
    Terminal,
    /// The server itself: a timer, a restart.
    Server,
    /// Another program, in the name of the supervisor who made its token.
    Api,
}

/// What happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum What {
    /// The job began.
    Begun {
        /// Pins of the job.
        pins: Pins,
        /// Whose job it is at first.
        holder: PersonId,
        /// The sources of the root flow, with what is needed to show and judge them.
        sources: Vec<SourceEntry>,
    },
    /// The walk went to a step of the flow on top.
    Went {
        /// The step.
        step: StepName,
    },
    /// Another flow was entered.
    Entered {
        /// The flow.
        flow: FlowName,
        /// Which time this flow is walked in this job, from 1.
        instance: u32,
        /// Whether it interrupts a touching step to prove a source again.
        reproof: bool,
        /// The facts that it was given.
        facts: BTreeMap<FactName, Value>,
        /// Its source names, each with the root's source that it stands for.
        sources: BTreeMap<SourceName, SourceName>,
    },
    /// The flow on top ended and the walk came back to its runner.
    CameBack {
        /// How it ended.
        outcome: OutcomeName,
        /// What its last step said.
        said: String,
        /// The runner's facts that took a value.
        facts: BTreeMap<FactName, Value>,
    },
    /// A step was answered.
    Answered {
        /// The step.
        step: StepName,
        /// The answer.
        answer: Answer,
        /// The fact that it became, if any.
        fact: Option<FactName>,
        /// Whether it changes an earlier answer of the same step.
        amends: bool,
        /// The qualified person who stood beside an apprentice, if that was needed.
        beside: Option<PersonId>,
        /// What a reading was expected to be.
        band: Option<Band>,
    },
    /// A reading outside the expected range was kept, and asked for once more.
    ReadAgain {
        /// The step.
        step: StepName,
        /// The first reading.
        reading: TypedReading,
        /// What was expected.
        band: Band,
    },
    /// A formula was worked out for a step.
    WorkedOut {
        /// The step.
        step: StepName,
        /// Its name.
        formula: String,
        /// Its version.
        version: u16,
        /// What went in.
        inputs: Arguments,
        /// What came out, or why nothing did.
        results: Result<Results, String>,
        /// The facts that took a result.
        facts: BTreeMap<FactName, Value>,
    },
    /// A wait began.
    WaitBegan {
        /// The step.
        step: StepName,
        /// When it is over.
        until: Timestamp,
    },
    /// A wait is over.
    WaitOver {
        /// The step.
        step: StepName,
    },
    /// A source changed its state.
    SourceSet {
        /// The root's name of the source.
        source: SourceName,
        /// What was done.
        setting: Setting,
    },
    /// One part of a proof was answered.
    ProofPart {
        /// The step.
        step: StepName,
        /// Which part, from 0.
        part: u16,
        /// What was asked, in words.
        asked: String,
        /// The answer.
        answer: Answer,
    },
    /// A proof failed or had to begin again.
    ProofFailed {
        /// The step.
        step: StepName,
        /// Why, in words.
        why: ProofFailure,
    },
    /// Sources were proved.
    Proved {
        /// The root's names of the sources.
        sources: Vec<SourceName>,
        /// The instrument used.
        instrument: String,
    },
    /// Proofs became void.
    ProofVoided {
        /// The root's names of the sources.
        sources: Vec<SourceName>,
        /// Why.
        why: VoidReason,
    },
    /// Answers given after a changed one wait to be confirmed.
    Unconfirmed {
        /// Them.
        facts: Vec<FactRef>,
    },
    /// Somebody asked to go back; the walk went to an earlier step.
    WentBack {
        /// How many walked steps were stepped over, at least 1.
        over: u16,
        /// Whether a source was set on the way, so that the present state must be asked for.
        ask_state: bool,
    },
    /// The present state of the sources was confirmed as recorded.
    StateConfirmed,
    /// A hold point was released.
    Released {
        /// The step.
        step: StepName,
        /// In which role.
        role: Role,
    },
    /// A qualified person confirmed to stand beside the apprentice for the step at hand.
    StandsBeside {
        /// The step.
        step: StepName,
    },
    /// These steps were shown as one list, from the moment at which the walk came to the first.
    AskedTogether {
        /// The steps, of the flow at hand.
        steps: Vec<StepName>,
    },
    /// What follows at the step at hand stands on these: whoever answers it, or stands beside the
    /// one who does, has shown what the step needs.
    StoodOn {
        /// The step.
        step: StepName,
        /// The sign-offs, one for each thing that the step needs.
        sign_offs: Vec<SignOff>,
    },
    /// What accepted jobs recorded of the evaporator's nameplate: it is offered, never taken by
    /// itself.
    KnownBefore {
        /// Each fact with the answer of then.
        facts: Vec<Before>,
    },
    /// The answer that follows was looked at again, and is as an earlier job recorded it.
    StillSo {
        /// The step.
        step: StepName,
        /// The fact.
        fact: FactName,
        /// When it was recorded.
        at: Timestamp,
        /// In which job, as text.
        job: String,
    },
    /// Something about asking the person whether they are all right.
    CheckIn {
        /// What.
        of: CheckIn,
    },
    /// The job was paused.
    Paused,
    /// The job went on.
    Resumed,
    /// Work was stopped.
    Stopped,
    /// Why work was stopped.
    StopExplained {
        /// In the person's words.
        why: String,
    },
    /// A supervisor let the stopped work go on.
    StopLifted,
    /// The emergency text was shown.
    Emergency,
    /// The holder offered the job to another person.
    HandoverOffered {
        /// To whom; nobody means anyone of the crew.
        to: Option<PersonId>,
    },
    /// The other person took the job.
    HandoverTaken,
    /// The offer was taken back.
    HandoverWithdrawn,
    /// A person's own lock went on outside of a step, beside that of the primary person.
    OwnLockOn {
        /// The root's name of the source.
        source: SourceName,
    },
    /// A person's own lock came off outside of a step: after a handover, or in a group lockout.
    OwnLockOff {
        /// The root's name of the source.
        source: SourceName,
    },
    /// A supervisor took off the lock of a person who is away.
    LockTakenOff {
        /// The root's name of the source.
        source: SourceName,
        /// Whose lock it was.
        owner: PersonId,
    },
    /// A supervisor was asked for.
    SupervisorCalled,
    /// The walk ended.
    Finished {
        /// How.
        outcome: OutcomeName,
        /// Its label.
        label: String,
    },
    /// Somebody asked to leave the job as it is, with an owner.
    LeaveAsked,
    /// Somebody chose not to leave it after all.
    LeaveWithdrawn,
    /// Who owns what is open.
    LeaveOwner {
        /// In words.
        owner: String,
    },
    /// The job was left locked out, with somebody who owns what is open.
    LeftLockedOut {
        /// Who owns it, in words.
        owner: String,
        /// When it will be looked at again, in words.
        again: String,
    },
    /// The finished job was handed in for review.
    HandedIn,
    /// A supervisor accepted the job.
    Accepted {
        /// A remark.
        remark: String,
    },
    /// A supervisor sent the job back.
    SentBack {
        /// Why.
        remark: String,
        /// The steps that are to be done again, in the order in which they were walked; none
        /// means that the technician finds out from the remark.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        steps: Vec<StepRef>,
    },
    /// The walk went to one answered step, to do it again by itself. What was walked after it
    /// is kept aside until the answer shows whether it still stands.
    WentTo {
        /// How many walked steps were stepped over, this one too; at least 1.
        over: u16,
        /// Whether the present state of the sources must be asked for.
        ask_state: bool,
    },
    /// The step was done again, and nothing follows from it but what was walked before: what was
    /// kept aside stands.
    WayStands {
        /// Whether no other step is left to do again, so that the job is at its end as before.
        at_end: bool,
    },
    /// The job was opened to the crew: whoever may answer a step answers it.
    Shared,
    /// It is open to the crew no more.
    SharingEnded,
    /// The server sealed the record as it stood before this entry, at the time of this entry.
    Sealed {
        /// The entry before this one.
        head: Head,
        /// The seal over it.
        seal: Seal,
    },
}

/// A fact of one walk through one flow.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FactRef {
    /// The flow.
    pub flow: FlowName,
    /// Which time it was walked, from 1.
    pub instance: u32,
    /// The fact.
    pub fact: FactName,
}

/// What a reading was expected to be, ends included.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// The least.
    pub low: Quantity,
    /// The most.
    pub high: Quantity,
}

impl Band {
    /// Whether `reading` lies inside; the ends do, give or take rounding.
    pub fn holds(&self, reading: Quantity) -> bool {
        is_within(reading.si, self.low.si, self.high.si)
    }
}

/// What a job is pinned to from its start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pins {
    /// The root flow.
    pub flow: FlowName,
    /// The edition's hash, in hexadecimal.
    pub edition: String,
    /// The crew, as text.
    pub crew: String,
    /// The evaporator, as text.
    pub evaporator: String,
    /// The kit's revision.
    pub kit: String,
    /// The speed book's revision.
    pub speed_book: String,
    /// A training walk: marked on every screen, never handed in.
    pub training: bool,
}

/// A source of the root flow, as pinned at the start.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SourceEntry {
    /// Its name.
    pub name: SourceName,
    /// Its kind.
    pub kind: crate::flow::model::SourceKind,
    /// What people call it.
    pub label: String,
    /// The source that feeds it.
    pub fed_by: Option<SourceName>,
}

/// Why a proof did not pass.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ProofFailure {
    /// The meter's rating is below what the circuit needs, or its leads are damaged.
    InstrumentUnfit {
        /// In words.
        why: String,
    },
    /// The meter does not show a known live source before the test.
    KnownSourceBefore {
        /// What it read.
        read: Quantity,
    },
    /// The meter does not show the known live source after the test: all readings are void.
    KnownSourceAfter {
        /// What it read.
        read: Quantity,
    },
    /// A tested point is not dead.
    NotDead {
        /// The point.
        point: String,
        /// What it read.
        read: Quantity,
    },
}

/// Why a proof became void.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VoidReason {
    /// Another person took over.
    Handover,
    /// A pause, or a silence, longer than the flow allows.
    LongPause,
    /// The person stepped back across it.
    SteppedBack,
    /// The source, or the one that feeds it, was re-energised or freed.
    Reenergised,
    /// The lock that protected it came off.
    LockOff,
    /// Something was found live.
    FoundLive,
    /// The state at the panel is no longer as recorded.
    StateChanged,
}
