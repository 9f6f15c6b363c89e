//! What one input does to a job: entries, or a refusal.

use super::check_ins::must_agree;
use super::context::Context;
use super::draft::Draft;
use super::input::Input;
use super::redo;
use super::refusal::Refusal;
use super::state::{Mode, State};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Role};
use crate::record::entry::{ENTRY_FORMAT, Entry, Pins, SourceEntry, VoidReason, What};
use crate::record::person::PersonId;

/// Begins a job in `holder`'s hands and goes to its first screen.
///
/// # Errors
/// A flow that cannot get to a first screen.
pub fn begin(
    edition: &Edition,
    pins: Pins,
    holder: PersonId,
    context: &Context<'_>,
) -> Result<Vec<Entry>, Refusal> {
    let Some(root) = edition.root_flow() else {
        return Err(Refusal::NotNow(
            "This edition has no flow to begin.".to_owned(),
        ));
    };
    let sources = root.energy.iter().map(|(name, source)| SourceEntry {
        name: name.clone(),
        kind: source.kind,
        label: source.label.clone(),
        fed_by: source.fed_by.clone(),
    });
    let first = Entry {
        v: ENTRY_FORMAT,
        at: context.now,
        who: context.who,
        channel: context.channel,
        what: What::Begun {
            pins,
            holder,
            sources: sources.collect(),
        },
    };
    let Some(state) = State::fold([&first]) else {
        return Err(Refusal::NotNow("This job cannot begin.".to_owned()));
    };
    let mut draft = Draft::new(edition, &state, context);
    draft.push(What::Entered {
        flow: root.name.clone(),
        instance: 1,
        reproof: false,
        facts: Default::default(),
        sources: root
            .energy
            .keys()
            .map(|name| (name.clone(), name.clone()))
            .collect(),
    });
    draft.push(What::Went {
        step: root.start.clone(),
    });
    draft.settle()?;
    let mut entries = vec![first];
    entries.append(&mut draft.entries);
    Ok(entries)
}

/// What an input does.
#[derive(Clone, Debug, PartialEq)]
pub struct Decided {
    /// What happens. None at all means: no effect, and nothing to complain about.
    pub entries: Vec<Entry>,
    /// The state with the entries folded in.
    pub after: State,
}

/// Decides what `input` does.
///
/// # Errors
/// A refusal, with one friendly sentence; the job is unchanged.
pub fn decide(
    edition: &Edition,
    state: &State,
    input: &Input,
    context: &Context<'_>,
) -> Result<Vec<Entry>, Refusal> {
    decide_and_apply(edition, state, input, context).map(|decided| decided.entries)
}

/// Decides what `input` does, and gives the state after it, which the engine has at hand anyway.
///
/// # Errors
/// A refusal, with one friendly sentence; the job is unchanged.
pub fn decide_and_apply(
    edition: &Edition,
    state: &State,
    input: &Input,
    context: &Context<'_>,
) -> Result<Decided, Refusal> {
    let mut draft = Draft::new(edition, state, context);
    draft.take(input)?;
    Ok(Decided {
        entries: draft.entries,
        after: draft.state,
    })
}

