//! The live-dead-live test: which parts it has, and what each answer means.
//!
//! Order after NFPA 70E-2018, 120.5 (7) and 29 CFR 1910.333(b)(2)(iv)(B): a known live source,
//! the points to be touched, the known live source again. If the second check of the known
//! source fails, every reading in between is void.

use indexmap::IndexMap;

use super::draft::{Draft, source_exists};
use super::reading::{self, Wanted, fits_a_sentence};
use super::refusal::Refusal;
use super::state::State;
use crate::flow::edition::Edition;
use crate::flow::model::{ProveDead, Step};
use crate::flow::name::{ChoiceKey, SourceName};
use crate::record::entry::{Answer, ProofFailure, TypedReading, VoidReason, What};
use crate::trade::quantity::{Kind, Quantity};
use crate::trade::rows;

/// Readings above this are mistypings, volts.
const PLAUSIBLE_MAX: f64 = 1000.0;

/// One part of the test: one screen.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Which meter.
    Instrument,
    /// The meter's category and voltage rating.
    Rating,
    /// The state of its leads.
    Leads,
    /// Which known live source.
    KnownSource(Current),
    /// The known live source before the test.
    Before(Current),
    /// One point of one source.
    Point {
        /// The root's name of the source.
        source: SourceName,
        /// What people call it.
        label: String,
        /// The point.
        point: String,
        /// Alternating or direct.
        current: Current,
    },
    /// The known live source after the test.
    After(Current),
}

/// What the meter is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Current {
    /// AC volts.
    Alternating,
    /// DC volts.
    Direct,
}

impl Current {
    /// `AC` or `DC`.
    pub fn word(self) -> &'static str {
        match self {
            Current::Alternating => "AC",
            Current::Direct => "DC",
        }
    }

    /// The least that a meter can show: with its leads swapped, a charge reads below nought.
    fn least_plausible(self) -> f64 {
        match self {
            Current::Alternating => 0.0,
            Current::Direct => -PLAUSIBLE_MAX,
        }
    }

    fn least_known_source(self) -> &'static str {
        match self {
            Current::Alternating => "known_ac_source_minimum",
            Current::Direct => "known_dc_source_minimum",
        }
    }
}

impl Part {
    /// What is asked.
    pub fn asks(&self) -> String {
        match self {
            Part::Instrument => "Which meter do you use? Type the number on it.".to_owned(),
            Part::Rating => {
                "Read the rating printed by the meter's sockets. What is it?".to_owned()
            }
            Part::Leads => "Look at both leads from plug to tip. What do you see?".to_owned(),
            Part::KnownSource(Current::Alternating) => {
                "Name a known live AC source near by. Never the circuit that you locked.".to_owned()
            }
            Part::KnownSource(Current::Direct) => {
                "Name a known DC source, such as a fresh battery.".to_owned()
            }
            Part::Before(current) => format!(
                "Meter on {} volts. Measure the known source first. What does it read?",
                current.word()
            ),
            Part::Point {
                label,
                point,
                current,
                ..
            } => {
                format!(
                    "{label}. Meter on {} volts, {point}. What does it read?",
                    current.word()
                )
            }
            Part::After(current) => format!(
                "Go back to the same known source, {} volts. What does it read now?",
                current.word()
            ),
        }
    }

    /// The warning that stands above it.
    pub fn caution(&self) -> Option<&'static str> {
        match self {
            Part::Before(_) | Part::After(_) => {
                Some("This source is live. Wear your gloves and eye protection.")
            }
            Part::Point { .. } => Some(
                "Treat it as live until the whole test has passed. Gloves and eye protection on.",
            ),
            _ => None,
        }
    }

    /// The choices, for the parts that are chosen.
    pub fn choices(&self) -> Option<IndexMap<ChoiceKey, &'static str>> {
        let pairs: &[(&str, &'static str)] = match self {
            Part::Rating => &[
                ("lower", "Lower, or I can't read it"),
                ("cat_iii_600", "CAT III 600 V"),
                ("cat_iii_1000", "CAT III 1000 V"),
                ("cat_iv_600", "CAT IV 600 V or more"),
            ],
            Part::Leads => &[
                ("damaged", "A crack, a cut or a loose tip"),
                ("whole", "Whole and clean"),
            ],
            _ => return None,
        };
        Some(
            pairs
                .iter()
                .map(|(key, label)| (ChoiceKey::from(*key), *label))
                .collect(),
        )
    }

    /// What the meter is set to, where it is answered with a reading.
    pub fn reads(&self) -> Option<Current> {
        match self {
            Part::Before(current) | Part::Point { current, .. } | Part::After(current) => {
                Some(*current)
            }
            Part::Instrument | Part::Rating | Part::Leads | Part::KnownSource(_) => None,
        }
    }
}

