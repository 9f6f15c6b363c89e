//! What one job adds, worked out from its record.

use std::collections::BTreeMap;

use jiff::SignedDuration;

use super::JobNumbers;
use crate::flow::edition::Edition;
use crate::flow::expression::Facts;
use crate::flow::model::FactType;
use crate::flow::name::FactName;
use crate::record::entry::{Entry, What};
use crate::trade::formula::{Results, Value};
use crate::walk::state::Mode;
use crate::walk::{self, State};

/// The facts of a root flow that say what was found.
const FOUND: [&str; 2] = ["conclusion", "ice_cause"];

/// The fact of a root flow that says what kind of motor the old one was.
const OLD_TYPE: &str = "old_type";

/// The outcome of a root flow after which at least one fan is a new one.
const REPLACED: &str = "replaced";

/// The formula that works out what was gained.
const GAINS: &str = "gains";

impl JobNumbers {
    /// What a job adds; nothing while its walk goes on, and nothing for a training walk.
    pub fn of(edition: &Edition, entries: &[Entry]) -> Option<JobNumbers> {
        let (state, parts) = walked(edition, entries)?;
        if state.pins.training {
            return None;
        }
        let (outcome, replaced) = match &state.mode {
            Mode::Finished { outcome, label } => (label.clone(), outcome.as_str() == REPLACED),
            Mode::Left { .. } => ("Left with an owner".to_owned(), false),
            Mode::Walking | Mode::Paused | Mode::Stopped { .. } | Mode::Leaving { .. } => {
                return None;
            }
        };
        let has = |is: fn(&What) -> bool| entries.iter().filter(|entry| is(&entry.what)).count();
        let mut job = JobNumbers {
            outcome,
            handed_in: has(|what| matches!(what, What::HandedIn)) > 0,
            accepted: has(|what| matches!(what, What::Accepted { .. })) > 0,
            sent_back: has(|what| matches!(what, What::SentBack { .. })) as u32,
            found: FOUND
                .iter()
                .filter_map(|fact| found(edition, &state, fact))
                .collect(),
            parts,
            ..JobNumbers::default()
        };
        if replaced {
            gained(edition, &state, &mut job);
        }
        Some(job)
    }
}

/// The state at the end, and the seconds of work in each part of the job: what the root runs, by
/// its title. Pauses, stops and the way through review are no work.
fn walked(edition: &Edition, entries: &[Entry]) -> Option<(State, BTreeMap<String, u64>)> {
    let mut entries = entries.iter();
    let mut state = State::fold(entries.next())?;
    let mut parts: BTreeMap<String, SignedDuration> = BTreeMap::new();
    for entry in entries {
        if state.mode == Mode::Walking {
            let part = state.stack.get(1).or(state.stack.first());
            let flow = part.and_then(|call| edition.flow(&call.flow));
            if let Some(flow) = flow {
                *parts.entry(flow.title.clone()).or_default() +=
                    entry.at.duration_since(state.last_at);
            }
        }
        walk::apply(&mut state, entry);
    }
    let seconds = |time: SignedDuration| u64::try_from(time.as_secs()).unwrap_or_default();
    let parts = parts.into_iter();
    let parts = parts.map(|(part, time)| (part, seconds(time)));
    Some((state, parts.collect()))
}

/// What a fact of the root says, in its words: `Failed part: Motor`.
fn found(edition: &Edition, state: &State, name: &str) -> Option<String> {
    let (what, says) = worded(edition, state, name)?;
    Some(format!("{what}: {says}"))
}

/// The label of a root's fact and of its choice.
fn worded(edition: &Edition, state: &State, name: &str) -> Option<(String, String)> {
    let fact = edition.root_flow()?.facts.get(name)?;
    let facts = state.root_facts();
    let Value::Word(key) = facts.value(&FactName::from(name))? else {
        return None;
    };
    let FactType::OneOf(choices) = &fact.holds else {
        return None;
    };
    Some((fact.label.clone(), choices.get(key.as_str())?.clone()))
}

fn gained(edition: &Edition, state: &State, job: &mut JobNumbers) {
    let old = worded(edition, state, OLD_TYPE).map(|(_, says)| says);
    let old = old.unwrap_or_else(|| "Type not known".to_owned());
    let worked = state.worked.get(GAINS);
    let motors = worked.and_then(|worked| match worked.inputs.0.get("motors") {
        Some(Value::Number(motors)) if *motors >= 1.0 => Some(*motors as u32),
        _ => None,
    });
    job.replaced = Some((old, motors.unwrap_or(1)));
    let results = worked.and_then(|worked| worked.results.as_ref().ok());
    let Some(results) = results else { return };
    job.saved_milliwatts = thousandths(results, "saved");
    job.heat_milliwatts = thousandths(results, "heat");
    // Joules to watt-hours.
    job.saved_watt_hours = (thousandths(results, "energy") as f64 / 3_600_000.0).round() as i64;
}

/// A result in thousandths of its SI unit.
fn thousandths(results: &Results, name: &str) -> i64 {
    match results.get(name) {
        Some(Value::Quantity(quantity)) if quantity.si.is_finite() => {
            (quantity.si * 1_000.0).round() as i64
        }
        _ => 0,
    }
}
