//! Check-ins: somebody who works alone in a freezer is asked now and then whether they are all
//! right; first gently, then loudly, then those are told who can go and look.
//!
//! How often is agreed with the person, who is alone with the cold and knows best. The choices and
//! the steps from gentle to loud are common practice, no source. Any answer of the person counts
//! as a sign of life. Time itself asks: it brings the moment that was due, and whether that has
//! come is for whoever keeps the clock to say.

use jiff::{SignedDuration, Timestamp};

use super::context::Context;
use super::decide::not_now;
use super::draft::Draft;
use super::input::Input;
use super::prompt::{Action, Ask, Button, Note, Prompt, Tone};
use super::refusal::Refusal;
use super::show::{Screen, button};
use super::state::{Mode, State};
use crate::flow::edition::Edition;
use crate::record::check_in::{CheckIn, Stage, Why};
use crate::record::entry::{Entry, What};

/// So often somebody may be asked, minutes.
const CHOICES: [u16; 4] = [10, 15, 20, 30];

/// The key of the button that says that nobody needs to ask.
pub(super) const NOT_ALONE: &str = "not_alone";

/// So long after a question the next, louder one comes.
const LOUDER_AFTER: SignedDuration = SignedDuration::from_mins(3);

/// So long after telling others they are told again; after an hour more seldom, but never not.
const AGAIN_AFTER: SignedDuration = SignedDuration::from_mins(5);
const AGAIN_LATER: SignedDuration = SignedDuration::from_mins(15);

/// So often others are told before it becomes more seldom.
const OFTEN: u16 = 12;

/// Whether somebody is asked if they are all right.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Watch {
    /// It was never spoken of.
    #[default]
    Unasked,
    /// The person is to say how often.
    Wanted,
    /// Nobody needs to ask.
    Off,
    /// They are asked.
    On(Rounds),
}

/// How the asking stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Rounds {
    /// Minutes without a sign of life, after which the person is asked.
    pub minutes: u16,
    /// The last sign of life.
    pub heard: Timestamp,
    /// How loudly the person was asked since; none while there is no question.
    pub stage: Option<Stage>,
    /// How often others were told.
    pub alarms: u16,
    /// When the next question comes.
    pub due: Timestamp,
    /// The revision of the job at which it was settled that it comes then: where the clock was set
    /// back, two questions may have the same time.
    pub mark: u64,
}

impl Rounds {
    fn begun(minutes: u16, at: Timestamp, mark: u64) -> Rounds {
        let mut rounds = Rounds {
            minutes,
            heard: at,
            stage: None,
            alarms: 0,
            due: at,
            mark,
        };
        rounds.due = at.checked_add(rounds.length()).unwrap_or(at);
        rounds
    }

    /// How long it is from one question to the next.
    pub fn length(&self) -> SignedDuration {
        match self.stage {
            None => SignedDuration::from_mins(i64::from(self.minutes)),
            Some(Stage::Gentle | Stage::Loud) => LOUDER_AFTER,
            Some(Stage::Alarm) if self.alarms < OFTEN => AGAIN_AFTER,
            Some(Stage::Alarm) => AGAIN_LATER,
        }
    }

    fn asked(&mut self, stage: Stage, at: Timestamp, mark: u64) {
        self.stage = Some(stage);
        self.mark = mark;
        if stage == Stage::Alarm {
            self.alarms = self.alarms.saturating_add(1);
        }
        self.due = at.checked_add(self.length()).unwrap_or(at);
    }

    /// What comes when it is due.
    fn next(&self) -> Stage {
        match self.stage {
            None => Stage::Gentle,
            Some(Stage::Gentle) => Stage::Loud,
            Some(Stage::Loud | Stage::Alarm) => Stage::Alarm,
        }
    }
}

impl State {
    /// How the asking stands, while somebody is asked.
    pub fn rounds(&self) -> Option<&Rounds> {
        match &self.watch {
            Watch::On(rounds) => Some(rounds),
            Watch::Unasked | Watch::Wanted | Watch::Off => None,
        }
    }
}

