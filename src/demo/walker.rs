//! Somebody who answers what a screen asks, plainly enough to come to an end.

use std::collections::HashMap;

use super::crew::Crew;
use super::picture::picture;
use super::{DemoClock, NoDemo};
use crate::desk::id::JobId;
use crate::desk::screen::{Outcome, Phase, Screen};
use crate::desk::{Actor, Desk};
use crate::flow::name::ChoiceKey;
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask, Button, Prompt};

/// No job of the demo has more screens than this.
const SCREENS_MAX: usize = 700;

/// How often a refused answer is followed by another one.
const TRIES_MAX: usize = 8;

/// Keys that lead to the replacement of a dead fan, wherever they stand among the choices.
const PREFERRED: &[&str] = &[
    "no_switch",
    "not_iced",
    "cat_four",
    "cat_three",
    "here",
    "stands",
    "whole",
    "motor",
    "cold",
    "clean",
    "over_limit",
    "new_start",
    "none_else",
    "only_ours",
    "site",
    "site_staff",
    "alone",
    "takes_lock",
    "stopped",
    "switch",
    "all_stand",
    "not_printed",
    "nothing",
    "contact",
    "shaded_pole",
    "shaft_end",
    "counterclockwise",
    "away_from_motor",
    "horizontal",
    "all_clear",
    "nothing_open",
    "assembly",
];

/// Keys that lead soon to an end: the fans only wait for a defrost to end.
const SOON_AT_AN_END: &[&str] = &[
    "defrost",
    "wait",
    "ended",
    "over",
    "all_turn",
    "nothing_changed",
    "no_ice",
    "not_iced",
];

/// Readings by what the screen says, where its example would not do.
const READINGS: &[(&str, &str)] = &[
    ("known source", "120 V"),
    ("same two points as before", "0.1 V"),
    ("type the lower one", "208 V"),
    ("higher number", "230 V"),
    ("How many fans has", "2"),
    ("stand still? None", "1"),
];

/// Words by what the screen says.
const WORDS: &[(&str, &str)] = &[
    ("model", "NQ-LP-2060"),
    ("Model", "NQ-LP-2060"),
    ("plug", "NQ three-pin, earth in the middle"),
    ("Which unit", "EV-2"),
    ("come back", "Thursday at eight in the morning"),
    ("name", "Quincy Quill, telephone 555-0100"),
    ("wrong", "It smells of burnt insulation at the panel"),
];

/// How far to walk.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Until {
    /// Until nothing is asked.
    TheEnd,
    /// So many screens.
    Steps(usize),
    /// Until a lock hangs and the sources are tested.
    Locked,
}

/// Walks one job.
pub(super) struct Walker<'a> {
    desk: &'a Desk,
    clock: &'a DemoClock,
    crew: &'a Crew,
    /// Tells the inputs of this walk from those of every other.
    name: String,
    inputs: usize,
    photos: u8,
    /// Whether the walk is to end soon.
    to_the_end: bool,
    /// How often a screen was met, by what it says: whoever comes round again answers otherwise.
    met: HashMap<String, usize>,
}

impl<'a> Walker<'a> {
    pub(super) fn new(desk: &'a Desk, clock: &'a DemoClock, crew: &'a Crew, name: String) -> Self {
        Self {
            desk,
            clock,
            crew,
            name,
            inputs: 0,
            photos: 0,
            to_the_end: false,
            met: HashMap::new(),
        }
    }

