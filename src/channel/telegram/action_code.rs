//! Actions as a button carries them: a byte each, for good.

use crate::walk::prompt::Action;

/// The code of an action; one is never given to another.
pub(super) fn code_of(action: Action) -> u8 {
    match action {
        Action::Back => 1,
        Action::Pause => 2,
        Action::Resume => 3,
        Action::Stop => 4,
        Action::Emergency => 5,
        Action::HandOver => 6,
        Action::TakeOver => 7,
        Action::KeepJob => 8,
        Action::CallSupervisor => 9,
        Action::Why => 10,
        Action::How => 11,
        Action::Working => 12,
        Action::StandBeside => 13,
        Action::LiftStop => 14,
        Action::LeaveLockedOut => 15,
        Action::KeepWorking => 16,
        Action::TakeOwnLockOff => 17,
        Action::HandIn => 18,
        Action::EndSharing => 19,
        Action::CheckOnMe => 20,
        Action::AmWell => 21,
        Action::AmOut => 22,
        Action::FoundWell => 23,
        Action::HangOwnLock => 24,
        Action::Share => 25,
    }
}

/// In the order of their codes, from 1.
pub(super) const ACTIONS: [Action; 25] = [
    Action::Back,
    Action::Pause,
    Action::Resume,
    Action::Stop,
    Action::Emergency,
    Action::HandOver,
    Action::TakeOver,
    Action::KeepJob,
    Action::CallSupervisor,
    Action::Why,
    Action::How,
    Action::Working,
    Action::StandBeside,
    Action::LiftStop,
    Action::LeaveLockedOut,
    Action::KeepWorking,
    Action::TakeOwnLockOff,
    Action::HandIn,
    Action::EndSharing,
    Action::CheckOnMe,
    Action::AmWell,
    Action::AmOut,
    Action::FoundWell,
    Action::HangOwnLock,
    Action::Share,
];

/// The action of a code.
pub(super) fn action_of(code: u8) -> Option<Action> {
    ACTIONS.get(usize::from(code).checked_sub(1)?).copied()
}
