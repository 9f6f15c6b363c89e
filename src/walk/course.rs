//! The course of a job around its steps: stopped, left, handed over, handed in, reviewed; and
//! locks that come off outside of a step.

use super::answer::clean;
use super::decide::not_now;
use super::draft::Draft;
use super::group_lockout;
use super::input::Input;
use super::redo;
use super::refusal::Refusal;
use super::state::{Mode, Review};
use crate::flow::model::{Role, Setting};
use crate::record::check_in::Why;
use crate::record::entry::{VoidReason, What};

/// The most characters of a remark or a reason.
const WORDS_MAX: usize = 500;

/// A sent-back job is not handed in before its steps are done again.
const REDO_FIRST: &str =
    "Steps of this job were sent back. Go on with the job: you are led to them.";

impl Draft<'_> {
    pub(super) fn stopped(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::Text(text) => {
                self.who()?;
                let why = words(text)?;
                self.push(What::StopExplained { why });
                Ok(())
            }
            Input::LiftStop => {
                self.only_role(Role::Supervisor)?;
                self.void_all(VoidReason::LongPause);
                self.push(What::StopLifted);
                self.settle()
            }
            Input::LeaveLockedOut => {
                self.only_holder()?;
                self.push(What::LeaveAsked);
                Ok(())
            }
            Input::Stop => Ok(()),
            _ => Err(not_now(
                "Work is stopped. A supervisor lets it go on, or you leave it with an owner.",
            )),
        }
    }

    pub(super) fn leaving(&mut self, input: &Input) -> Result<(), Refusal> {
        self.only_holder()?;
        let Mode::Leaving { owner, .. } = self.state.mode.clone() else {
            return Ok(());
        };
        match (input, owner) {
            (Input::KeepWorking, _) => {
                self.push(What::LeaveWithdrawn);
                self.go_on_walking()
            }
            (Input::Stop, _) => {
                self.push(What::Stopped);
                Ok(())
            }
            (Input::Text(text), None) => {
                let owner = words(text)?;
                self.push(What::LeaveOwner { owner });
                Ok(())
            }
            (Input::Text(text), Some(owner)) => {
                let again = words(text)?;
                self.push(What::LeftLockedOut { owner, again });
                Ok(())
            }
            _ => Err(Refusal::WrongShape("Type it in a few words.".to_owned())),
        }
    }

    pub(super) fn left(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::Resume if redo::is_wanted(&self.state) => self.take_up(),
            Input::Resume if self.state.review != Review::Accepted => {
                self.only_holder()?;
                self.void_all(VoidReason::LongPause);
                self.push(What::Resumed);
                self.settle()
            }
            _ => Err(not_now(
                "This job was left with an owner. Go on with it, or hand it in.",
            )),
        }
    }

    pub(super) fn finished(&mut self, input: &Input) -> Result<(), Refusal> {
        match (input, &self.state.review) {
            (Input::Resume, _) if redo::is_wanted(&self.state) => self.take_up(),
            _ if redo::is_wanted(&self.state) => Err(not_now(REDO_FIRST)),
            (Input::Back, Review::SentBack { .. }) => {
                self.only_holder()?;
                let Some(last) = self.state.trail.last().cloned() else {
                    return Err(Refusal::NoWayBack);
                };
                self.void_all(VoidReason::LongPause);
                self.push(What::Resumed);
                self.push(What::WentBack {
                    over: 1,
                    ask_state: last.set,
                });
                self.settle()
            }
            (_, Review::None | Review::SentBack { .. }) => {
                Err(not_now("This job is walked to its end. Hand it in."))
            }
            (_, Review::HandedIn) => Err(not_now("This job is handed in. A supervisor reads it.")),
            (_, Review::Accepted) => Err(not_now("This job is accepted. Nothing is left to do.")),
        }
    }

    pub(super) fn hand_over(&mut self, input: &Input) -> Result<(), Refusal> {
        if !self.state.is_open() {
            return Err(not_now("This job is over. There is nothing to hand over."));
        }
        match input {
            Input::HandOver(to) => {
                let who = self.only_holder()?;
                if *to == Some(who) {
                    return Err(not_now("You have this job already."));
                }
                self.push(What::HandoverOffered { to: *to });
                Ok(())
            }
            Input::KeepJob => {
                self.only_holder()?;
                if self.state.offer.is_some() {
                    self.push(What::HandoverWithdrawn);
                }
                self.go_on_walking()
            }
            _ => self.take_over(),
        }
    }

    fn take_over(&mut self) -> Result<(), Refusal> {
        let who = self.who()?;
        let Some(offer) = self.state.offer.clone() else {
            return Err(not_now(
                "This job is not offered. Ask its holder to hand it over.",
            ));
        };
        if who == self.state.holder || offer.to.is_some_and(|to| to != who) {
            return Err(not_now("This job is offered to somebody else."));
        }
        self.push(What::HandoverTaken);
        self.hand_check_ins_over();
        self.void_all(VoidReason::Handover);
        self.go_on_walking()
    }

    /// After a handover the outgoing person's locks come off, each only once the next person's
    /// hangs beside it: no moment without protection (29 CFR 1910.147(f)(4)). At the end of the way
    /// back, where nobody reaches in any more, it comes off without.
    pub(super) fn take_own_locks_off(&mut self) -> Result<(), Refusal> {
        let who = self.who()?;
        let mut sources = self.state.sources.values();
        if !sources.any(|source| source.locks.contains(&who)) {
            return Err(Refusal::LockRule("No lock of yours hangs here.".to_owned()));
        }
        if who == self.state.holder {
            return Err(Refusal::LockRule(
                "This job is in your hands. Your lock comes off in its own step.".to_owned(),
            ));
        }
        let may = group_lockout::may_come_off(self.edition, &self.state, who);
        if may.is_empty() {
            return Err(Refusal::LockRule(
                "Wait. The next person's lock goes on before yours comes off, or the job comes to \
                 the step that takes it off."
                    .to_owned(),
            ));
        }
        for source in may {
            self.push(What::OwnLockOff {
                source: source.clone(),
            });
            self.void_after(&source, Setting::Unlocked);
        }
        self.go_on_walking()
    }

    /// Whoever has their hands in is led to the proof at once, not at their next answer; and a
    /// step at which nothing is left to do is passed over.
    pub(super) fn go_on_walking(&mut self) -> Result<(), Refusal> {
        match self.state.mode {
            Mode::Walking if self.state.offer.is_none() => self.settle(),
            _ => Ok(()),
        }
    }

    /// The exception of 29 CFR 1910.147(e)(3): all of its conditions, and a supervisor.
    pub(super) fn take_lock_off(&mut self, input: &Input) -> Result<(), Refusal> {
        let Input::TakeLockOff {
            source,
            owner,
            not_here,
            tried_to_reach,
            will_know,
        } = input
        else {
            return Err(Refusal::Stale);
        };
        let who = self.only_role(Role::Supervisor)?;
        let Some(state) = self.state.sources.get(source) else {
            return Err(Refusal::Stale);
        };
        let label = &state.declared.label;
        if who == *owner || !state.locks.contains(owner) {
            return Err(Refusal::LockRule(format!(
                "{label}: that person's lock is not on it, or it is your own."
            )));
        }
        if !(*not_here && *tried_to_reach && *will_know) {
            return Err(Refusal::LockRule(format!(
                "{label}: another person's lock comes off only when they are not on site, every \
                 effort was made to reach them, and they will know before they work again."
            )));
        }
        self.push(What::LockTakenOff {
            source: source.clone(),
            owner: *owner,
        });
        self.void(vec![source.clone()], VoidReason::LockOff);
        self.go_on_walking()
    }

    pub(super) fn review(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::HandIn => self.hand_in(),
            Input::Accept { remark } => {
                self.may_review()?;
                self.push(What::Accepted {
                    remark: clean(remark),
                });
                Ok(())
            }
            Input::SendBack { remark, steps } => {
                self.may_review()?;
                let remark = words(remark)?;
                let steps = self.chosen_steps(steps)?;
                self.push(What::SentBack { remark, steps });
                Ok(())
            }
            _ => Err(Refusal::Stale),
        }
    }

    fn hand_in(&mut self) -> Result<(), Refusal> {
        self.only_holder()?;
        if self.state.is_open() {
            return Err(not_now(
                "This job is not at its end. Walk it to the end, or leave it.",
            ));
        }
        if self.state.pins.training {
            return Err(not_now("This is a TRAINING walk. It cannot be handed in."));
        }
        if redo::is_wanted(&self.state) {
            return Err(not_now(REDO_FIRST));
        }
        match self.state.review {
            Review::None | Review::SentBack { .. } => {
                self.end_check_ins(Why::HandedIn);
                self.push(What::HandedIn);
                Ok(())
            }
            Review::HandedIn => Ok(()),
            Review::Accepted => Err(not_now("This job is accepted already.")),
        }
    }

    fn may_review(&self) -> Result<(), Refusal> {
        let who = self.only_role(Role::Supervisor)?;
        if self.state.holders.contains(&who) {
            return Err(not_now(
                "Nobody reviews their own job. Ask another supervisor.",
            ));
        }
        if self.state.review != Review::HandedIn {
            return Err(not_now("This job is not waiting for review."));
        }
        Ok(())
    }
}

fn words(text: &str) -> Result<String, Refusal> {
    let text = clean(text);
    if text.is_empty() {
        return Err(Refusal::WrongShape("I need a few words here.".to_owned()));
    }
    if text.chars().count() > WORDS_MAX {
        return Err(Refusal::WrongShape(format!(
            "That is too long; {WORDS_MAX} characters fit here. Say it shorter."
        )));
    }
    Ok(text)
}
