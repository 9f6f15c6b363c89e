//! The ladder of each kind of energy source, as the checker follows it: its states as numbers,
//! what a step does to them, and what is wrong with a step in them.
//!
//! It is never kinder than the engine. Where the engine keeps what was done to a fed source when
//! its feeder is switched on, the checker wants it done again.

use crate::flow::model::{Setting, SourceKind};

/// The source is not there at all.
pub(super) const ABSENT: u8 = 0;
/// The number of states of any kind.
pub(super) const STATES: usize = 17;

const OPEN: u8 = 1;
const LOCK: u8 = 2;
/// The last that was set is the lock.
const HELD: u8 = 4;
const PROVED: u8 = 8;

const WAITED: u8 = 1;

const STOPPED: u8 = 1;
/// Something still holds it, whether or not that counts as a proof.
const WEDGED: u8 = 2;

/// Something wrong with a source at a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::check) enum Fault {
    /// Hands go in and it is not proved, or not locked.
    Touched,
    /// A lock goes on what is not open.
    LockedBeforeOpened,
    /// It is tested before the lock hangs.
    ProvedBeforeLocked,
    /// A charge is tested before its time was waited out.
    ProvedBeforeWaited,
    /// Something is blocked before it stands still.
    BlockedBeforeStopped,
    /// A lock comes off that does not hang.
    UnlockedWithoutLock,
    /// It is switched on under a lock.
    ClosedUnderLock,
    /// It is switched on and was not off.
    ClosedWithoutOpening,
    /// What drives it is switched on while it is blocked.
    DrivenWhileBlocked,
    /// The job ends while it is off and anybody may switch it on.
    LeftOpen,
    /// The job ends while a lock hangs.
    LeftLocked,
}

const FAULTS: [Fault; 11] = [
    Fault::Touched,
    Fault::LockedBeforeOpened,
    Fault::ProvedBeforeLocked,
    Fault::ProvedBeforeWaited,
    Fault::BlockedBeforeStopped,
    Fault::UnlockedWithoutLock,
    Fault::ClosedUnderLock,
    Fault::ClosedWithoutOpening,
    Fault::DrivenWhileBlocked,
    Fault::LeftOpen,
    Fault::LeftLocked,
];

impl Fault {
    /// The fault of a number.
    pub(in crate::check) fn numbered(number: u8) -> Fault {
        FAULTS
            .get(usize::from(number))
            .copied()
            .unwrap_or(Fault::Touched)
    }

    /// Its number.
    pub(super) fn number(self) -> u8 {
        let at = FAULTS.iter().position(|fault| *fault == self).unwrap_or(0);
        u8::try_from(at).unwrap_or(0)
    }
}

/// What a step does to one source, all at once.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Done {
    /// What it sets.
    pub(super) sets: Option<Setting>,
    /// What it sets on a source that feeds this one.
    pub(super) feeder: Option<Setting>,
    /// Whether it tests this one.
    pub(super) tests: bool,
    /// Whether hands go in.
    pub(super) touches: bool,
    /// Whether it ends the job other than left locked out.
    pub(super) ends: bool,
}

/// The state in which everything is present and as power left it.
pub(super) fn live() -> u8 {
    number(0)
}

fn number(bits: u8) -> u8 {
    bits + 1
}