/// The parts of a test, in order. `label` gives what people call a source that exists here, and
/// nothing for one that does not.
pub fn parts(
    proof: &ProveDead,
    label: impl Fn(&SourceName) -> Option<(SourceName, String)>,
) -> Vec<Part> {
    let mut parts = vec![Part::Instrument, Part::Rating, Part::Leads];
    for current in [Current::Alternating, Current::Direct] {
        let mut points = Vec::new();
        for (local, of) in &proof.sources {
            let Some((source, label)) = label(&local.it) else {
                continue;
            };
            let named = match current {
                Current::Alternating => &of.ac,
                Current::Direct => &of.dc,
            };
            points.extend(named.iter().map(|point| Part::Point {
                source: source.clone(),
                label: label.clone(),
                point: point.clone(),
                current,
            }));
        }
        if !points.is_empty() {
            parts.extend([Part::KnownSource(current), Part::Before(current)]);
            parts.append(&mut points);
            parts.push(Part::After(current));
        }
    }
    parts
}

/// The parts of a test, of the sources that are on this evaporator.
pub(super) fn parts_here(edition: &Edition, state: &State, proof: &ProveDead) -> Vec<Part> {
    parts(proof, |local| {
        let root = state.root_source(local);
        let source = state.sources.get(&root)?;
        source_exists(edition, state, &root).then(|| (root.clone(), source.declared.label.clone()))
    })
}

impl Draft<'_> {
    /// Takes the answer to the part at hand.
    pub(super) fn answer_proof(
        &mut self,
        step: &Step,
        proof: &ProveDead,
        given: Given<'_>,
    ) -> Result<(), Refusal> {
        let who = self.who()?;
        self.may_prove(proof, who)?;
        if self.state.doing.prover.is_some_and(|prover| prover != who) {
            self.break_off_test();
            return Ok(());
        }
        let parts = parts_here(self.edition, &self.state, proof);
        let index = self.state.doing.proof.len();
        let Some(part) = parts.get(index) else {
            return Err(Refusal::NotNow("This test is over.".to_owned()));
        };
        let answer = part_answer(part, given)?;
        self.push(What::ProofPart {
            step: step.name.clone(),
            part: u16::try_from(index).unwrap_or(u16::MAX),
            asked: part.asks(),
            answer: answer.clone(),
        });
        if let Some(why) = failure(part, &answer, proof.limit.quantity()) {
            return self.proof_failed(step, proof, part, why);
        }
        if index + 1 == parts.len() {
            self.passed(step, proof)?;
        }
        Ok(())
    }

    /// A circuit is proved dead only behind the prover's own lock.
    fn may_prove(
        &self,
        proof: &ProveDead,
        who: crate::record::person::PersonId,
    ) -> Result<(), Refusal> {
        use crate::flow::model::SourceKind;
        for (local, _) in &proof.sources {
            let name = self.state.root_source(&local.it);
            let Some(source) = self.state.sources.get(&name) else {
                continue;
            };
            let electrical = source.declared.kind == SourceKind::Electrical;
            let ready = source.is_isolated() && (!electrical || source.locks.contains(&who));
            if self.exists(&name) && !ready {
                let label = &source.declared.label;
                return Err(Refusal::LockRule(if electrical {
                    format!("{label}: hang your own lock on it before you test it.")
                } else {
                    format!("{label}: wait out its discharge time before you test it.")
                }));
            }
        }
        Ok(())
    }

    fn proof_failed(
        &mut self,
        step: &Step,
        proof: &ProveDead,
        part: &Part,
        why: ProofFailure,
    ) -> Result<(), Refusal> {
        let live = matches!(why, ProofFailure::NotDead { .. });
        self.push(What::ProofFailed {
            step: step.name.clone(),
            why,
        });
        if let (true, Part::Point { source, .. }) = (live, part) {
            self.void(vec![source.clone()], VoidReason::FoundLive);
            self.push(What::Went {
                step: proof.not_dead.it.clone(),
            });
        }
        Ok(())
    }

    fn passed(&mut self, step: &Step, proof: &ProveDead) -> Result<(), Refusal> {
        let instrument = match self.state.doing.proof.first() {
            Some(Answer::Text { text }) => text.clone(),
            _ => String::new(),
        };
        let sources = proof
            .sources
            .iter()
            .map(|(local, _)| self.state.root_source(&local.it))
            .filter(|name| self.exists(name))
            .collect();
        self.push(What::Answered {
            step: step.name.clone(),
            answer: Answer::Done,
            fact: None,
            amends: false,
            beside: self.state.doing.beside,
            band: None,
        });
        self.push(What::Proved {
            sources,
            instrument,
        });
        self.go_on(step)
    }
}

