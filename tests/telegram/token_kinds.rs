//! Every kind of button and of action, for tests that must miss none.

use fanwright::channel::telegram::token::Token;
use fanwright::walk::prompt::Action;

/// A new kind of button does not compile here before it is named; then it goes into the lists of
/// `outsiders`.
pub(super) fn is_in_the_list(token: Token) -> bool {
    match token {
        Token::Choose(..)
        | Token::Toggle(..)
        | Token::Ticked(..)
        | Token::Keep(_)
        | Token::Do(..)
        | Token::More(..)
        | Token::Close(..)
        | Token::Show(_)
        | Token::Begin(..)
        | Token::Add(_)
        | Token::New(_)
        | Token::Which(_)
        | Token::Diagram(_)
        | Token::HandOver(..)
        | Token::Roles(..)
        | Token::Again(..)
        | Token::Here(_)
        | Token::Shown(..)
        | Token::LockOff(..)
        | Token::Shared(..)
        | Token::Try(..)
        | Token::Locate(..)
        | Token::Evaporator(_)
        | Token::Withdraw(_)
        | Token::Photos(_) => true,
    }
}

/// What people try to do on a screen. A new action does not compile here before it is named; then
/// it goes into the list, too.
pub(super) fn actions() -> [Action; 25] {
    let is_named = |action: Action| match action {
        Action::Back
        | Action::Pause
        | Action::Resume
        | Action::Stop
        | Action::Emergency
        | Action::HandOver
        | Action::TakeOver
        | Action::KeepJob
        | Action::CallSupervisor
        | Action::Why
        | Action::How
        | Action::Working
        | Action::StandBeside
        | Action::LiftStop
        | Action::LeaveLockedOut
        | Action::KeepWorking
        | Action::HangOwnLock
        | Action::TakeOwnLockOff
        | Action::HandIn
        | Action::Share
        | Action::EndSharing
        | Action::CheckOnMe
        | Action::AmWell
        | Action::AmOut
        | Action::FoundWell => true,
    };
    let all = [
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
        Action::HangOwnLock,
        Action::TakeOwnLockOff,
        Action::HandIn,
        Action::Share,
        Action::EndSharing,
        Action::CheckOnMe,
        Action::AmWell,
        Action::AmOut,
        Action::FoundWell,
    ];
    assert!(all.into_iter().all(is_named));
    all
}
