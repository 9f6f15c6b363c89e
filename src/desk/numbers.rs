//! Numbers of the crew's work, kept by the day on which a job began; and the rechecks that are due.
//!
//! A day's row is a sum that gives back what a job added, so a job that changes is taken out as it
//! was and added as it is. That is done in turn for each crew ([`Desk::crew_turn`]).

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::floor::Work;
use super::id::{CrewId, EvaporatorId, JobId};
use super::reminders::matter::look_again;
use super::screen::EvaporatorLabel;
use super::tables::{Row, id_at_end, key as row_key, put, remove};
use crate::record::entry::Entry;
use crate::report::numbers::{JobNumbers, Numbers};
use crate::store::{IndexChange, Table};
use crate::walk::state::{Mode, Review};

/// The longest span that is added up at once: ten years and a few days.
const DAYS_MAX: i32 = 3_660;

/// What one job added to its day: under the job.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct AddedRow {
    job: JobNumbers,
}

impl Row for AddedRow {
    const TABLE: Table = Table::named("numbers_added");
}

/// The sum over the jobs of a crew that began on one day: under crew, day.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
struct DayRow {
    sum: Numbers,
}

impl Row for DayRow {
    const TABLE: Table = Table::named("numbers");
}

/// A look after 24 hours that is still to come: under crew, evaporator, job.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct RecheckRow {
    due: Timestamp,
    /// In the words of whoever handed over.
    when: String,
}

impl Row for RecheckRow {
    const TABLE: Table = Table::named("recheck");
}

/// A look after 24 hours that is still to come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recheck {
    /// The job after which it is.
    pub job: JobId,
    /// Where.
    pub evaporator: EvaporatorLabel,
    /// When it is overdue, by what was agreed.
    pub due: Timestamp,
    /// In the words of whoever handed over.
    pub when: String,
}

/// The numbers of a crew over a span of days.
#[derive(Clone, Debug, PartialEq)]
pub struct CrewNumbers {
    /// The first day.
    pub from: Date,
    /// The last day.
    pub to: Date,
    /// The sum over the jobs that began on these days and are over.
    pub sum: Numbers,
    /// The rechecks to come, whenever their job was, the earliest due first.
    pub rechecks: Vec<Recheck>,
}

impl Desk {
    /// The numbers of the crew's jobs that began on one of these days, in UTC, both included.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the span is turned around or too long.
    pub async fn numbers(
        &self,
        actor: &Actor,
        (from, to): (Date, Date),
    ) -> Result<CrewNumbers, DeskError> {
        self.must_be_supervisor(actor, "see the crew's numbers")
            .await?;
        let days = from.until(to).map_or(-1, |span| span.get_days());
        if !(0..=DAYS_MAX).contains(&days) {
            return Err(DeskError::NotUnderstood(
                "The first day must not be after the last, and ten years fit. Choose other days."
                    .to_owned(),
            ));
        }
        let mut sum = Numbers::default();
        // One prefix for the crew: the rows in between are few, one a day.
        for (key, row) in self.rows::<DayRow>(actor.crew.0.as_bytes()).await? {
            if day_of_key(&key).is_some_and(|day| (from..=to).contains(&day)) {
                sum.join(&row.sum);
            }
        }
        Ok(CrewNumbers {
            from,
            to,
            sum,
            rechecks: self.rechecks(actor.crew).await?,
        })
    }

    /// The day that it is now, in UTC.
    pub fn today(&self) -> Date {
        day(self.now())
    }

    async fn rechecks(&self, crew: CrewId) -> Result<Vec<Recheck>, DeskError> {
        let mut rechecks = Vec::new();
        for (key, row) in self.rows::<RecheckRow>(crew.0.as_bytes()).await? {
            let evaporator = key.get(16..32).and_then(|bytes| bytes.try_into().ok());
            let (Some(evaporator), Some(job)) = (evaporator, id_at_end(&key)) else {
                continue;
            };
            let evaporator = EvaporatorId(Uuid::from_bytes(evaporator));
            rechecks.push(Recheck {
                job: JobId(job),
                evaporator: self.evaporator_label(evaporator).await?,
                due: row.due,
                when: row.when,
            });
        }
        rechecks.sort_by_key(|recheck| recheck.due);
        Ok(rechecks)
    }

    /// The changes that bring the numbers and the rechecks up to a job with these entries.
    pub(super) async fn counted(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Vec<IndexChange>, DeskError> {
        let job = JobNumbers::of(&work.edition, entries);
        let mut changes = self.recheck_changes(work).await?;
        let before = self.row::<AddedRow>(work.job.0).await?.map(|row| row.job);
        // A job that was sent back and is walked again still counts as it last was.
        let Some(job) = job.filter(|job| before.as_ref() != Some(job)) else {
            return Ok(changes);
        };
        let key = day_key(work.crew, day(work.state.began_at));
        let mut row = self.row::<DayRow>(key.clone()).await?.unwrap_or_default();
        if let Some(before) = &before {
            row.sum.take(before);
        }
        row.sum.add(&job);
        changes.push(put(key, &row)?);
        changes.push(put(work.job.0, &AddedRow { job })?);
        Ok(changes)
    }

    /// A job that is over settles what earlier ones on its evaporator promised, and may promise
    /// another look itself.
    async fn recheck_changes(&self, work: &Work) -> Result<Vec<IndexChange>, DeskError> {
        let state = &work.state;
        let is_over = matches!(state.mode, Mode::Finished { .. } | Mode::Left { .. });
        if !is_over || state.pins.training {
            return Ok(Vec::new());
        }
        let on = row_key(&[work.crew.0.as_bytes(), work.evaporator.0.as_bytes()]);
        let mut changes = Vec::new();
        for (key, _) in self.rows::<RecheckRow>(&on).await? {
            // The ids of jobs are in the order of their beginnings.
            if id_at_end(&key).is_some_and(|job| job < work.job.0) {
                changes.push(remove::<RecheckRow>(key));
            }
        }
        // What was promised before a review stays as it is.
        if state.review == Review::None {
            let clocks = self.crew_clocks(work.crew).await?;
            if let Some((due, when)) = look_again(&work.edition, state, &clocks) {
                let key = row_key(&[&on, work.job.0.as_bytes()]);
                changes.push(put(key, &RecheckRow { due, when })?);
            }
        }
        Ok(changes)
    }
}

fn day(at: Timestamp) -> Date {
    TimeZone::UTC.to_datetime(at).date()
}

fn day_key(crew: CrewId, day: Date) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), day.to_string().as_bytes()])
}

fn day_of_key(key: &[u8]) -> Option<Date> {
    std::str::from_utf8(key.get(16..)?).ok()?.parse().ok()
}
