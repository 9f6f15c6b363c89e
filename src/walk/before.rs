//! What was recorded of the evaporator in earlier jobs: offered at the step that asks for it, and
//! taken only by whoever looked again and says that it is still so.

use super::context::Context;
use super::decide::begin;
use super::draft::Draft;
use super::prompt::{Note, Prompt, Tone};
use super::refusal::Refusal;
use super::show::Screen;
use super::state::State;
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Flow, Step};
use crate::flow::name::FactName;
use crate::record::answer::Answer;
use crate::record::before::Before;
use crate::record::entry::{ENTRY_FORMAT, Entry, Pins, What};
use crate::record::person::PersonId;

/// A longer answer stands above the button alone.
const LABEL_CHARACTERS_MAX: usize = 40;

/// Begins a job, as [`begin`] does, on an evaporator of which something was recorded before.
///
/// # Errors
/// As [`begin`].
pub fn begin_knowing(
    edition: &Edition,
    pins: Pins,
    holder: PersonId,
    (context, before): (&Context<'_>, Vec<Before>),
) -> Result<Vec<Entry>, Refusal> {
    let mut entries = begin(edition, pins, holder, context)?;
    if !before.is_empty() {
        entries.push(Entry {
            v: ENTRY_FORMAT,
            at: context.now,
            who: context.who,
            channel: context.channel,
            what: What::KnownBefore { facts: before },
        });
    }
    Ok(entries)
}

impl State {
    /// What was recorded before of a fact of the flow on top, as long as this walk has no answer of
    /// its own.
    pub(super) fn before_here(&self, fact: &FactName) -> Option<&Before> {
        let own = self.room().and_then(|room| room.facts.get(fact));
        if own.is_some_and(|known| known.answer.is_some()) {
            return None;
        }
        let flow = &self.top()?.flow;
        self.before.get(&(flow.clone(), fact.clone()))
    }
}

/// Offers what was recorded before.
pub(super) fn offer(screen: &Screen<'_>, prompt: &mut Prompt, fact: &FactName) {
    let Some(before) = screen.state.before_here(fact) else {
        return;
    };
    let words = before.answer.words();
    prompt.notes.push(Note {
        tone: Tone::Plain,
        text: format!("As recorded on {}: {words}. Look again.", before.day()),
    });
    let short = words.chars().count() <= LABEL_CHARACTERS_MAX;
    let label = if short { &words } else { "as recorded" };
    prompt.keep = Some(format!("I looked: still {label}"));
}

impl Draft<'_> {
    /// The person looked again, and it is as it was recorded before. It is judged like an answer
    /// that is given now.
    pub(super) fn still_so(&mut self, flow: &Flow, step: &Step) -> Result<(), Refusal> {
        let nothing = || Refusal::WrongShape("There is no earlier answer to keep.".to_owned());
        let fact = match &step.act {
            Act::Choose { fact } | Act::Write { fact } => fact,
            Act::Measure(measure) => &measure.fact,
            _ => return Err(nothing()),
        };
        let before = self.state.before_here(fact).cloned().ok_or_else(nothing)?;
        self.push(What::StillSo {
            step: step.name.clone(),
            fact: fact.clone(),
            at: before.at,
            job: before.job,
        });
        match (&step.act, before.answer) {
            (Act::Choose { fact }, Answer::Choice { key, .. }) => {
                self.chosen(flow, step, fact, &[key])
            }
            (Act::Choose { fact }, Answer::Choices { chosen }) => {
                let keys: Vec<_> = chosen.into_iter().map(|(key, _)| key).collect();
                self.chosen(flow, step, fact, &keys)
            }
            (Act::Write { fact }, Answer::Text { text }) => self.written(flow, step, fact, &text),
            (Act::Measure(measure), Answer::Reading { reading }) => {
                self.measured(flow, step, measure, &reading.words())
            }
            (Act::Measure(measure), Answer::Number { typed, .. }) => {
                self.measured(flow, step, measure, &typed)
            }
            _ => Err(nothing()),
        }
    }
}