/// What a person gave for a part.
#[derive(Clone, Copy)]
pub(super) enum Given<'a> {
    /// A pressed choice.
    Key(&'a ChoiceKey),
    /// Typed text.
    Text(&'a str),
}

fn part_answer(part: &Part, given: Given<'_>) -> Result<Answer, Refusal> {
    match (part.choices(), given) {
        (Some(choices), Given::Key(key)) => match choices.get(key) {
            Some(label) => Ok(Answer::Choice {
                key: key.clone(),
                label: (*label).to_owned(),
            }),
            None => Err(Refusal::Stale),
        },
        (Some(_), Given::Text(_)) => Err(Refusal::WrongShape(
            "Press one of the buttons, please.".to_owned(),
        )),
        (None, Given::Key(_)) => Err(Refusal::Stale),
        (None, Given::Text(text)) => match part.reads() {
            Some(current) => volts(text, current),
            None => few_words(text),
        },
    }
}

fn few_words(text: &str) -> Result<Answer, Refusal> {
    let shown = text.trim().chars().filter(|c| fits_a_sentence(*c));
    let text: String = shown.collect();
    if text.is_empty() || text.chars().count() > 100 {
        return Err(Refusal::WrongShape(
            "I need a few words here, at most 100 characters.".to_owned(),
        ));
    }
    Ok(Answer::Text { text })
}

fn volts(text: &str, current: Current) -> Result<Answer, Refusal> {
    let wanted = Wanted::new(Kind::Voltage).plausible(current.least_plausible(), PLAUSIBLE_MAX);
    let typed = reading::parse(text, &wanted).map_err(reading::refusal)?;
    Ok(Answer::Reading {
        reading: TypedReading {
            value: typed.quantity,
            typed: text.trim().to_owned(),
            unit: typed.unit.symbol.to_owned(),
        },
    })
}

fn failure(part: &Part, answer: &Answer, limit: Quantity) -> Option<ProofFailure> {
    let unfit = |why: &str| {
        Some(ProofFailure::InstrumentUnfit {
            why: why.to_owned(),
        })
    };
    match (part, answer) {
        (Part::Rating, Answer::Choice { key, .. }) if key.as_str() == "lower" => {
            unfit("Its rating is below CAT III 600 V, or cannot be read.")
        }
        (Part::Leads, Answer::Choice { key, .. }) if key.as_str() == "damaged" => {
            unfit("Its leads are damaged.")
        }
        (Part::Before(current), Answer::Reading { reading }) => too_low(*current, reading.value)
            .then_some(ProofFailure::KnownSourceBefore {
                read: reading.value,
            }),
        (Part::After(current), Answer::Reading { reading }) => too_low(*current, reading.value)
            .then_some(ProofFailure::KnownSourceAfter {
                read: reading.value,
            }),
        (Part::Point { point, .. }, Answer::Reading { reading }) => {
            (reading.value.si.abs() > limit.si).then(|| ProofFailure::NotDead {
                point: point.clone(),
                read: reading.value,
            })
        }
        _ => None,
    }
}

fn too_low(current: Current, read: Quantity) -> bool {
    let least = rows::row(current.least_known_source()).map_or(f64::MAX, |row| row.si);
    read.si.abs() < least
}
