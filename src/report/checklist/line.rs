//! The wording of one line of a checklist.

use super::{
    Around, Line, PhotoLine, ReadingLine, Scale, SourceLine, Weight, WorkingLine, Writer, second,
};
use crate::flow::model::{Setting, SourceKind, Step};
use crate::flow::name::{SourceName, StepName};
use crate::record::check_in::{CheckIn, Stage, Why};
use crate::record::entry::{Answer, Band, Entry, SignOff, StepRef, TypedReading, What};
use crate::trade::chart::Chart;
use crate::trade::formula::{Arguments, Results, Value};
use crate::trade::quantity::{Quantity, Unit, plain_number};
use crate::walk::state::{Mode, SourceState};
use crate::walk::{self, State, proof_failure, void_reason};

impl Writer<'_> {
    /// The line of an entry; moves of the walk itself have none.
    pub(super) fn line(&self, entry: &Entry) -> Option<Line> {
        self.answer(entry)
            .or_else(|| self.around_a_step(entry))
            .or_else(|| self.energy(entry))
            .or_else(|| self.course(entry))
    }

    fn blank(&self, entry: &Entry, weight: Weight, said: impl Into<String>) -> Line {
        Line {
            entry: self.seq,
            at: second(entry.at),
            who: self.around.who(entry.who),
            through: entry.channel,
            weight,
            asked: None,
            said: said.into(),
            expected: None,
            reading: None,
            cite: Vec::new(),
            photo: None,
            working: None,
        }
    }

    /// A line that says what the screen asked.
    fn asked(&self, entry: &Entry, step: &StepName, said: impl Into<String>) -> Line {
        let mut line = self.blank(entry, Weight::Answer, said);
        if let Some((step, state)) = self.step(step) {
            line.asked = Some(step.say.fill(&state.facts()));
            line.cite = step.cite.clone();
        }
        line
    }

    fn step(&self, name: &StepName) -> Option<(&Step, &State)> {
        let state = self.state.as_ref()?;
        let call = state.top()?;
        Some((self.edition.step(&call.flow, name)?, state))
    }

    fn answer(&self, entry: &Entry) -> Option<Line> {
        Some(match &entry.what {
            What::Answered {
                step,
                answer,
                amends,
                beside,
                band,
                ..
            } => {
                let mut line = self.asked(entry, step, answer.words());
                line.photo = photo(answer);
                if let Answer::Reading { reading } = answer {
                    judge(&mut line, reading, *band);
                }
                if *amends {
                    line.said.push_str(" (changed from an earlier answer)");
                }
                if let Some(beside) = beside {
                    let name = self.around.name(*beside);
                    line.said.push_str(&format!(" ({name} stood beside)"));
                }
                line
            }
            What::ReadAgain {
                step,
                reading,
                band,
            } => {
                let said = format!("{}, then asked for once more", reading.words());
                let mut line = self.asked(entry, step, said);
                judge(&mut line, reading, Some(*band));
                line
            }
            What::WorkedOut {
                step,
                formula,
                version,
                inputs,
                results,
                ..
            } => {
                let mut line = self.asked(entry, step, main_result(results));
                line.working = Some(working(formula, *version, inputs, results));
                line
            }
            What::ProofPart { asked, answer, .. } => {
                let mut line = self.blank(entry, Weight::Answer, answer.words());
                line.asked = Some(asked.clone());
                line.photo = photo(answer);
                if let Answer::Reading { reading } = answer {
                    judge(&mut line, reading, None);
                }
                line
            }
            What::Released { step, role } => {
                self.asked(entry, step, format!("Released as {}", role.with_article()))
            }
            What::StandsBeside { step } => self.asked(entry, step, "Stands beside for this step"),
            What::WaitBegan { step, until } => {
                self.asked(entry, step, format!("Wait until {}", clock(second(*until))))
            }
            What::WaitOver { .. } => self.blank(entry, Weight::Plain, "The wait is over"),
            _ => return None,
        })
    }

    /// How a step was asked, and on what its answer stands.
    fn around_a_step(&self, entry: &Entry) -> Option<Line> {
        Some(match &entry.what {
            What::StoodOn { step, sign_offs } => {
                let said: Vec<String> = sign_offs.iter().map(|it| self.stood_on(it)).collect();
                self.asked(entry, step, said.join("; "))
            }
            What::StillSo { step, at, .. } => {
                let said = format!("Looked again: still as recorded at {}", clock(second(*at)));
                self.asked(entry, step, said)
            }
            What::CheckIn { of } => self.check_in(entry, of),
            What::AskedTogether { steps } => {
                let said = format!("{} plain steps were shown as one list", steps.len());
                self.blank(entry, Weight::Plain, said)
            }
            _ => return None,
        })
    }

    fn check_in(&self, entry: &Entry, of: &CheckIn) -> Line {
        let plain = |said: String| self.blank(entry, Weight::Plain, said);
        match of {
            CheckIn::Wanted => plain("Check-ins are to be agreed".to_owned()),
            CheckIn::Agreed { minutes } => plain(format!("Check-ins agreed: every {minutes} min")),
            CheckIn::Declined => plain("No check-ins: somebody is there".to_owned()),
            CheckIn::Asked { stage, due } => {
                let late = entry.at.as_second() - due.as_second();
                let late = match late {
                    ..60 => String::new(),
                    late => format!(", {} min late", late / 60),
                };
                match stage {
                    Stage::Gentle => plain(format!("Asked whether they are all right{late}")),
                    Stage::Loud => plain(format!("Asked loudly, for want of an answer{late}")),
                    Stage::Alarm => {
                        let said = format!("No sign of life: others were told{late}");
                        self.blank(entry, Weight::Warning, said)
                    }
                }
            }
            CheckIn::Well => plain("Is all right".to_owned()),
            CheckIn::Found => plain("Reached the person, who is all right".to_owned()),
            CheckIn::Ended { why } => plain(match why {
                Why::Out => "Out of the cold: no more check-ins".to_owned(),
                Why::HandedOver => "Handed over: no more check-ins".to_owned(),
                Why::HandedIn => "Handed in: no more check-ins".to_owned(),
            }),
        }
    }

    /// A sign-off, as the record of what stands on it says it.
    fn stood_on(&self, sign_off: &SignOff) -> String {
        let SignOff { label, at, .. } = sign_off;
        let (person, by) = (
            self.around.name(sign_off.person),
            self.around.name(sign_off.by),
        );
        format!(
            "Has shown: {label} ({person}, signed by {by}, {})",
            clock(second(*at))
        )
    }

    fn energy(&self, entry: &Entry) -> Option<Line> {
        let plain = |said: String| self.blank(entry, Weight::Plain, said);
        let warning = |said: String| self.blank(entry, Weight::Warning, said);
        Some(match &entry.what {
            What::SourceSet { source, setting } => plain(format!(
                "{}: {}",
                self.label(source),
                setting_words(*setting)
            )),
            What::Proved {
                sources,
                instrument,
            } => {
                let labels = self.labels(sources);
                plain(format!("Recorded proved dead: {labels}, with {instrument}"))
            }
            What::ProofFailed { why, .. } => {
                warning(format!("The proof did not pass. {}", proof_failure(why)))
            }
            What::ProofVoided { sources, why } => {
                let labels = self.labels(sources);
                warning(format!(
                    "Proof void: {labels}, because {}",
                    void_reason(*why)
                ))
            }
            What::StateConfirmed => plain("The panel was found as recorded".to_owned()),
            What::OwnLockOn { source } => plain(format!(
                "{}: own lock hung beside the others",
                self.label(source)
            )),
            What::OwnLockOff { source } => {
                plain(format!("{}: own lock taken off", self.label(source)))
            }
            What::LockTakenOff { source, owner } => {
                let owner = self.around.name(*owner);
                warning(format!(
                    "{}: the lock of {owner} was taken off",
                    self.label(source)
                ))
            }
            _ => return None,
        })
    }

    fn course(&self, entry: &Entry) -> Option<Line> {
        let warned = matches!(
            &entry.what,
            What::Stopped
                | What::StopExplained { .. }
                | What::Emergency
                | What::LeftLockedOut { .. }
                | What::SentBack { .. }
        );
        let weight = if warned {
            Weight::Warning
        } else {
            Weight::Plain
        };
        let said = match &entry.what {
            What::Begun { .. } => "The job began".to_owned(),
            What::WentBack { over, .. } => format!("Went back {over} answered step(s)"),
            What::Paused => "Paused".to_owned(),
            What::Resumed => "Went on".to_owned(),
            What::Stopped => "Work was stopped".to_owned(),
            What::StopExplained { why } => format!("Why it was stopped: {why}"),
            What::StopLifted => "Work was let go on".to_owned(),
            What::Emergency => "The emergency screen was asked for".to_owned(),
            What::HandoverOffered { to: Some(to) } => {
                format!("Offered the job to {}", self.around.name(*to))
            }
            What::HandoverOffered { to: None } => "Offered the job to the crew".to_owned(),
            What::HandoverTaken => "Took the job over".to_owned(),
            What::HandoverWithdrawn => "Kept the job".to_owned(),
            What::Shared => "Opened the job to the crew".to_owned(),
            What::SharingEnded => "Closed the job to the crew".to_owned(),
            What::SupervisorCalled => "Asked for a supervisor".to_owned(),
            What::Finished { label, .. } => format!("The walk ended: {label}"),
            What::LeaveOwner { owner } => format!("Owner of what is open: {owner}"),
            What::LeftLockedOut { owner, again } => {
                format!("Left as it is. Owner: {owner}. Looked at again: {again}")
            }
            What::HandedIn => "Handed in".to_owned(),
            What::Accepted { remark } => with_remark("Accepted", remark),
            What::SentBack { remark, steps } => {
                with_remark("Sent back", remark) + &self.to_do_again(steps)
            }
            What::WentTo { .. } => "Went to a step that was sent back".to_owned(),
            What::WayStands { at_end: true } => {
                "What was walked after it stands. Every step sent back is done again".to_owned()
            }
            What::WayStands { at_end: false } => "What was walked after it stands".to_owned(),
            _ => return None,
        };
        Some(self.blank(entry, weight, said))
    }

    /// The steps of a job that was sent back, as the end of a line.
    fn to_do_again(&self, steps: &[StepRef]) -> String {
        let names = steps
            .iter()
            .map(|step| walk::step_label(self.edition, step));
        let names: Vec<String> = names.collect();
        match names.is_empty() {
            true => String::new(),
            false => format!(" (to be done again: {})", names.join(" · ")),
        }
    }

    fn label(&self, source: &SourceName) -> String {
        let known = self
            .state
            .as_ref()
            .and_then(|state| state.sources.get(source));
        known.map_or_else(|| source.to_string(), |known| known.declared.label.clone())
    }

    fn labels(&self, sources: &[SourceName]) -> String {
        sources
            .iter()
            .map(|source| self.label(source))
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// Notes the reading, and whether it lies where it was expected.
fn judge(line: &mut Line, reading: &TypedReading, band: Option<Band>) {
    let unit = unit_of(reading);
    let as_expected = band.map(|band| band.holds(reading.value));
    line.expected = band.map(|band| format!("{} to {}", band.low.show(unit), band.high.show(unit)));
    if as_expected == Some(false) {
        line.weight = Weight::Warning;
    }
    let shown = reading.words();
    let value = shown.strip_suffix(unit.symbol).unwrap_or(&shown);
    line.reading = Some(ReadingLine {
        value: value.trim_end().to_owned(),
        unit: unit.symbol.to_owned(),
        as_expected,
        scale: band.map(|band| Scale {
            value: drawn(reading.value, unit),
            low: drawn(band.low, unit),
            high: drawn(band.high, unit),
        }),
    });
}

/// A number to draw, without the dust of its conversion.
fn drawn(quantity: Quantity, unit: &Unit) -> f64 {
    (quantity.in_unit(unit) * 1e6).round() / 1e6
}

/// How the job ended, in words.
pub(super) fn outcome(state: &State) -> Option<String> {
    match &state.mode {
        Mode::Finished { label, .. } => Some(label.clone()),
        Mode::Left { owner, again } => Some(format!(
            "Left as it is. Owner: {owner}. Looked at again: {again}"
        )),
        Mode::Walking | Mode::Paused | Mode::Stopped { .. } | Mode::Leaving { .. } => None,
    }
}

/// How every source that was met stood after the last entry.
pub(super) fn sources(state: &State, around: &Around<'_>) -> Vec<SourceLine> {
    let met = |source: &&SourceState| source.setting.is_some() || source.void.is_some();
    let line = |source: &SourceState| SourceLine {
        label: source.declared.label.clone(),
        setting: source.setting.map_or_else(
            || "nothing was done to it".to_owned(),
            |(setting, at)| format!("{}, {}", setting_words(setting), clock(second(at))),
        ),
        locks: source
            .locks
            .iter()
            .map(|owner| around.name(*owner))
            .collect(),
        proof: match (source.proof, source.void) {
            (Some(proof), _) => {
                let by = around.name(proof.by);
                let at = clock(second(proof.at));
                match source.declared.kind {
                    SourceKind::Electrical | SourceKind::Charge => {
                        format!("recorded proved dead {at} by {by}")
                    }
                    SourceKind::Motion => format!("recorded blocked {at} by {by}"),
                }
            }
            (None, Some(why)) => format!("void, because {}", void_reason(why)),
            (None, None) => format!("not proved: {}", source.unproved()),
        },
    };
    state.sources.values().filter(met).map(line).collect()
}

fn setting_words(setting: Setting) -> &'static str {
    match setting {
        Setting::Opened => "opened",
        Setting::Locked => "locked",
        Setting::Unlocked => "lock taken off",
        Setting::Closed => "switched on again",
        Setting::Waited => "discharge time waited out",
        Setting::Stopped => "stopped",
        Setting::Blocked => "blocked",
        Setting::Freed => "block taken away",
    }
}

