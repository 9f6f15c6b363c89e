//! Rows of jobs from before there were such rows.
//!
//! A row is written in one batch with the entries that it follows from. When a version brings new
//! rows, the first start with it works them out for the jobs that are there already: in the order
//! of their ids, each with its place noted in the same batch, so that a start that is broken off
//! goes on where it was.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::error::DeskError;
use super::id::JobId;
use super::photos_seen::photo_rows;
use super::stands_out::StandsOutRow;
use super::tables::{Row, put};
use crate::record::entry::What;
use crate::record::stream::StreamKind;
use crate::store::{Batch, Table};
use crate::walk::state::Review;

/// The rows that this program knows of. Raise it when there are more, and add them below.
const ROWS: u16 = 1;

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
    /// Works out the rows that jobs of an older version lack. Done before the first input.
    pub(super) async fn catch_up(&self) -> Result<(), DeskError> {
        let mut reached: CaughtUpRow = self.row(KEY).await?.unwrap_or_default();
        if reached.rows >= ROWS {
            return Ok(());
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
                        Err(error @ (DeskError::Fault(_) | DeskError::NotFound(_))) => {
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
        if !work.state.pins.training {
            batch.index.extend(photo_rows(work.crew, job, &entries)?);
            batch.index.extend(self.counted(&work, &entries).await?);
            let accepted = |what: &What| matches!(what, What::Accepted { .. });
            if entries.iter().any(|entry| accepted(&entry.what)) {
                batch.index.extend(self.learned(&work, &entries).await?);
            }
            if work.state.review == Review::HandedIn {
                let findings = self.findings_of(&work, &entries).await?.len();
                batch.index.push(put(job.0, &StandsOutRow { findings })?);
            }
        }
        self.keep(batch).await?;
        Ok(())
    }
}