/// What is wrong with a step in a state, and the state with which to go on as if it were right.
pub(super) fn fault(kind: SourceKind, state: u8, done: Done) -> Option<(Fault, u8)> {
    if state == ABSENT {
        return None;
    }
    let bits = state - 1;
    let has = |wanted: u8| bits & wanted == wanted;
    let safe = match kind {
        SourceKind::Electrical => OPEN | LOCK | HELD | PROVED,
        SourceKind::Charge => WAITED | PROVED,
        SourceKind::Motion => STOPPED | WEDGED | PROVED,
    };
    let found = if done.touches && !has(safe) {
        Some((Fault::Touched, bits | safe))
    } else {
        match (kind, done.sets) {
            (SourceKind::Electrical, Some(Setting::Locked)) if !has(OPEN) => {
                Some((Fault::LockedBeforeOpened, bits | OPEN))
            }
            (SourceKind::Electrical, Some(Setting::Unlocked)) if !has(LOCK) => {
                Some((Fault::UnlockedWithoutLock, bits | OPEN | LOCK))
            }
            (SourceKind::Electrical, Some(Setting::Closed)) if has(LOCK) => {
                Some((Fault::ClosedUnderLock, bits & !LOCK))
            }
            (SourceKind::Electrical, Some(Setting::Closed)) if !has(OPEN) => {
                Some((Fault::ClosedWithoutOpening, bits | OPEN))
            }
            (SourceKind::Motion, _) if done.feeder == Some(Setting::Closed) && has(WEDGED) => {
                Some((Fault::DrivenWhileBlocked, 0))
            }
            (SourceKind::Motion, Some(Setting::Blocked)) if !has(STOPPED) => {
                Some((Fault::BlockedBeforeStopped, bits | STOPPED))
            }
            (SourceKind::Electrical, _) if done.tests && !has(OPEN | LOCK | HELD) => {
                Some((Fault::ProvedBeforeLocked, bits | OPEN | LOCK | HELD))
            }
            (SourceKind::Charge, _) if done.tests && !has(WAITED) => {
                Some((Fault::ProvedBeforeWaited, bits | WAITED))
            }
            (SourceKind::Electrical, _) if done.ends && has(LOCK) => Some((Fault::LeftLocked, 0)),
            (SourceKind::Electrical, _) if done.ends && has(OPEN) => Some((Fault::LeftOpen, 0)),
            _ => None,
        }
    };
    found.map(|(fault, bits)| (fault, number(bits)))
}

/// The state after a step was answered; `passed` is false where something was live.
pub(super) fn after(kind: SourceKind, state: u8, done: Done, passed: bool) -> u8 {
    if state == ABSENT {
        return ABSENT;
    }
    let mut bits = state - 1;
    match (kind, done.sets) {
        (SourceKind::Electrical, Some(Setting::Opened)) => bits = (bits | OPEN) & !(HELD | PROVED),
        (SourceKind::Electrical, Some(Setting::Locked)) => bits |= LOCK | HELD,
        (SourceKind::Electrical, Some(Setting::Unlocked)) => bits &= !(LOCK | HELD | PROVED),
        (SourceKind::Electrical, Some(Setting::Closed)) => bits = 0,
        (SourceKind::Charge, Some(Setting::Waited)) => bits = WAITED,
        (SourceKind::Motion, Some(Setting::Stopped)) => bits |= STOPPED,
        (SourceKind::Motion, Some(Setting::Blocked)) => bits |= WEDGED | PROVED,
        (SourceKind::Motion, Some(Setting::Freed)) => bits = 0,
        _ => {}
    }
    match done.feeder {
        Some(Setting::Opened) if kind == SourceKind::Motion => bits &= WEDGED,
        Some(Setting::Closed | Setting::Opened) => bits = 0,
        Some(Setting::Unlocked) => bits &= !PROVED,
        _ => {}
    }
    if done.tests {
        bits = if passed {
            bits | PROVED
        } else {
            bits & !PROVED
        };
    }
    number(bits)
}

/// A state in words, as in "which is … here".
pub(super) fn words(kind: SourceKind, state: u8) -> &'static str {
    if state == ABSENT {
        return "not there";
    }
    let bits = state - 1;
    let has = |wanted: u8| bits & wanted == wanted;
    match kind {
        SourceKind::Electrical if has(OPEN | LOCK | HELD | PROVED) => "locked and proved",
        SourceKind::Electrical if has(OPEN | LOCK | HELD) => "only locked, not proved",
        SourceKind::Electrical if has(OPEN | PROVED) => "tested, but without a lock",
        SourceKind::Electrical if has(OPEN | LOCK) => "opened anew under its lock, not proved",
        SourceKind::Electrical if has(OPEN) => "only open, without a lock",
        SourceKind::Electrical => "live",
        SourceKind::Charge if has(WAITED | PROVED) => "waited out and measured",
        SourceKind::Charge if has(WAITED) => "only waited out, not measured",
        SourceKind::Charge => "still charged",
        SourceKind::Motion if has(STOPPED | PROVED) => "stopped and blocked",
        SourceKind::Motion if has(STOPPED) => "only stopped, not blocked",
        SourceKind::Motion => "free to move",
    }
}