/// A time as a reader wants it: `2031-05-04 08:05:00 UTC`.
fn clock(at: jiff::Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M:%S UTC").to_string()
}

fn with_remark(what: &str, remark: &str) -> String {
    if remark.is_empty() {
        what.to_owned()
    } else {
        format!("{what}: {remark}")
    }
}

pub(super) fn photo(answer: &Answer) -> Option<PhotoLine> {
    let Answer::Photo { photo } = answer else {
        return None;
    };
    Some(PhotoLine {
        stored: photo.stored.clone(),
        original: photo.original.clone(),
        taken: photo.taken.clone(),
    })
}

pub(super) fn unit_of(reading: &TypedReading) -> &'static Unit {
    let kind = reading.value.kind;
    let typed = kind.units().find(|unit| unit.symbol == reading.unit);
    typed.unwrap_or_else(|| kind.usual_unit())
}

fn main_result(results: &Result<Results, String>) -> String {
    match results {
        Ok(results) => results.sentence.clone().unwrap_or_else(|| {
            let first = results.values.first();
            first.map_or_else(String::new, |(name, value)| {
                format!("{}: {}", spaced(name), value_words(value))
            })
        }),
        Err(why) => format!("It could not be worked out: {why}"),
    }
}

fn working(
    formula: &str,
    version: u16,
    inputs: &Arguments,
    results: &Result<Results, String>,
) -> WorkingLine {
    let known = crate::trade::formula_named(formula);
    let pair = |(name, value): (&String, &Value)| (spaced(name), value_words(value));
    let (given, warnings) = match results {
        Ok(results) => (
            results
                .values
                .iter()
                .map(|(name, value)| pair((name, value)))
                .collect(),
            results.warnings.clone(),
        ),
        Err(why) => (Vec::new(), vec![why.clone()]),
    };
    WorkingLine {
        formula: formula.to_owned(),
        version,
        symbols: known
            .map(|formula| formula.symbols.to_owned())
            .unwrap_or_default(),
        source: known
            .map(|formula| formula.source.to_owned())
            .unwrap_or_default(),
        inputs: inputs.0.iter().map(pair).collect(),
        results: given,
        warnings,
        chart: results
            .as_ref()
            .ok()
            .and_then(|results| Chart::of(formula, inputs, results)),
    }
}

fn spaced(name: &str) -> String {
    name.replace('_', " ")
}

pub(super) fn value_words(value: &Value) -> String {
    match value {
        Value::Quantity(quantity) => quantity.to_string(),
        Value::Quantities(several) => several
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(", "),
        Value::Number(number) => plain_number(*number),
        Value::Word(word) => spaced(word),
        Value::Text(text) => text.clone(),
        Value::Words(words) => words.join(", "),
    }
}