/// Folds in what an entry means for check-ins: any of the person's own is a sign of life.
pub(super) fn apply(state: &mut State, entry: &Entry) {
    let (at, mark) = (state.last_at, state.revision);
    if let What::CheckIn { of } = &entry.what {
        match of {
            CheckIn::Wanted => state.watch = Watch::Wanted,
            CheckIn::Agreed { minutes } => {
                state.watch = Watch::On(Rounds::begun(*minutes, at, mark))
            }
            CheckIn::Declined | CheckIn::Ended { .. } => state.watch = Watch::Off,
            CheckIn::Asked { stage, .. } => {
                if let Watch::On(rounds) = &mut state.watch {
                    rounds.asked(*stage, at, mark);
                }
            }
            CheckIn::Well | CheckIn::Found => heard(state, at),
        }
    } else if entry.who == Some(state.holder) {
        heard(state, at);
    }
}

fn heard(state: &mut State, at: Timestamp) {
    let mark = state.revision;
    if let Watch::On(rounds) = &mut state.watch {
        *rounds = Rounds::begun(rounds.minutes, at, mark);
    }
}

/// Whether the person has to say first how often they want to be asked.
pub(super) fn must_agree(edition: &Edition, state: &State) -> bool {
    let wants = || {
        let mut calls = state.stack.iter();
        calls.any(|call| {
            let flow = edition.flow(&call.flow);
            let check_ins = flow.and_then(|flow| flow.check_ins.as_ref());
            let facts = state.facts_of(call);
            check_ins.is_some_and(|it| it.holds(&facts).unwrap_or(false))
        })
    };
    match &state.watch {
        Watch::Wanted => true,
        Watch::Unasked => wants(),
        Watch::Off | Watch::On(_) => false,
    }
}

impl Draft<'_> {
    /// What people and time do about check-ins; false for every other input.
    pub(super) fn check_in(&mut self, input: &Input) -> Result<bool, Refusal> {
        match input {
            Input::CheckInDue { due } => self.check_in_due(*due),
            Input::WantCheckIns => {
                self.only_holder()?;
                if self.state.rounds().is_none() {
                    self.push_check_in(CheckIn::Wanted);
                }
            }
            Input::AmWell => {
                self.only_holder()?;
                if self.state.rounds().is_some() {
                    self.push_check_in(CheckIn::Well);
                }
            }
            Input::AmOut => {
                self.only_holder()?;
                self.end_check_ins(Why::Out);
            }
            Input::FoundWell => self.found_well()?,
            _ => return Ok(false),
        }
        Ok(true)
    }

    fn push_check_in(&mut self, of: CheckIn) {
        self.push(What::CheckIn { of });
    }

    fn check_in_due(&mut self, due: Timestamp) {
        let rounds = self.state.rounds().filter(|rounds| rounds.due == due);
        let stage = rounds.map(Rounds::next);
        if let Some(stage) = stage {
            self.push_check_in(CheckIn::Asked { stage, due });
        }
    }

    /// It is not sure how much time went by: better asked once too often.
    pub(super) fn check_in_in_doubt(&mut self) {
        let quiet = self.state.rounds().filter(|rounds| rounds.stage.is_none());
        if let Some(due) = quiet.map(|rounds| rounds.due) {
            self.check_in_due(due);
        }
    }

    fn found_well(&mut self) -> Result<(), Refusal> {
        let who = self.who()?;
        let is_missed = self
            .state
            .rounds()
            .is_some_and(|it| it.stage == Some(Stage::Alarm));
        if who == self.state.holder || !is_missed {
            return Err(not_now("Nobody is missed here now."));
        }
        self.push_check_in(CheckIn::Found);
        Ok(())
    }

    /// Nobody asks any more.
    pub(super) fn end_check_ins(&mut self, why: Why) {
        if self.state.rounds().is_some() {
            self.push_check_in(CheckIn::Ended { why });
        }
    }

    /// Another person has the job: they say themselves how often they want to be asked.
    pub(super) fn hand_check_ins_over(&mut self) {
        let was_spoken_of = self.state.watch != Watch::Unasked;
        self.end_check_ins(Why::HandedOver);
        if was_spoken_of {
            self.push_check_in(CheckIn::Wanted);
        }
    }

    /// The answer to how often.
    pub(super) fn agree_on_check_ins(&mut self, input: &Input) -> Result<(), Refusal> {
        self.only_holder()?;
        let Input::Press { key, .. } = input else {
            return Err(Refusal::WrongShape(
                "Press how often I am to ask whether you are all right.".to_owned(),
            ));
        };
        let chosen = CHOICES
            .into_iter()
            .find(|minutes| key_of(*minutes) == key.as_str());
        match chosen {
            Some(minutes) => self.push_check_in(CheckIn::Agreed { minutes }),
            None if key.as_str() == NOT_ALONE => self.push_check_in(CheckIn::Declined),
            None => return Err(Refusal::Stale),
        }
        Ok(())
    }
}

