//! Several plain steps as one list, for people who do first and confirm after.
//!
//! It is a way of showing, and of taking several answers in one input: each is still decided in
//! its turn and stands in the record by itself. A step is plain that touches nothing, sets, proves
//! and locks nothing, warns of nothing, and may be answered by anybody on the job.

use super::GO;
use super::answer::ALL_DONE;
use super::context::Way;
use super::draft::Draft;
use super::input::Input;
use super::prompt::{Ask, Prompt};
use super::refusal::Refusal;
use super::show::button;
use super::state::{Mode, State};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Branch, Danger, Flow, Step};
use crate::flow::name::{ChoiceKey, FactName};
use crate::record::entry::What;
use crate::record::person::PersonId;

/// So many steps are on one list: more than that nobody keeps in mind (common practice, no
/// source).
const STEPS_MAX: usize = 5;

/// So many characters of sentences are on one list, so that it stays one message.
const CHARACTERS_MAX: usize = 1_200;

/// The steps that are asked as one list: none, or at least two.
pub(super) fn listed<'e>(
    edition: &'e Edition,
    state: &State,
    (who, way): (PersonId, Way),
) -> Vec<&'e Step> {
    let is_asked = way == Way::DoThenConfirm
        && who == state.holder
        && state.mode == Mode::Walking
        && state.offer.is_none()
        && !state.ask_state
        && state.redo.is_none()
        && state.doing.first_reading.is_none();
    let call = state.top().filter(|_| is_asked);
    let Some(flow) = call.and_then(|call| edition.flow(&call.flow)) else {
        return Vec::new();
    };
    let mut steps: Vec<&Step> = Vec::new();
    let mut asked: Vec<&FactName> = Vec::new();
    let mut characters = 0;
    let mut next = call.and_then(|call| flow.step(&call.step));
    while let Some(step) = next.filter(|step| is_plain(step)) {
        characters += step.say.source.chars().count();
        let is_again = steps.iter().any(|other| other.name == step.name);
        let waits_for_one = step.say.facts().iter().any(|fact| asked.contains(fact));
        if is_again || waits_for_one || characters > CHARACTERS_MAX || steps.len() == STEPS_MAX {
            break;
        }
        steps.push(step);
        asked.extend(step.asks_for());
        next = only_way(flow, step);
    }
    if steps.len() < 2 {
        steps.clear();
    }
    steps
}

fn only_way<'e>(flow: &'e Flow, step: &Step) -> Option<&'e Step> {
    match &step.then[..] {
        [Branch { when: None, go }] => flow.step(&go.it),
        _ => None,
    }
}

fn is_plain(step: &Step) -> bool {
    let act = matches!(
        step.act,
        Act::Tell { .. }
            | Act::Confirm { .. }
            | Act::Choose { .. }
            | Act::Measure(_)
            | Act::Photo { .. }
            | Act::Write { .. }
    );
    act && matches!(step.danger, Danger::HandsOff)
        && step.sets.is_empty()
        && step.caution.is_none()
        && step.duty.is_none()
        && step.leads.is_none()
        && step.by.is_empty()
        && step.needs_shown.is_empty()
        && step.picture.is_none()
        && step.chart.is_none()
}

/// How many from the first on are only to be done.
fn only_done(steps: &[&Step]) -> usize {
    let is_done = |step: &&&Step| matches!(step.act, Act::Tell { .. } | Act::Confirm { .. });
    steps.iter().take_while(is_done).count()
}

/// How many from the first on are answered by typing.
fn typed(steps: &[&Step]) -> usize {
    let is_typed = |step: &&&Step| matches!(step.act, Act::Measure(_) | Act::Write { .. });
    steps.iter().take_while(is_typed).count()
}

/// Shows the list where the question stands; it stays the question of the first.
pub(super) fn show(prompt: &mut Prompt, steps: &[&Step], state: &State) {
    if steps.is_empty() {
        return;
    }
    let facts = state.facts();
    let mut say = String::from("Do all of this, then answer in this order:");
    for (number, step) in (1..).zip(steps) {
        say.push_str(&format!("\n{number}. {}", step.say.fill(&facts)));
    }
    let (done, lines) = (only_done(steps), typed(steps));
    match &mut prompt.ask {
        Ask::Press(buttons) if done > 0 => {
            for first in buttons.iter_mut() {
                first.label = format!("1: {}", first.label);
            }
            if done > 1 {
                buttons.insert(0, button(ALL_DONE, format!("1 to {done} are done")));
            }
        }
        _ if lines > 1 => {
            say.push_str(&format!(
                "\nYou may type 1 to {lines} at once, a line for each."
            ));
        }
        _ => say.push_str("\nNow answer 1."),
    }
    prompt.say = say;
}

impl Draft<'_> {
    /// Takes the answers to several steps of a list, if the input holds as many; whether it did.
    pub(super) fn answer_together(&mut self, input: &Input) -> Result<bool, Refusal> {
        let way = self.context.way.of(self.context.roles);
        let Some(who) = self.context.who else {
            return Ok(false);
        };
        let steps = listed(self.edition, &self.state, (who, way));
        if steps.is_empty() {
            return Ok(false);
        }
        let inputs = match input {
            Input::Press { key, .. } if key.as_str() == ALL_DONE => {
                vec![self.pressed_go(); only_done(&steps)]
            }
            Input::Text(text) => lines_of(text, typed(&steps)),
            _ => Vec::new(),
        };
        if let Input::StandBeside = input {
            return Ok(false);
        }
        self.told_together(&steps);
        let count = inputs.len();
        if count < 2 {
            return Ok(false);
        }
        for (number, (step, input)) in (1..).zip(steps.into_iter().zip(inputs)) {
            if self.state.top().map(|call| &call.step) != Some(&step.name) {
                // A reading is asked for once more: what follows waits for it.
                return Ok(true);
            }
            let answered = self.answer(&input);
            answered.map_err(|why| match count {
                1 => why,
                _ => Refusal::WrongShape(format!("Line {number}: {why} None of it was taken.")),
            })?;
        }
        Ok(true)
    }

    fn pressed_go(&self) -> Input {
        Input::Press {
            revision: self.state.revision,
            key: ChoiceKey::from(GO),
        }
    }

    /// Writes down once that these steps are asked as one list.
    fn told_together(&mut self, steps: &[&Step]) {
        let is_told = steps
            .first()
            .is_some_and(|step| self.state.together.contains(&step.name));
        if !is_told {
            let steps = steps.iter().map(|step| step.name.clone()).collect();
            self.push(What::AskedTogether { steps });
        }
    }
}

/// The lines of a text as answers, if there are several and no more than are asked for.
fn lines_of(text: &str, asked: usize) -> Vec<Input> {
    let lines: Vec<&str> = text
        .lines()
        .filter(|line| !line.trim().is_empty())
        .collect();
    match (2..=asked).contains(&lines.len()) {
        true => lines
            .into_iter()
            .map(|line| Input::Text(line.to_owned()))
            .collect(),
        false => Vec::new(),
    }
}