    /// Hands one input to the desk; whether the job went on.
    pub(super) async fn gives(
        &mut self,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<bool, NoDemo> {
        self.inputs += 1;
        self.clock.pass_a_step();
        let key = InputKey(format!("{}:{}", self.name, self.inputs));
        let handled = self.desk.handle(key, actor, job, input).await?;
        if let Outcome::Refused(told) = &handled.outcome {
            tracing::debug!(told, "an answer of the demo was refused");
        }
        Ok(handled.outcome == Outcome::Advanced)
    }

    /// Walks in the hands of `holder`; how far the job is then.
    pub(super) async fn walk(
        &mut self,
        holder: &Actor,
        job: JobId,
        until: Until,
    ) -> Result<Phase, NoDemo> {
        self.to_the_end = until == Until::TheEnd;
        for walked in 0..SCREENS_MAX {
            let screen = self.desk.screen(holder, job).await?;
            let is_there = match until {
                Until::TheEnd => false,
                Until::Steps(steps) => walked >= steps,
                Until::Locked => screen.prompt.title.contains("Match"),
            };
            if is_there || screen.prompt.ask == Ask::Nothing {
                return Ok(screen.phase);
            }
            if !self.answers(holder, job).await? {
                tracing::warn!(%job, screen = screen.prompt.say, "the demo knows no answer");
                return Ok(screen.phase);
            }
        }
        Ok(self.desk.screen(holder, job).await?.phase)
    }

    /// Answers the screen at hand; whether any answer was taken.
    pub(super) async fn answers(&mut self, holder: &Actor, job: JobId) -> Result<bool, NoDemo> {
        for tried in 0..TRIES_MAX {
            let screen = self.desk.screen(holder, job).await?;
            if let Ask::Wait { until } = screen.prompt.ask {
                self.clock.pass_to(until);
                self.clock.pass_a_step();
                self.desk.end_waits().await?;
                let after = self.desk.screen(holder, job).await?;
                return Ok(after.prompt.revision != screen.prompt.revision);
            }
            let (actor, screen) = self.who_acts(holder, screen).await?;
            let Some(input) = self.answer(&screen, tried).await? else {
                return Ok(false);
            };
            if self.gives(&actor, job, input).await? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// The holder, or whoever the screen waits for, with the screen that they see.
    async fn who_acts(&self, holder: &Actor, screen: Screen) -> Result<(Actor, Screen), NoDemo> {
        if let Ask::WaitFor { roles } = &screen.prompt.ask
            && let Some(other) = self.crew.with(roles)
        {
            let seen = self.desk.screen(other, screen.job).await?;
            return Ok((other.clone(), seen));
        }
        Ok((holder.clone(), screen))
    }

    async fn answer(&mut self, screen: &Screen, tried: usize) -> Result<Option<Input>, NoDemo> {
        let prompt = &screen.prompt;
        let met = self.met.entry(prompt.say.clone()).or_default();
        *met += 1;
        let turn = tried + (*met - 1) / 3;
        let revision = prompt.revision;
        if prompt.actions.contains(&Action::LiftStop) {
            return Ok(Some(Input::LiftStop));
        }
        if prompt.actions.contains(&Action::StandBeside) && tried == 0 {
            return Ok(Some(Input::StandBeside));
        }
        Ok(match &prompt.ask {
            Ask::Press(buttons) => {
                // In a test for absence of voltage the better meter and whole leads stand last.
                let last = buttons.last().filter(|_| is_proof(prompt));
                let soon = if self.to_the_end { SOON_AT_AN_END } else { &[] };
                let key = last.map_or_else(|| pick(buttons, turn, soon), |last| last.key.clone());
                Some(Input::Press { revision, key })
            }
            Ask::Tick { options, .. } => Some(Input::Tick {
                revision,
                keys: options.iter().map(|option| option.key.clone()).collect(),
            }),
            Ask::Reading { example, .. } => Some(Input::Text(typed(prompt, example, turn))),
            Ask::Words { .. } => Some(Input::Text(words(prompt))),
            Ask::Photo { of } => {
                self.photos = self.photos.wrapping_add(1);
                let bytes = picture(of, self.photos).map_err(NoDemo::Picture)?;
                Some(Input::Photo(self.desk.take_photo(bytes).await?))
            }
            Ask::Wait { .. } | Ask::WaitFor { .. } | Ask::Nothing => None,
        })
    }
}

/// The button preferred `before` all others, else a preferred one, else the first; another one
/// with each turn.
fn pick(buttons: &[Button], turn: usize, before: &[&str]) -> ChoiceKey {
    let among = |keys: &[&str]| {
        buttons
            .iter()
            .position(|button| keys.contains(&button.key.as_str()))
    };
    let first = among(before).or_else(|| among(PREFERRED)).unwrap_or(0);
    let at = (first + turn) % buttons.len().max(1);
    let picked = buttons.get(at).map(|button| button.key.clone());
    picked.unwrap_or_else(|| ChoiceKey::from(crate::walk::GO))
}

/// What belongs to the first of these words that the screen says.
fn by_words(prompt: &Prompt, table: &[(&str, &'static str)]) -> Option<&'static str> {
    let said = table.iter().find(|(words, _)| prompt.say.contains(words));
    said.map(|(_, typed)| *typed)
}

/// Whether the screen is a part of a test for absence of voltage.
fn is_proof(prompt: &Prompt) -> bool {
    let mut notes = prompt.notes.iter();
    notes.any(|note| note.text.starts_with("Live-dead-live"))
}

fn typed(prompt: &Prompt, example: &str, turn: usize) -> String {
    let usual = if is_proof(prompt) { "0.1 V" } else { example };
    let first = match by_words(prompt, READINGS) {
        Some("120 V") if prompt.say.contains("DC") => "9 V",
        Some(typed) => typed,
        None => usual,
    };
    let others = [first, example, "0.1 V", "9 V", "208 V", "4", "0", "1"];
    others[turn % others.len()].to_owned()
}

fn words(prompt: &Prompt) -> String {
    by_words(prompt, WORDS)
        .unwrap_or("as found, meter no. 7")
        .to_owned()
}
