//! What the step at hand asks of the person who may answer it.

use super::GO;
use super::before::offer;
use super::prompt::Button;
use super::prompt::{Ask, Note, Prompt, Tone};
use super::proof::{self, Part};
use super::show::{Screen, button};
use crate::flow::model::{Act, FactType, Flow, Measure, Step};
use crate::flow::name::{ChoiceKey, FactName};
use crate::record::entry::Answer;

/// Fills in what `step` asks.
pub(super) fn fill(screen: &Screen<'_>, prompt: &mut Prompt, flow: &Flow, step: &Step) {
    match &step.act {
        Act::Tell { button: label } | Act::Confirm { button: label } => {
            prompt.ask = Ask::Press(vec![button(GO, label.clone())]);
        }
        Act::Choose { fact } => choose(screen, prompt, flow, fact),
        Act::Measure(measure) => reading(screen, prompt, flow, measure),
        Act::Photo { fact } => {
            if let Some(FactType::Photo { of }) = flow.facts.get(fact).map(|fact| &fact.holds) {
                prompt.ask = Ask::Photo { of: of.clone() };
            }
            keep(screen, prompt, fact, "Keep the photo sent before");
        }
        Act::Write { fact } => {
            if let Some(FactType::Text { characters_max }) =
                flow.facts.get(fact).map(|fact| &fact.holds)
            {
                prompt.ask = Ask::Words {
                    characters_max: *characters_max,
                };
            }
            keep(screen, prompt, fact, "Keep what I wrote before");
        }
        Act::Wait { .. } => wait(screen, prompt),
        Act::WorkOut(_) => worked(screen, prompt),
        Act::ProveDead(proof) => prove(screen, prompt, proof),
        Act::Hold { .. } | Act::Run(_) | Act::Finish { .. } => {}
    }
}

fn choose(screen: &Screen<'_>, prompt: &mut Prompt, flow: &Flow, fact: &FactName) {
    let buttons = |choices: &indexmap::IndexMap<ChoiceKey, String>| -> Vec<Button> {
        choices
            .iter()
            .map(|(key, label)| Button {
                key: key.clone(),
                label: label.clone(),
            })
            .collect()
    };
    match flow.facts.get(fact).map(|fact| &fact.holds) {
        Some(FactType::OneOf(choices)) => prompt.ask = Ask::Press(buttons(choices)),
        Some(FactType::SomeOf(choices)) => {
            prompt.ask = Ask::Tick {
                options: buttons(choices),
                done: "That is all".to_owned(),
            };
        }
        _ => {}
    }
    before(screen, prompt, fact);
}

/// An earlier answer, for information: it is never filled in.
fn before(screen: &Screen<'_>, prompt: &mut Prompt, fact: &FactName) {
    let known = screen.state.room().and_then(|room| room.facts.get(fact));
    if let Some(answer) = known.and_then(|known| known.answer.as_ref()) {
        let text = format!("Your answer before: {}.", answer.words());
        prompt.notes.push(Note {
            tone: Tone::Plain,
            text,
        });
    }
    offer(screen, prompt, fact);
}

fn keep(screen: &Screen<'_>, prompt: &mut Prompt, fact: &FactName, label: &str) {
    before(screen, prompt, fact);
    let known = screen.state.room().and_then(|room| room.facts.get(fact));
    let has_answer = known.is_some_and(|known| known.answer.is_some());
    if has_answer {
        prompt.keep = Some(label.to_owned());
    }
}

fn reading(screen: &Screen<'_>, prompt: &mut Prompt, flow: &Flow, measure: &Measure) {
    let Some(fact) = flow.facts.get(&measure.fact) else {
        return;
    };
    let (example, units) = match &fact.holds {
        FactType::Measures { kind, show_in } => {
            let mut units: Vec<&'static str> = kind.units().map(|unit| unit.symbol).collect();
            units.retain(|symbol| *symbol != show_in.symbol);
            units.insert(0, show_in.symbol);
            (format!("12 {}", show_in.symbol), units)
        }
        FactType::Counts { .. } => ("4".to_owned(), Vec::new()),
        _ => ("0.15".to_owned(), Vec::new()),
    };
    let example = measure.example.clone().unwrap_or(example);
    prompt.ask = Ask::Reading { example, units };
    if let Some((reading, band)) = &screen.state.doing.first_reading {
        let unit = reading
            .value
            .kind
            .units()
            .find(|unit| unit.symbol == reading.unit);
        let unit = unit.unwrap_or_else(|| reading.value.kind.usual_unit());
        prompt.notes.push(Note {
            tone: Tone::Warning,
            text: format!(
                "{} is outside {} to {}. It is kept. Measure again and type what you read now.",
                reading.words(),
                band.low.show(unit),
                band.high.show(unit)
            ),
        });
    } else {
        before(screen, prompt, &measure.fact);
    }
}

fn wait(screen: &Screen<'_>, prompt: &mut Prompt) {
    let doing = &screen.state.doing;
    prompt.ask = match doing.until {
        Some(until) if !doing.wait_over && screen.now < until => Ask::Wait { until },
        _ => Ask::Press(vec![button(GO, "The time is over, go on")]),
    };
}

fn worked(screen: &Screen<'_>, prompt: &mut Prompt) {
    if let Some(worked) = &screen.state.doing.worked {
        match &worked.results {
            Ok(results) => {
                if let Some(sentence) = &results.sentence {
                    prompt.notes.push(Note {
                        tone: Tone::Plain,
                        text: sentence.clone(),
                    });
                }
                let warnings = results.warnings.iter();
                prompt.notes.extend(warnings.map(|text| Note {
                    tone: Tone::Warning,
                    text: text.clone(),
                }));
                prompt.working = screen.working();
                prompt.chart = screen.chart();
            }
            Err(cannot) => {
                let text = format!("This cannot be worked out: {cannot}");
                prompt.notes.push(Note {
                    tone: Tone::Warning,
                    text,
                });
            }
        }
    }
    prompt.ask = Ask::Press(vec![button(GO, "Go on")]);
}

fn prove(screen: &Screen<'_>, prompt: &mut Prompt, proof: &crate::flow::model::ProveDead) {
    let parts = proof::parts_here(screen.edition, screen.state, proof);
    let index = screen.state.doing.proof.len();
    let Some(part) = parts.get(index) else { return };
    if index > 0 {
        // The step's own sentence introduces the test; after that each part speaks for itself.
        prompt.say = part.asks();
        prompt.caution = None;
    } else {
        prompt.say = format!("{}\n\n{}", prompt.say, part.asks())
            .trim()
            .to_owned();
    }
    if let Some(caution) = part.caution() {
        prompt.caution = Some(caution.to_owned());
    }
    prompt.notes.push(Note {
        tone: Tone::Plain,
        text: format!(
            "Live-dead-live test, part {} of {}.",
            index + 1,
            parts.len()
        ),
    });
    if let Some(Answer::Reading { reading }) = screen.state.doing.proof.last() {
        prompt.notes.insert(
            0,
            Note {
                tone: Tone::Plain,
                text: format!("Noted: {}.", reading.words()),
            },
        );
    }
    prompt.ask = part_ask(part);
}

fn part_ask(part: &Part) -> Ask {
    if let Some(choices) = part.choices() {
        return Ask::Press(
            choices
                .into_iter()
                .map(|(key, label)| button(key.as_str(), label))
                .collect(),
        );
    }
    if part.reads().is_some() {
        return Ask::Reading {
            example: String::new(),
            units: vec!["V", "mV"],
        };
    }
    Ask::Words {
        characters_max: 100,
    }
}
