//! Somebody who answers what a screen asks, plainly enough to come to an end.

use std::collections::HashMap;

use super::answers::{self, Answers};
use super::crew::Crew;
use super::picture::picture;
use super::{DemoClock, NoDemo};
use crate::desk::id::JobId;
use crate::desk::screen::{Handled, Outcome, Phase, Screen};
use crate::desk::{Actor, Desk};
use crate::flow::model::Role;
use crate::flow::name::{FlowName, StepName};
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask};

/// No job of the demo has more screens than this.
const SCREENS_MAX: usize = 700;

/// A screen that came so often is answered otherwise: flows that are not the shipped ones may
/// lead round and round.
const ROUNDS: usize = 6;

/// How often a refused answer is followed by another one.
const TRIES_MAX: usize = 8;

/// How far to walk.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Until {
    /// Until nothing is asked.
    TheEnd,
    /// Until this step of any flow.
    Step(&'static str),
    /// Until somebody with this role has to act.
    WaitsFor(Role),
}

/// Walks one job.
pub(super) struct Walker<'a> {
    desk: &'a Desk,
    clock: &'a DemoClock,
    crew: &'a Crew,
    answers: Answers,
    /// Tells the inputs of this walk from those of every other.
    name: String,
    inputs: usize,
    photos: u8,
    /// How often a screen was met, by what it says.
    met: HashMap<String, usize>,
}

impl<'a> Walker<'a> {
    pub(super) fn new(
        desk: &'a Desk,
        clock: &'a DemoClock,
        crew: &'a Crew,
        (name, answers): (String, Answers),
    ) -> Self {
        Self {
            desk,
            clock,
            crew,
            answers,
            name,
            inputs: 0,
            photos: 0,
            met: HashMap::new(),
        }
    }

    /// Hands one input to the desk.
    pub(super) async fn gives(
        &mut self,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<(), NoDemo> {
        self.handles(actor, job, input).await.map(drop)
    }

    async fn handles(
        &mut self,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<Handled, NoDemo> {
        self.inputs += 1;
        self.clock.pass_a_step();
        let key = InputKey(format!("{}:{}", self.name, self.inputs));
        let handled = self.desk.handle(key, actor, job, input).await?;
        if let Outcome::Refused(told) = &handled.outcome {
            tracing::debug!(told, "an answer of the demo was refused");
        }
        Ok(handled)
    }

    /// Walks in the hands of `holder`; how far the job is then.
    pub(super) async fn walk(
        &mut self,
        holder: &Actor,
        job: JobId,
        until: Until,
    ) -> Result<Phase, NoDemo> {
        let mut screen = self.desk.screen(holder, job).await?;
        for _ in 0..SCREENS_MAX {
            let place = self.desk.step_at_hand(holder, job).await?;
            let is_there = match (until, &screen.prompt.ask) {
                (Until::Step(wanted), _) => place.is_some_and(|(_, step)| step.as_str() == wanted),
                (Until::WaitsFor(role), Ask::WaitFor { roles }) => roles == &[role],
                _ => false,
            };
            if is_there || screen.prompt.ask == Ask::Nothing {
                return Ok(screen.phase);
            }
            let (phase, said) = (screen.phase, screen.prompt.say.clone());
            let Some(next) = self.answers(holder, screen).await? else {
                tracing::warn!(%job, said, "the demo knows no answer");
                return Ok(phase);
            };
            screen = next;
        }
        Ok(screen.phase)
    }

    /// Answers the screen of the holder; the holder's next one, if any answer was taken.
    async fn answers(&mut self, holder: &Actor, screen: Screen) -> Result<Option<Screen>, NoDemo> {
        let job = screen.job;
        if let Ask::Wait { until } = screen.prompt.ask {
            self.clock.pass_to(until);
            self.clock.pass_a_step();
            self.desk.end_waits().await?;
            let after = self.desk.screen(holder, job).await?;
            return Ok((after.prompt.revision != screen.prompt.revision).then_some(after));
        }
        let place = self.desk.step_at_hand(holder, job).await?;
        let (actor, mut screen) = self.who_acts(holder, screen).await?;
        for tried in 0..TRIES_MAX {
            let Some(input) = self.answer(&screen, place.as_ref(), tried).await? else {
                return Ok(None);
            };
            let handled = self.handles(&actor, job, input).await?;
            let is_taken = handled.outcome == Outcome::Advanced;
            screen = handled.screen;
            if is_taken {
                let is_holders = actor.person == holder.person;
                return Ok(Some(if is_holders {
                    screen
                } else {
                    self.desk.screen(holder, job).await?
                }));
            }
        }
        Ok(None)
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

    async fn answer(
        &mut self,
        screen: &Screen,
        place: Option<&(FlowName, StepName)>,
        tried: usize,
    ) -> Result<Option<Input>, NoDemo> {
        let prompt = &screen.prompt;
        let met = self.met.entry(prompt.say.clone()).or_default();
        *met += 1;
        let turn = tried + (*met - 1) / ROUNDS;
        let revision = prompt.revision;
        if prompt.actions.contains(&Action::StandBeside) && tried == 0 {
            return Ok(Some(Input::StandBeside));
        }
        // An answer that was refused is not given again.
        let answer = self.answers.at(place).filter(|_| tried == 0);
        Ok(match &prompt.ask {
            Ask::Press(buttons) => {
                let pressed = answers::button(prompt, buttons, (answer, turn));
                pressed.map(|button| Input::Press {
                    revision,
                    key: button.key.clone(),
                })
            }
            Ask::Tick { options, .. } => {
                let wanted: Option<Vec<&str>> =
                    answer.map(|answer| answer.split_whitespace().collect());
                let fits = |key: &str| wanted.as_ref().is_none_or(|wanted| wanted.contains(&key));
                let keys = options.iter().map(|option| &option.key);
                let keys = keys.filter(|key| fits(key.as_str())).cloned().collect();
                Some(Input::Tick { revision, keys })
            }
            Ask::Reading { example, .. } => {
                Some(Input::Text(answers::reading(prompt, example, answer)))
            }
            Ask::Words { .. } => Some(Input::Text(
                answer.unwrap_or("As found, meter no. 7").to_owned(),
            )),
            Ask::Photo { of } => {
                self.photos = self.photos.wrapping_add(1);
                let bytes = picture(&self.name, of, self.photos).map_err(NoDemo::Made)?;
                Some(Input::Photo(self.desk.take_photo(bytes).await?))
            }
            Ask::Wait { .. } | Ask::WaitFor { .. } | Ask::Nothing => None,
        })
    }
}
