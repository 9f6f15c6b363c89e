//! Steps of a job to be done again: a reviewer picks them in the chat, part by part.

use teloxide::types::InlineKeyboardMarkup;

use super::press::{keys_ticked, reference, stale_press};
use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::sender::{Kind, What};
use super::talk::Turn;
use super::token::{AgainPress, On, Token};
use super::words;
use crate::desk::screen::Closing;
use crate::desk::{Actor, DeskError};
use crate::record::step_ref::StepRef;

/// So many steps stand on one message; a longer part is shown in several.
const STEPS_MAX: usize = 60;

/// Steps of one walk through one flow, with their places in the walk, from 1.
struct Part {
    title: String,
    steps: Vec<(usize, String)>,
}

/// The walked steps by part, in the order of the walk.
fn parts(steps: &[(StepRef, String)]) -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    let mut last: Option<&StepRef> = None;
    for (at, (step, label)) in steps.iter().enumerate() {
        let (title, own) = label.split_once(": ").unwrap_or(("", label));
        let same =
            last.is_some_and(|last| (&last.flow, last.instance) == (&step.flow, step.instance));
        last = Some(step);
        let place = (at + 1, own.to_owned());
        match parts
            .last_mut()
            .filter(|part| same && part.steps.len() < STEPS_MAX)
        {
            Some(part) => part.steps.push(place),
            None => parts.push(Part {
                title: title.to_owned(),
                steps: vec![place],
            }),
        }
    }
    parts
}

impl Turn<'_> {
    /// A press on the way to sending a job back.
    pub(super) async fn again(
        &self,
        actor: &Actor,
        on: On,
        (press, message): (AgainPress, Option<i32>),
    ) -> Result<Option<String>, DeskError> {
        let shown = self.talk.desk.screen(actor, on.job).await?;
        let stale = shown.prompt.revision != on.revision;
        if stale || !shown.closing.contains(&Closing::SendBack) {
            return self.bring(actor, on.job, stale_press()).await;
        }
        let steps = self.talk.desk.steps_to_send_back(actor, on.job).await?;
        let parts = parts(&steps);
        let line = shown.evaporator.line();
        match press {
            AgainPress::Parts => self.ask_part(on, &parts),
            AgainPress::Whole => self.ask_remark(on, &line, &[]),
            AgainPress::Tick { part, ticked } => {
                if let Some(of) = parts.get(usize::from(part)) {
                    self.tick_steps(on, (part, of), (ticked, message));
                }
            }
            AgainPress::Send { part, ticked } => {
                let of = parts.get(usize::from(part));
                let steps = of.map(|of| of.steps.as_slice()).unwrap_or_default();
                let places = keys_ticked(steps.len(), ticked);
                let places: Vec<usize> = places.map(|at| steps[at].0).collect();
                self.ask_remark(on, &line, &places);
            }
        }
        Ok(None)
    }

    fn ask_part(&self, on: On, parts: &[Part]) {
        let whole = button(words::WHOLE_JOB, Token::Again(on, AgainPress::Whole));
        let mut rows: Rows = vec![vec![whole]];
        // The latest part first: there most remarks belong.
        for (at, part) in (0..=u8::MAX)
            .zip(parts)
            .collect::<Vec<_>>()
            .into_iter()
            .rev()
        {
            if rows.len() == BUTTONS_MAX {
                break;
            }
            let press = AgainPress::Tick {
                part: at,
                ticked: 0,
            };
            let label = words::part_of(&part.title, part.steps.len());
            rows.push(vec![button(&label, Token::Again(on, press))]);
        }
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::WHICH_STEPS);
        rich.paragraph(Style::Plain, words::WHICH_STEPS_HOW);
        if parts.len() >= rows.len() {
            let left_out = parts.len() + 1 - rows.len();
            rich.paragraph(Style::Plain, &words::parts_left_out(left_out));
        }
        self.offer(&rich, rows);
    }

    /// The steps of a part with their boxes; a press changes the buttons of the message.
    fn tick_steps(
        &self,
        on: On,
        (number, part): (u8, &Part),
        (ticked, message): (u64, Option<i32>),
    ) {
        let mut rows: Rows = Vec::new();
        for (at, (_, label)) in part.steps.iter().enumerate() {
            let bit = 1u64 << at;
            let mark = if ticked & bit == 0 { "☐" } else { "☑" };
            let press = AgainPress::Tick {
                part: number,
                ticked: ticked ^ bit,
            };
            rows.push(vec![button(
                &format!("{mark} {label}"),
                Token::Again(on, press),
            )]);
        }
        let send = AgainPress::Send {
            part: number,
            ticked,
        };
        if ticked != 0 {
            rows.push(vec![button(words::THESE_AGAIN, Token::Again(on, send))]);
        }
        let parts = Token::Again(on, AgainPress::Parts);
        rows.push(vec![button(words::OTHER_PART, parts)]);
        match message.filter(|_| ticked != 0) {
            Some(message) => {
                let markup = InlineKeyboardMarkup::new(rows);
                let what = What::Keyboard { message, markup };
                let kind = Kind::Keyboard(message);
                self.talk.sender.send(self.place, kind, vec![what]);
            }
            None => {
                let mut rich = Rich::default();
                rich.push(Style::Bold, &part.title);
                rich.paragraph(Style::Plain, words::TICK_STEPS);
                self.offer(&rich, rows);
            }
        }
    }

    /// Asks for the remark; the question carries which steps it is about, and of which state of the
    /// job: the places of steps mean others in another.
    fn ask_remark(&self, on: On, line: &str, places: &[usize]) {
        let On { job, revision } = on;
        let reference = reference(job);
        let steps = words::steps(places);
        let question = format!(
            "{} {reference}-{revision}{steps}: {line}.",
            words::SEND_BACK
        );
        self.ask(&question, "what is to be put right");
    }
}

/// The steps that a question for a remark is about.
pub(super) fn asked_about(head: &str, steps: &[(StepRef, String)]) -> Vec<StepRef> {
    let numbers = head.split(words::STEPS).nth(1).unwrap_or_default();
    let places = numbers
        .split(',')
        .filter_map(|text| text.trim().parse::<usize>().ok());
    let at = |place: usize| Some(steps.get(place.checked_sub(1)?)?.0.clone());
    places.filter_map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(flows: &[(&str, usize)]) -> Vec<(StepRef, String)> {
        let mut all = Vec::new();
        for (flow, count) in flows {
            for at in 0..*count {
                let text = format!("{flow}/1/step-{at}");
                all.push((text.parse().unwrap(), format!("{flow}: Step {at}")));
            }
        }
        all
    }

    #[test]
    fn every_step_stands_in_one_part_however_many_there_are() {
        let steps = steps(&[("arrive", 3), ("make-safe", 150), ("mount", 1)]);
        let parts = parts(&steps);
        let places: Vec<usize> = parts
            .iter()
            .flat_map(|part| part.steps.iter().map(|(place, _)| *place))
            .collect();
        assert_eq!(places, (1..=steps.len()).collect::<Vec<_>>());
        assert!(parts.iter().all(|part| part.steps.len() <= STEPS_MAX));
    }

    #[test]
    fn the_question_says_which_steps_it_is_about() {
        let steps = steps(&[("arrive", 4)]);
        let head = format!(" 0123456789{}", words::steps(&[2, 4]));
        let about = asked_about(&head, &steps);
        assert_eq!(about, [steps[1].0.clone(), steps[3].0.clone()]);
        assert!(asked_about(" 0123456789", &steps).is_empty());
    }
}
