//! What an evaporator is remembered by once a job is over: what stays known of it, and readings.
//!
//! Training walks leave nothing here.

use std::borrow::Cow;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Desk;
use super::error::DeskError;
use super::id::{EvaporatorId, JobId};
use super::tables::{key as row_key, latest_first, list, read, written};
use crate::flow::edition::Edition;
use crate::flow::model::{Fact, Flow, Stays};
use crate::flow::name::{FactName, FlowName};
use crate::record::entry::{Answer, Band, Entry, TypedReading, What};
use crate::store::{IndexChange, IndexRow, Table};
use crate::walk::{self, State};

/// So many readings of one fact are shown: the last ones.
pub const READINGS_SHOWN: usize = 12;

/// How many rows are read at once.
const ROWS_AT_ONCE: usize = 256;

/// Something that stays known of an evaporator.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StaysKnown {
    /// What it is called.
    pub label: String,
    /// The answer in words.
    pub words: String,
    /// When it was recorded.
    pub at: Timestamp,
    /// In which job.
    pub job: JobId,
}

/// One reading on an evaporator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingOfJob {
    /// It.
    pub reading: TypedReading,
    /// What it was expected to be.
    pub band: Option<Band>,
    /// When it was taken.
    pub at: Timestamp,
    /// In which job.
    pub job: JobId,
}

/// The readings of one fact over the jobs on an evaporator.
#[derive(Clone, Debug, PartialEq)]
pub struct Trend {
    /// What was read.
    pub label: String,
    /// The last ones, the earliest first.
    pub readings: Vec<ReadingOfJob>,
    /// Whether there are earlier ones.
    pub has_earlier: bool,
}

/// As what something is remembered of an evaporator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Remembered {
    /// What it is.
    Nameplate,
    /// What its fan was left at.
    Setting,
    /// Who looks again, and when.
    LookAgain,
}

impl Remembered {
    /// As what a fact of a flow is remembered, if it is.
    fn of(flow: &Flow, name: &FactName, fact: &Fact) -> Option<Remembered> {
        let looks = flow.look_again.as_ref();
        if looks.is_some_and(|looks| looks.owner == *name || looks.date == *name) {
            return Some(Remembered::LookAgain);
        }
        fact.stays.map(|stays| match stays {
            Stays::Nameplate => Remembered::Nameplate,
            Stays::Setting => Remembered::Setting,
        })
    }

    /// One stable byte for keys; a code is never given to another meaning.
    fn code(self) -> u8 {
        match self {
            Remembered::Nameplate => 1,
            Remembered::Setting => 2,
            Remembered::LookAgain => 3,
        }
    }
}

/// What entries leave on the evaporator of their job; `state` is the job's before them, none if
/// they begin it.
pub(super) fn noted(
    (evaporator, job): (EvaporatorId, JobId),
    edition: &Edition,
    state: Option<&State>,
    entries: &[Entry],
) -> Result<Vec<IndexChange>, DeskError> {
    let mut changes = Vec::new();
    let is_fact = |entry: &Entry| matches!(&entry.what, What::Answered { fact: Some(_), .. });
    if !entries.iter().any(is_fact) {
        return Ok(changes);
    }
    let mut entries = entries.iter();
    let state = match state {
        Some(state) => Some(Cow::Borrowed(state)),
        None => State::fold(entries.by_ref().take(1)).map(Cow::Owned),
    };
    let Some(mut state) = state else {
        return Ok(changes);
    };
    if state.pins.training {
        return Ok(changes);
    }
    while let Some(entry) = entries.next() {
        if let What::Answered {
            fact: Some(name),
            answer,
            band,
            ..
        } = &entry.what
        {
            let flow = state.top().and_then(|call| edition.flow(&call.flow));
            let fact = flow.and_then(|flow| Some((flow, flow.facts.get(name)?)));
            if let Some((flow, fact)) = fact {
                let of = Of {
                    evaporator,
                    job,
                    at: entry.at,
                    // The same fact of the same job is read once for each walk of its flow.
                    place: [
                        &latest_first(state.began_at)[..],
                        job.0.as_bytes(),
                        &state.top().map_or(0, |call| call.instance).to_be_bytes(),
                    ]
                    .concat(),
                };
                if let Some(as_what) = Remembered::of(flow, name, fact) {
                    changes.push(stays_known(&of, as_what, (name, fact), answer)?);
                }
                if let Answer::Reading { reading } = answer {
                    let band = *band;
                    changes.extend(was_read(&of, (&flow.name, name, fact), (reading, band))?);
                }
            }
        }
        // Where the walk goes after the last fact matters to nothing here.
        if !entries.as_slice().iter().any(is_fact) {
            break;
        }
        walk::apply(state.to_mut(), entry);
    }
    Ok(changes)
}