fn key_of(minutes: u16) -> String {
    format!("every_{minutes}")
}

/// Whether what the person did, though it had no effect, says that they are all right.
pub fn is_sign_of_life(state: &State, context: &Context<'_>) -> bool {
    let asked = state.rounds().is_some_and(|rounds| rounds.stage.is_some());
    asked && context.who == Some(state.holder)
}

/// The screen that asks how often.
pub(super) fn ask(screen: &Screen<'_>, prompt: &mut Prompt) {
    prompt.caution = Some("Cold takes your strength before you notice it.".to_owned());
    prompt.say =
        "You work alone in the cold. How often am I to ask whether you are all right?".to_owned();
    prompt.notes.push(Note {
        tone: Tone::Plain,
        text: "Without an answer I ask louder; then your supervisors are told.".to_owned(),
    });
    if !screen.is_holder() {
        prompt.ask = Ask::WaitFor { roles: Vec::new() };
        return;
    }
    let every = |minutes: u16| button(&key_of(minutes), format!("Every {minutes} minutes"));
    let mut buttons: Vec<Button> = CHOICES.into_iter().map(every).collect();
    buttons.push(button(NOT_ALONE, "Somebody is with me"));
    prompt.ask = Ask::Press(buttons);
    prompt.actions.extend([Action::Pause, Action::HandOver]);
}

/// How the asking stands, on every screen while it goes on, with what can be done about it.
pub(super) fn tell(screen: &Screen<'_>, prompt: &mut Prompt) {
    let Some(rounds) = screen.state.rounds() else {
        let may_want = screen.is_holder() && screen.state.mode == Mode::Walking;
        if may_want && !must_agree(screen.edition, screen.state) {
            prompt.actions.push(Action::CheckOnMe);
        }
        return;
    };
    let clock = |at: Timestamp| at.strftime("%H:%M UTC").to_string();
    let heard = clock(rounds.heard);
    let (tone, text) = match (rounds.stage, screen.is_holder()) {
        (None, _) => (
            Tone::Plain,
            format!(
                "Check-ins every {} min. The next question comes at {}.",
                rounds.minutes,
                clock(rounds.due)
            ),
        ),
        (Some(Stage::Gentle), true) => (
            Tone::Warning,
            "Are you all right? Press “I am all right”.".to_owned(),
        ),
        (Some(_), true) => (
            Tone::Warning,
            format!("ANSWER NOW. Nothing was heard of you since {heard}. Are you all right?"),
        ),
        (Some(stage), false) => (
            Tone::Warning,
            match stage {
                Stage::Alarm => format!(
                    "No sign of life since {heard}. Go there or have somebody look. No entry \
                     alone."
                ),
                _ => format!("The person inside is being asked. Last heard of at {heard}."),
            },
        ),
    };
    prompt.notes.insert(0, Note { tone, text });
    if screen.is_holder() {
        if rounds.stage.is_some() {
            prompt.actions.insert(0, Action::AmWell);
        }
        prompt.actions.push(Action::AmOut);
    } else if rounds.stage == Some(Stage::Alarm) {
        prompt.actions.insert(0, Action::FoundWell);
    }
}