impl Draft<'_> {
    fn take(&mut self, input: &Input) -> Result<(), Refusal> {
        if self.check_in(input)? {
            return Ok(());
        }
        if let Input::Press { revision, .. } | Input::Tick { revision, .. } = input
            && *revision != self.state.revision
        {
            return Err(Refusal::Stale);
        }
        let was_silent = self.void_after_silence();
        self.act(input)?;
        match was_silent {
            true => self.go_on_walking(),
            false => Ok(()),
        }
    }

    fn act(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::WaitOver { until } => self.wait_over(*until),
            Input::ClockUncertain => self.clock_uncertain()?,
            Input::SilenceUncertain => self.void_all(VoidReason::LongPause),
            Input::Emergency => self.emergency()?,
            Input::CallSupervisor => {
                self.who()?;
                self.push(What::SupervisorCalled);
            }
            Input::HandOver(_) | Input::TakeOver | Input::KeepJob => self.hand_over(input)?,
            Input::Share => self.share()?,
            Input::EndSharing => self.end_sharing()?,
            Input::HangOwnLock => self.hang_own_lock()?,
            Input::TakeOwnLockOff => self.take_own_locks_off()?,
            Input::TakeLockOff { .. } => self.take_lock_off(input)?,
            Input::HandIn | Input::Accept { .. } | Input::SendBack { .. } => self.review(input)?,
            _ => self.in_mode(input)?,
        }
        Ok(())
    }

    fn in_mode(&mut self, input: &Input) -> Result<(), Refusal> {
        match &self.state.mode {
            Mode::Walking => self.walking(input),
            Mode::Paused => self.paused(input),
            Mode::Stopped { .. } => self.stopped(input),
            Mode::Leaving { .. } => self.leaving(input),
            Mode::Left { .. } => self.left(input),
            Mode::Finished { .. } => self.finished(input),
        }
    }

    fn walking(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::Pause => {
                self.only_holder()?;
                self.push(What::Paused);
                return Ok(());
            }
            Input::Stop => {
                self.who()?;
                self.push(What::Stopped);
                return Ok(());
            }
            Input::LeaveLockedOut => {
                self.only_holder()?;
                self.push(What::LeaveAsked);
                return Ok(());
            }
            Input::Resume => return Err(not_now("This job is not paused. Here is its screen.")),
            Input::LiftStop => return Err(not_now("This job is not stopped.")),
            Input::KeepWorking => return Err(not_now("This job is being worked on.")),
            _ => {}
        }
        if self.state.offer.is_some() {
            return Err(not_now(
                "This job is being handed over. Wait until it is taken, or keep it.",
            ));
        }
        // In the order in which the screens ask: what hangs at the panel comes before all else.
        let is_asked = !self.state.ask_state && must_agree(self.edition, &self.state);
        if is_asked && !matches!(input, Input::Back) {
            return self.agree_on_check_ins(input);
        }
        if self.came_too_late() {
            // The proof comes first.
        } else if let Input::Back = input {
            self.back()?;
        } else if self.state.ask_state {
            self.confirm_state(input)?;
        } else if !self.answer_together(input)? {
            self.answer(input)?;
        }
        self.settle()
    }

    /// Whether an answer does not count any more: the proof behind which it was given is void, or
    /// the test that it belongs to was broken off.
    fn came_too_late(&self) -> bool {
        let hands_would_go_in_unproved = self
            .here()
            .is_ok_and(|(_, step)| self.unprotected(step, self.state.holder).is_some());
        let mut moves = self.entries.iter();
        hands_would_go_in_unproved || moves.any(|entry| matches!(entry.what, What::Went { .. }))
    }

    fn paused(&mut self, input: &Input) -> Result<(), Refusal> {
        match input {
            Input::Resume => {
                self.only_holder()?;
                self.push(What::Resumed);
                self.settle()
            }
            Input::Stop => {
                self.who()?;
                self.push(What::Stopped);
                Ok(())
            }
            _ => Err(not_now(
                "This job is paused. Press “Go on with the job” first.",
            )),
        }
    }

    /// The person who acts must be the one whose job it is.
    pub(super) fn only_holder(&self) -> Result<PersonId, Refusal> {
        let who = self.who()?;
        if who == self.state.holder {
            return Ok(who);
        }
        Err(Refusal::NotYours {
            holder: "another person".to_owned(),
        })
    }

    pub(super) fn only_role(&self, role: Role) -> Result<PersonId, Refusal> {
        let who = self.who()?;
        if self.context.roles.contains(&role) {
            return Ok(who);
        }
        Err(Refusal::NeedsRole(vec![role]))
    }

    fn wait_over(&mut self, until: jiff::Timestamp) {
        let waiting = self.state.doing.until == Some(until) && !self.state.doing.wait_over;
        if waiting && self.state.is_open() && self.context.now >= until {
            let step = self.state.top().map(|call| call.step.clone());
            if let Some(step) = step {
                self.push(What::WaitOver { step });
            }
        }
    }

    /// A wait for safety's sake begins again when it is not sure how much time went by.
    fn clock_uncertain(&mut self) -> Result<(), Refusal> {
        self.check_in_in_doubt();
        let running = self.state.doing.until.is_some() && !self.state.doing.wait_over;
        if !running || !self.state.is_open() {
            return Ok(());
        }
        let (_, step) = self.here()?;
        if let Act::Wait { long, safety: true } = &step.act {
            let long = long
                .quantity(&self.state.facts())
                .map_err(|missing| self.unknown(missing))?;
            self.begin_wait(step, long.si);
        }
        Ok(())
    }

    fn emergency(&mut self) -> Result<(), Refusal> {
        self.who()?;
        self.push(What::Emergency);
        if matches!(self.state.mode, Mode::Walking | Mode::Paused) {
            self.push(What::Stopped);
        }
        Ok(())
    }

    /// After a step back across a source that was set: is the panel still as recorded?
    fn confirm_state(&mut self, input: &Input) -> Result<(), Refusal> {
        self.only_holder()?;
        let Input::Press { key, .. } = input else {
            return Err(Refusal::WrongShape(
                "Look at the panel first, then press what you see.".to_owned(),
            ));
        };
        match key.as_str() {
            super::AS_RECORDED => self.push(What::StateConfirmed),
            super::STATE_CHANGED => {
                self.void_all(VoidReason::StateChanged);
                self.push(What::StateConfirmed);
                self.push(What::Stopped);
                self.push(What::StopExplained {
                    why: "What hangs at the panel is not what is recorded.".to_owned(),
                });
            }
            _ => return Err(Refusal::Stale),
        }
        Ok(())
    }

    fn back(&mut self) -> Result<(), Refusal> {
        self.only_holder()?;
        if redo::no_step_back(&self.state) {
            return Err(not_now(
                "Only the steps that were sent back are open here. If an earlier one is wrong \
                 too, ask your supervisor to send it back.",
            ));
        }
        let Some(last) = self.state.trail.last().cloned() else {
            return Err(Refusal::NoWayBack);
        };
        self.void(last.proved.clone(), VoidReason::SteppedBack);
        self.push(What::WentBack {
            over: 1,
            ask_state: last.set,
        });
        Ok(())
    }
}

pub(super) fn not_now(sentence: &str) -> Refusal {
    Refusal::NotNow(sentence.to_owned())
}
