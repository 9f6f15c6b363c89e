//! Rows of what is from before there were such rows.
//!
//! A row is written in one batch with the entries that it follows from. When a version brings new
//! rows, the first start with it works them out for what is there already: first what stands by
//! itself, then the jobs in the order of their ids, each with its place noted in the same batch,
//! so that a start that is broken off goes on where it was.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::card::is_held;
use super::catalog::listed_among_all;
use super::error::DeskError;
use super::finds::moved;
use super::floor::Work;
use super::id::JobId;
use super::noted::noted;
use super::photos_seen::photo_rows;
use super::reminders::look_at;
use super::stands_out::StandsOutRow;
use super::tables::{Row, put};
use crate::record::entry::{Entry, What};
use crate::record::stream::StreamKind;
use crate::store::{Batch, IndexChange, Table};
use crate::walk::state::Review;

/// What a job is counted and judged by: numbers, photos seen, times learned, what stands out.
const COUNTED: u16 = 1;

/// The lists by which jobs, evaporators and codes are found, and when a job is looked at again.
const LISTED: u16 = 2;

/// The rows that this program knows of. Rows that come later get the next number here and a place
/// below.
const ROWS: u16 = LISTED;

/// How many jobs are looked up at once.
const JOBS_AT_ONCE: usize = 256;

/// How far the rows of old jobs are worked out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
struct CaughtUpRow {
    /// The rows that every job has.
    rows: u16,
    /// The last job that has the next ones, while that goes on.
    job: Option<Uuid>,
}

impl Row for CaughtUpRow {
    const TABLE: Table = Table::named("caught_up");
}

/// The one key of its table.
const KEY: &[u8] = b"jobs";

impl Desk {
    /// Works out the rows that a folder of an older version lacks. Done before the first input.
    pub(super) async fn catch_up(&self) -> Result<(), DeskError> {
        let mut reached: CaughtUpRow = self.row(KEY).await?.unwrap_or_default();
        if reached.rows >= ROWS {
            return Ok(());
        }
        if reached.rows < LISTED {
            self.list_older_evaporators().await?;
            self.list_older_codes().await?;
        }
        let mut after = None;
        loop {
            let page = self
                .store()
                .streams(StreamKind::Job, after, JOBS_AT_ONCE)
                .await?;
            for (stream, _) in &page.items {
                if reached.job.is_none_or(|job| stream.id > job) {
                    reached.job = Some(stream.id);
                    match self.catch_up_job(JobId(stream.id), reached).await {
                        // A job that cannot be read must not keep the others from their work.
                        Err(error) if error.is_lasting() => {
                            let error = error.for_the_log();
                            tracing::error!(job = %stream.id, error, "an old job has no rows");
                        }
                        done => done?,
                    }
                }
            }
            after = page.next;
            if after.is_none() {
                break;
            }
        }
        let mut batch = Batch::new(self.now());
        let done = CaughtUpRow {
            rows: ROWS,
            job: None,
        };
        batch.index.push(put(KEY, &done)?);
        self.keep(batch).await?;
        Ok(())
    }

    async fn catch_up_job(&self, job: JobId, reached: CaughtUpRow) -> Result<(), DeskError> {
        let work = self.work_at_hand(job).await?;
        let entries = self.entries_up_to(&work).await?;
        let mut batch = Batch::new(self.now());
        batch.index.push(put(KEY, &reached)?);
        if reached.rows < COUNTED && !work.state.pins.training {
            batch.index.extend(self.counts(&work, &entries).await?);
        }
        if reached.rows < LISTED {
            let label = self.evaporator_label(work.evaporator).await?;
            batch.index.extend(moved(None, &work, &label));
            batch.index.push(listed_among_all(work.crew, job));
            let on = (work.evaporator, job);
            batch
                .index
                .extend(noted(on, &work.edition, None, &entries)?);
            if is_held(&work.state) {
                batch.index.push(look_at(job, self.now()));
            }
        }
        self.keep(batch).await?;
        Ok(())
    }

    /// What a job is counted and judged by.
    pub(super) async fn counts(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Vec<IndexChange>, DeskError> {
        let mut rows = photo_rows(work.crew, work.job, entries)?;
        rows.extend(self.counted(work, entries).await?);
        let accepted = |what: &What| matches!(what, What::Accepted { .. });
        if entries.iter().any(|entry| accepted(&entry.what)) {
            rows.extend(self.learned(work, entries).await?);
        }
        if work.state.review == Review::HandedIn {
            let findings = self.findings_of(work, entries).await?.len();
            rows.push(put(work.job.0, &StandsOutRow { findings })?);
        }
        Ok(rows)
    }
}
