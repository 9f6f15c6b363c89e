//! What the people of the demo answer to a screen.

use std::collections::BTreeMap;

use crate::flow::name::{FlowName, StepName};
use crate::walk::prompt::{Button, Prompt};

/// Answers by step, or by flow/step where two flows name a step alike.
const USUAL: &str = include_str!("answers.yaml");

/// The answers of one job.
pub(super) struct Answers {
    by_step: BTreeMap<String, String>,
}

impl Answers {
    /// The usual answers, some of them changed.
    ///
    /// # Errors
    /// When the usual answers cannot be read; a test sees to it that they can.
    pub(super) fn with(changed: &[(&str, &str)]) -> Result<Answers, String> {
        let usual: Result<BTreeMap<String, String>, _> = serde_yaml::from_str(USUAL);
        let mut by_step = usual.map_err(|error| error.to_string())?;
        for (step, answer) in changed {
            by_step.insert((*step).to_owned(), (*answer).to_owned());
        }
        Ok(Answers { by_step })
    }

    /// The answer at a step, if there is one.
    pub(super) fn at(&self, place: Option<&(FlowName, StepName)>) -> Option<&str> {
        let (flow, step) = place?;
        let found = self.by_step.get(&format!("{flow}/{step}"));
        let found = found.or_else(|| self.by_step.get(step.as_str()));
        found.map(String::as_str)
    }
}

/// The button to press: the answer's, else the first; in a test for absence of voltage the better
/// meter and whole leads. Where a screen keeps coming back, another one with each `turn`.
pub(super) fn button<'b>(
    prompt: &Prompt,
    buttons: &'b [Button],
    (answer, turn): (Option<&str>, usize),
) -> Option<&'b Button> {
    let answer = match answer {
        None if prompt.say.contains("rating printed") => Some("cat_iii_1000"),
        None if prompt.say.contains("both leads") => Some("whole"),
        answer => answer,
    };
    let is_it = |button: &Button| Some(button.key.as_str()) == answer;
    let first = buttons.iter().position(is_it).unwrap_or(0);
    buttons.get((first + turn) % buttons.len().max(1))
}

/// What to type for a reading: the answer, else what a meter shows, else the screen's example.
pub(super) fn reading(prompt: &Prompt, example: &str, answer: Option<&str>) -> String {
    match answer {
        Some(answer) => answer.to_owned(),
        None if example.is_empty() => meter(&prompt.say).to_owned(),
        None => example.to_owned(),
    }
}

/// What a meter shows on a source that is there, and on a point that is dead. In such a test no
/// screen gives an example.
fn meter(asked: &str) -> &'static str {
    match (asked.contains("known source"), asked.contains("DC")) {
        (true, true) => "9.2 V",
        (true, false) => "121 V",
        (false, _) => "0.2 V",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::embedded;

    #[test]
    fn every_answer_belongs_to_a_step_of_the_shipped_flows() {
        let library = embedded::library().unwrap();
        let mut steps = std::collections::BTreeSet::new();
        for flow in library.flows().values() {
            for step in flow.steps.keys() {
                steps.insert(step.to_string());
                steps.insert(format!("{}/{step}", flow.name));
            }
        }
        let answers = Answers::with(&[]).unwrap();
        let strange: Vec<&String> = answers
            .by_step
            .keys()
            .filter(|step| !steps.contains(*step))
            .collect();
        assert_eq!(strange, Vec::<&String>::new());
    }
}
