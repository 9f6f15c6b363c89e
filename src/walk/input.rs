//! What can come in to a job.

use jiff::Timestamp;

use crate::flow::name::{ChoiceKey, SourceName};
use crate::record::entry::{PhotoRef, StepRef};
use crate::record::person::PersonId;

/// One thing that a person, or time, does to a job.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// An answering button. `revision` is that of the screen it stood on.
    Press {
        /// The screen's revision.
        revision: u64,
        /// The button's key.
        key: ChoiceKey,
    },
    /// The ticked choices, closed with the last button.
    Tick {
        /// The screen's revision.
        revision: u64,
        /// What was ticked.
        keys: Vec<ChoiceKey>,
    },
    /// Typed words or a reading.
    Text(String),
    /// A photo that is in the store, or arriving.
    Photo(PhotoRef),
    /// Keep the earlier answer of the step at hand.
    Keep,
    /// Go back one step.
    Back,
    /// Pause.
    Pause,
    /// Go on.
    Resume,
    /// Stop work.
    Stop,
    /// A supervisor lets the stopped work go on.
    LiftStop,
    /// The emergency screen was asked for.
    Emergency,
    /// Offer the job to a person, or to anyone of the crew.
    HandOver(Option<PersonId>),
    /// Take the offered job.
    TakeOver,
    /// Take the offer back.
    KeepJob,
    /// Open the job to the crew.
    Share,
    /// Close it to the crew again.
    EndSharing,
    /// Ask for the supervisor.
    CallSupervisor,
    /// Stand beside the apprentice for the step at hand.
    StandBeside,
    /// Leave it locked out: begins the questions for an owner and a date.
    LeaveLockedOut,
    /// Not leave it after all.
    KeepWorking,
    /// Hang an own lock beside the primary person's on everything that is locked.
    HangOwnLock,
    /// Take the own locks off, after a handover or in a group lockout.
    TakeOwnLockOff,
    /// A supervisor takes off the lock of a person who is away; all three conditions of
    /// 29 CFR 1910.147(e)(3) must hold.
    TakeLockOff {
        /// The source.
        source: SourceName,
        /// Whose lock it is.
        owner: PersonId,
        /// Verified that the person is not at the facility.
        not_here: bool,
        /// All reasonable efforts made to reach the person.
        tried_to_reach: bool,
        /// The person will know before resuming work.
        will_know: bool,
    },
    /// A wait is over. Late or twice is harmless.
    WaitOver {
        /// The end of the wait that it belongs to.
        until: Timestamp,
    },
    /// It is time to ask whether the person is all right. Late or twice is harmless.
    CheckInDue {
        /// The moment that it belongs to.
        due: Timestamp,
    },
    /// The person wants to be asked now and then.
    WantCheckIns,
    /// The person is all right.
    AmWell,
    /// The person is out of the cold: nobody needs to ask any more.
    AmOut,
    /// Somebody else reached the person, who is all right.
    FoundWell,
    /// The process restarted, or its clock jumped: safety waits begin again.
    ClockUncertain,
    /// The process restarted, and its clock shows a time before the last entry: nobody knows how
    /// long nobody did anything, so no proof counts.
    SilenceUncertain,
    /// Hand the finished job in.
    HandIn,
    /// A supervisor accepts the job that was handed in.
    Accept {
        /// A remark; may be empty.
        remark: String,
    },
    /// A supervisor sends the job back.
    SendBack {
        /// Why.
        remark: String,
        /// The steps that are to be done again; none leaves it to the remark.
        steps: Vec<StepRef>,
    },
}