/// Where something was answered.
struct Of {
    evaporator: EvaporatorId,
    job: JobId,
    at: Timestamp,
    place: Vec<u8>,
}

fn stays_known(
    of: &Of,
    as_what: Remembered,
    (name, fact): (&FactName, &Fact),
    answer: &Answer,
) -> Result<IndexChange, DeskError> {
    let name = name.as_str().as_bytes();
    let key = row_key(&[of.evaporator.0.as_bytes(), &[as_what.code()], name]);
    let known = StaysKnown {
        label: fact.label.clone(),
        words: answer.words(),
        at: of.at,
        job: of.job,
    };
    Ok(IndexChange::put(list::STAYS, key, written(&known)?))
}

fn was_read(
    of: &Of,
    (flow, name, fact): (&FlowName, &FactName, &Fact),
    (reading, band): (&TypedReading, Option<Band>),
) -> Result<[IndexChange; 2], DeskError> {
    let (flow, name) = (flow.as_str().as_bytes(), name.as_str().as_bytes());
    let fact_key = row_key(&[of.evaporator.0.as_bytes(), flow, &[0], name]);
    let key = row_key(&[&fact_key, &[0], &of.place]);
    let taken = ReadingOfJob {
        reading: reading.clone(),
        band,
        at: of.at,
        job: of.job,
    };
    Ok([
        IndexChange::put(list::READ, fact_key, fact.label.as_bytes()),
        IndexChange::put(list::READINGS, key, written(&taken)?),
    ])
}

impl Desk {
    /// What stays known of an evaporator as this, by the facts' names.
    pub(super) async fn what_stays(
        &self,
        evaporator: EvaporatorId,
        as_what: Remembered,
    ) -> Result<Vec<StaysKnown>, DeskError> {
        let prefix = row_key(&[evaporator.0.as_bytes(), &[as_what.code()]]);
        let rows = self.all_rows(list::STAYS, prefix).await?;
        rows.iter().map(|row| read(&row.value)).collect()
    }

    /// The last readings of every fact that was ever read on an evaporator, by flow and fact.
    pub(super) async fn trends(&self, evaporator: EvaporatorId) -> Result<Vec<Trend>, DeskError> {
        let facts = self.all_rows(list::READ, evaporator.0.as_bytes().to_vec());
        let mut trends = Vec::new();
        for fact in facts.await? {
            let prefix = row_key(&[&fact.key, &[0]]);
            let last = self.store();
            let last = last.scan(list::READINGS, prefix, None, READINGS_SHOWN);
            let page = last.await?;
            let rows = page.items.iter().rev();
            let readings = rows.map(|row| read(&row.value));
            trends.push(Trend {
                label: String::from_utf8_lossy(&fact.value).into_owned(),
                readings: readings.collect::<Result<_, _>>()?,
                has_earlier: page.next.is_some(),
            });
        }
        Ok(trends)
    }

    async fn all_rows(&self, table: Table, prefix: Vec<u8>) -> Result<Vec<IndexRow>, DeskError> {
        let mut rows = Vec::new();
        let mut after = None;
        loop {
            let store = self.store();
            let scan = store.scan(table.clone(), prefix.clone(), after, ROWS_AT_ONCE);
            let page = scan.await?;
            rows.extend(page.items);
            after = page.next;
            if after.is_none() {
                return Ok(rows);
            }
        }
    }
}
