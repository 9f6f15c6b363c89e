//! Jobs that are still to be told that nobody knows how much time went by.
//!
//! A job that could not be told at once is told before anybody or time itself does anything else
//! to it: no safety wait that is to begin again ends meanwhile.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::Desk;
use super::error::DeskError;
use super::id::JobId;
use super::tables::list;
use crate::walk::input::Input;

/// Who is still to be told.
#[derive(Default)]
pub(super) struct Doubts(Mutex<Untold>);

#[derive(Default)]
struct Untold {
    /// Everybody; the lists were not looked at yet.
    all: bool,
    /// Each with whether it is not known either how long nobody did anything.
    jobs: BTreeMap<JobId, bool>,
}

impl Doubts {
    fn untold(&self) -> MutexGuard<'_, Untold> {
        // Nothing that touches it can panic half-way.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// It is not sure how much time went by.
    pub(super) fn begin(&self) {
        self.untold().all = true;
    }

    /// In this job it is not known either how long nobody did anything.
    pub(super) fn add_silent(&self, job: JobId) {
        self.untold().jobs.insert(job, true);
    }

    /// What this job is still to be told, if anything: whether its silence is in doubt too.
    fn about(&self, job: JobId) -> Option<bool> {
        let untold = self.untold();
        let own = untold.jobs.get(&job).copied();
        own.or(untold.all.then_some(false))
    }
}

impl Desk {
    /// Tells every job that waits, and everybody who is looked after. One that cannot be told
    /// holds up no other.
    pub(super) async fn settle_doubts(&self) -> Result<(), DeskError> {
        let doubts = &self.inner.doubts;
        if doubts.untold().all {
            let mut jobs = self.listed(list::WAITS, &[]).await?;
            jobs.extend(self.listed(list::CHECK_INS, &[]).await?);
            let mut untold = doubts.untold();
            for job in jobs {
                untold.jobs.entry(JobId(job)).or_insert(false);
            }
            untold.all = false;
        }
        let untold: Vec<JobId> = doubts.untold().jobs.keys().copied().collect();
        for job in untold {
            if let Err(error) = self.settle_doubt(job).await {
                self.set_aside(job.0, &error);
            }
        }
        Ok(())
    }

    /// Tells one job, if it is still to be told.
    pub(super) async fn settle_doubt(&self, job: JobId) -> Result<(), DeskError> {
        let Some(silence_too) = self.inner.doubts.about(job) else {
            return Ok(());
        };
        self.handle_time(None, job, Input::ClockUncertain).await?;
        if silence_too {
            self.handle_time(None, job, Input::SilenceUncertain).await?;
        }
        self.inner.doubts.untold().jobs.remove(&job);
        Ok(())
    }
}
