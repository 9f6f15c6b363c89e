//! Answers to the step at hand.

use super::competence::beside_roles;
use super::draft::Draft;
use super::input::Input;
use super::proof::Given;
use super::reading::fits_a_sentence;
use super::reading::{self, Wanted};
use super::refusal::Refusal;
use super::share::{is_open_to_all, is_open_to_its_roles};
use crate::flow::model::{Act, Fact, FactType, Flow, Measure, Range, Role, Step};
use crate::flow::name::{ChoiceKey, FactName};
use crate::record::entry::{Answer, Band, FactRef, TypedReading, What};
use crate::trade::quantity::Quantity;

/// The button of a list that says of all steps at its beginning that they are done.
pub(super) const ALL_DONE: &str = "all_done";

impl Draft<'_> {
    /// Takes an answer to the step at hand and goes on.
    pub(super) fn answer(&mut self, input: &Input) -> Result<(), Refusal> {
        let (flow, step) = self.here()?;
        if let Input::StandBeside = input {
            return self.stand_beside(flow, step);
        }
        if let Act::Hold { role, .. } = &step.act {
            return self.release((flow, step), *role, input);
        }
        self.may_answer(flow, step)?;
        let is_helped = self.who()? == self.state.holder && self.state.doing.beside.is_some();
        if !is_helped {
            self.stand_on_sign_offs(flow, step)?;
        }
        match (&step.act, input) {
            (Act::ProveDead(proof), Input::Press { key, .. }) => {
                self.answer_proof(step, proof, Given::Key(key))
            }
            (Act::ProveDead(proof), Input::Text(text)) => {
                self.answer_proof(step, proof, Given::Text(text))
            }
            (Act::Tell { .. } | Act::Confirm { .. }, Input::Press { key, .. }) => {
                only_go(key)?;
                self.done(step)
            }
            (Act::WorkOut(work), Input::Press { key, .. }) => {
                only_go(key)?;
                let failed = self
                    .state
                    .doing
                    .worked
                    .as_ref()
                    .is_some_and(|worked| worked.results.is_err());
                if failed {
                    self.record(step, Answer::Done, None, None);
                    return self.go(step, &work.unable.it);
                }
                self.done(step)
            }
            (Act::Wait { .. }, Input::Press { key, .. }) => {
                only_go(key)?;
                self.wait_is_over()?;
                self.done(step)
            }
            (Act::Choose { fact }, Input::Press { key, .. }) => {
                self.chosen(flow, step, fact, std::slice::from_ref(key))
            }
            (Act::Choose { fact }, Input::Tick { keys, .. }) => self.chosen(flow, step, fact, keys),
            (Act::Measure(measure), Input::Text(text)) => self.measured(flow, step, measure, text),
            (Act::Write { fact }, Input::Text(text)) => self.written(flow, step, fact, text),
            (Act::Photo { fact }, Input::Photo(photo)) => {
                let answer = Answer::Photo {
                    photo: photo.clone(),
                };
                self.answered(step, answer, Some(fact.clone()), None)
            }
            (Act::Write { fact } | Act::Photo { fact }, Input::Keep)
                if self.state.before_here(fact).is_none() =>
            {
                self.kept(step, fact)
            }
            (_, Input::Keep) => self.still_so(flow, step),
            (act, _) => Err(Refusal::WrongShape(wanted_shape(act).to_owned())),
        }
    }

    /// Whether the person who acts may answer this step at all.
    fn may_answer(&self, flow: &Flow, step: &Step) -> Result<(), Refusal> {
        let who = self.who()?;
        let in_role = step.by.iter().any(|role| self.context.roles.contains(role));
        let for_roles = is_open_to_its_roles(&self.state, flow, step);
        let is_open = (in_role && for_roles) || is_open_to_all(&self.state, flow, step);
        if who != self.state.holder && !is_open {
            return match self.state.shared && (step.by.is_empty() || !for_roles) {
                true => Err(Refusal::HandsOn {
                    holder: "one person".to_owned(),
                }),
                false => self.only_holder().map(drop),
            };
        }
        if !step.by.is_empty() && !in_role && self.state.doing.beside.is_none() {
            return Err(Refusal::NeedsRole(step.by.clone()));
        }
        if let Some(source) = self.unprotected(step, who) {
            let label = &self.state.sources[&source].declared.label;
            return Err(Refusal::LockRule(format!(
                "{label} is not proved dead with your own lock on it. Hands off."
            )));
        }
        let beside = self.state.doing.beside;
        if let Some(source) = beside.and_then(|beside| self.unprotected(step, beside)) {
            let label = &self.state.sources[&source].declared.label;
            return Err(Refusal::LockRule(format!(
                "{label}: the lock of whoever stands beside you is not on it. Hands off."
            )));
        }
        Ok(())
    }

    /// A qualified person confirms from their own account to stand beside the apprentice.
    fn stand_beside(&mut self, flow: &Flow, step: &Step) -> Result<(), Refusal> {
        let who = self.who()?;
        let qualified = beside_roles(step);
        if qualified.is_empty() {
            let sentence = match step.leads {
                Some(_) => {
                    "Nobody stands beside here. Take the job over: these leads are yours \
                            from your own account, behind your own lock and proof."
                }
                None => "This step needs nobody beside.",
            };
            return Err(Refusal::NotNow(sentence.to_owned()));
        }
        if who == self.state.holder
            || !qualified
                .iter()
                .any(|role| self.context.roles.contains(role))
        {
            return Err(Refusal::NeedsRole(qualified));
        }
        self.stand_on_sign_offs(flow, step)?;
        if let Some(source) = self.unprotected(step, who) {
            let label = &self.state.sources[&source].declared.label;
            return Err(Refusal::LockRule(format!(
                "{label}: hang your own lock on it before you stand beside somebody who has their \
                 hands in."
            )));
        }
        self.push(What::StandsBeside {
            step: step.name.clone(),
        });
        Ok(())
    }

    fn release(
        &mut self,
        (flow, step): (&Flow, &Step),
        role: Role,
        input: &Input,
    ) -> Result<(), Refusal> {
        let Input::Press { key, .. } = input else {
            return Err(Refusal::NeedsRole(vec![role]));
        };
        let who = self.only_role(role)?;
        only_go(key)?;
        self.stand_on_sign_offs(flow, step)?;
        if let Some(source) = self.unprotected(step, who) {
            let label = &self.state.sources[&source].declared.label;
            return Err(Refusal::LockRule(format!(
                "{label}: hang your own lock on it first."
            )));
        }
        self.push(What::Released {
            step: step.name.clone(),
            role,
        });
        self.set_sources(step)?;
        self.go_on(step)
    }

    fn done(&mut self, step: &Step) -> Result<(), Refusal> {
        self.answered(step, Answer::Done, None, None)
    }

    /// Records an answer, does what it does to sources, and takes the branch.
    fn answered(
        &mut self,
        step: &Step,
        answer: Answer,
        fact: Option<FactName>,
        band: Option<Band>,
    ) -> Result<(), Refusal> {
        self.record(step, answer, fact, band);
        self.set_sources(step)?;
        self.go_on(step)
    }

    fn record(&mut self, step: &Step, answer: Answer, fact: Option<FactName>, band: Option<Band>) {
        let amends = fact.as_ref().is_some_and(|fact| self.amends(fact, &answer));
        self.push(What::Answered {
            step: step.name.clone(),
            answer,
            fact,
            amends,
            beside: self.state.doing.beside,
            band,
        });
        // Of a step done by itself it is not known yet whether anything follows from it.
        let by_itself = self.alone_at(step).is_some();
        if amends && !by_itself && !self.state.ahead.is_empty() {
            self.push(What::Unconfirmed {
                facts: self.state.ahead.clone(),
            });
        }
    }

    /// Whether this answer changes one that was gone back over.
    fn amends(&self, fact: &FactName, answer: &Answer) -> bool {
        let Some(call) = self.state.top() else {
            return false;
        };
        let at = FactRef {
            flow: call.flow.clone(),
            instance: call.instance,
            fact: fact.clone(),
        };
        let before = self.state.room().and_then(|room| room.facts.get(fact));
        self.state.ahead.contains(&at)
            && before.is_some_and(|known| answer.value().as_ref() != Some(&known.value))
    }

    fn wait_is_over(&self) -> Result<(), Refusal> {
        let Some(until) = self.state.doing.until else {
            return Ok(());
        };
        let left = until.as_second() - self.context.now.as_second();
        if self.state.doing.wait_over || left <= 0 {
            return Ok(());
        }
        Err(Refusal::TooEarly { seconds_left: left })
    }

    pub(super) fn chosen(
        &mut self,
        flow: &Flow,
        step: &Step,
        fact: &FactName,
        keys: &[ChoiceKey],
    ) -> Result<(), Refusal> {
        let Some(declared) = flow.facts.get(fact) else {
            return Err(Refusal::Stale);
        };
        let answer = match (&declared.holds, keys) {
            (FactType::OneOf(choices), [key]) => {
                let label = choices.get(key).ok_or(Refusal::Stale)?;
                Answer::Choice {
                    key: key.clone(),
                    label: label.clone(),
                }
            }
            (FactType::SomeOf(choices), keys) => {
                // In the order of the flow, each at most once, whatever came in.
                let chosen = choices.iter().filter(|(key, _)| keys.contains(key));
                let chosen: Vec<_> = chosen
                    .map(|(k, label)| (k.clone(), label.clone()))
                    .collect();
                if chosen.len() != keys.len() {
                    return Err(Refusal::Stale);
                }
                Answer::Choices { chosen }
            }
            _ => return Err(Refusal::WrongShape("Press one of the buttons.".to_owned())),
        };
        self.answered(step, answer, Some(fact.clone()), None)
    }

    pub(super) fn written(
        &mut self,
        flow: &Flow,
        step: &Step,
        fact: &FactName,
        text: &str,
    ) -> Result<(), Refusal> {
        let most = match flow.facts.get(fact).map(|fact| &fact.holds) {
            Some(FactType::Text { characters_max }) => *characters_max as usize,
            _ => 0,
        };
        let text = clean(text);
        if text.is_empty() {
            return Err(Refusal::WrongShape("I need a few words here.".to_owned()));
        }
        let long = text.chars().count();
        if long > most {
            return Err(Refusal::WrongShape(format!(
                "That is {long} characters; {most} fit here. Say it shorter."
            )));
        }
        self.answered(step, Answer::Text { text }, Some(fact.clone()), None)
    }

    fn kept(&mut self, step: &Step, fact: &FactName) -> Result<(), Refusal> {
        let known = self.state.room().and_then(|room| room.facts.get(fact));
        let Some(answer) = known.and_then(|known| known.answer.clone()) else {
            return Err(Refusal::WrongShape(
                "There is no earlier answer to keep.".to_owned(),
            ));
        };
        self.answered(step, answer, Some(fact.clone()), None)
    }

    pub(super) fn measured(
        &mut self,
        flow: &Flow,
        step: &Step,
        measure: &Measure,
        text: &str,
    ) -> Result<(), Refusal> {
        let Some(fact) = flow.facts.get(&measure.fact) else {
            return Err(Refusal::Stale);
        };
        match &fact.holds {
            FactType::Measures { .. } => self.read(fact, step, measure, text),
            FactType::Counts { noun, from, to } => {
                let number =
                    reading::parse_count(text, noun, *from, *to).map_err(reading::refusal)?;
                self.numbered(step, measure, f64::from(number), text)
            }
            FactType::Number { noun } => {
                let plausible = self.numbers(measure.plausible.as_ref())?;
                let number = reading::parse_number_within(text, noun, plausible)
                    .map_err(reading::refusal)?;
                self.numbered(step, measure, number, text)
            }
            _ => Err(Refusal::Stale),
        }
    }

    fn numbered(
        &mut self,
        step: &Step,
        measure: &Measure,
        number: f64,
        text: &str,
    ) -> Result<(), Refusal> {
        let answer = Answer::Number {
            number,
            typed: clean(text),
        };
        self.answered(step, answer, Some(measure.fact.clone()), None)
    }

    fn read(
        &mut self,
        fact: &Fact,
        step: &Step,
        measure: &Measure,
        text: &str,
    ) -> Result<(), Refusal> {
        let FactType::Measures { kind, show_in } = &fact.holds else {
            return Err(Refusal::Stale);
        };
        let mut wanted = Wanted::new(*kind).shown_in(show_in);
        if let Some(plausible) = &measure.plausible {
            let band = self.band(plausible)?;
            wanted = wanted.plausible(band.low.si, band.high.si);
        }
        if let Some(example) = &measure.example {
            wanted = wanted.example(example);
        }
        let typed = reading::parse(text, &wanted).map_err(reading::refusal)?;
        let reading = TypedReading {
            value: typed.quantity,
            typed: clean(text),
            unit: typed.unit.symbol.to_owned(),
        };
        let band = measure
            .expect
            .as_ref()
            .map(|expect| self.band(expect))
            .transpose()?;
        let first = self.state.doing.first_reading.is_none();
        if let (Some(band), true) = (band, first)
            && !band.holds(reading.value)
        {
            self.push(What::ReadAgain {
                step: step.name.clone(),
                reading,
                band,
            });
            return Ok(());
        }
        self.answered(
            step,
            Answer::Reading { reading },
            Some(measure.fact.clone()),
            band,
        )
    }

    /// The ends of a range of plain numbers.
    fn numbers(&self, range: Option<&Range>) -> Result<Option<(f64, f64)>, Refusal> {
        let end = |expression: &crate::flow::expression::Expression| {
            let value = expression.number(&self.state.facts());
            value.map_err(|missing| self.unknown(missing))
        };
        range
            .map(|range| Ok((end(&range.from)?, end(&range.to)?)))
            .transpose()
    }

    fn band(&self, range: &Range) -> Result<Band, Refusal> {
        let end = |expression: &crate::flow::expression::Expression| {
            let value = expression.quantity(&self.state.facts());
            value.map_err(|missing| self.unknown(missing))
        };
        let (low, high): (Quantity, Quantity) = (end(&range.from)?, end(&range.to)?);
        Ok(Band { low, high })
    }
}

/// The button of a step that has only one.
fn only_go(key: &ChoiceKey) -> Result<(), Refusal> {
    if key.as_str() == super::GO {
        Ok(())
    } else {
        Err(Refusal::Stale)
    }
}

/// Text without control characters, without marks that turn it, and without space around it.
pub(super) fn clean(text: &str) -> String {
    let plain = |c: char| c == '\n' || fits_a_sentence(c);
    text.chars()
        .filter(|c| plain(*c))
        .collect::<String>()
        .trim()
        .to_owned()
}

fn wanted_shape(act: &Act) -> &'static str {
    match act {
        Act::Tell { .. } | Act::Confirm { .. } | Act::WorkOut(_) => {
            "Press the button under the message when you are ready."
        }
        Act::Choose { .. } => "Press one of the buttons under the message.",
        Act::Measure(_) => "Type the reading as a number with its unit.",
        Act::Photo { .. } => "Send a photo here.",
        Act::Write { .. } => "Type your answer in a few words.",
        Act::Wait { .. } => "Wait until the time is over. Then the button comes.",
        Act::ProveDead(_) => "Type what the meter reads, or press a button.",
        Act::Hold { .. } | Act::Run(_) | Act::Finish { .. } => "There is nothing to answer here.",
    }
}
