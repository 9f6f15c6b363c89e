//! The time of a job. It never goes back, and it is never slower than the time that goes by: a
//! clock that is set back makes no wait longer and no silence shorter. Jobs that were worked on
//! before it was go on from there; all others keep to the clock.

use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::card::is_held;
use super::floor::Work;
use super::id::JobId;
use crate::walk;
use crate::walk::context::Viewer;
use crate::walk::prompt::{Ask, Prompt};

/// What time it was in each job when something last happened to it, and what the clock that cannot
/// be set showed then. Only of jobs that somebody still has something to do with.
#[derive(Default)]
pub(super) struct JobTimes(Mutex<HashMap<JobId, (Timestamp, Duration)>>);

impl JobTimes {
    fn known(&self) -> MutexGuard<'_, HashMap<JobId, (Timestamp, Duration)>> {
        // Nothing that touches the map can panic half-way.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn at_least(&self, job: JobId, running: Duration) -> Option<Timestamp> {
        let (then, ran) = self.known().get(&job).copied()?;
        let went_by = SignedDuration::try_from(running.saturating_sub(ran)).ok()?;
        then.checked_add(went_by).ok()
    }
}

impl Desk {
    /// What time it is in a job.
    pub(super) fn time_of(&self, job: JobId) -> Timestamp {
        let (now, running) = (self.now(), self.inner.parts.clock.running());
        let at_least = self.inner.job_times.at_least(job, running);
        at_least.map_or(now, |at_least| now.max(at_least))
    }

    /// When the clock shows what it will be when this comes in the job.
    pub(super) fn by_the_clock(&self, job: JobId, then: Timestamp) -> Timestamp {
        let left = then.duration_since(self.time_of(job));
        self.now().checked_add(left).unwrap_or(then)
    }

    /// It is this time in a job now.
    pub(super) fn note_time(&self, job: JobId, at: Timestamp) {
        let running = self.inner.parts.clock.running();
        self.inner.job_times.known().insert(job, (at, running));
    }

    /// Something just happened to a job.
    pub(super) fn note_time_of(&self, work: &Work) {
        match is_held(&work.state) {
            true => self.note_time(work.job, work.state.last_at),
            false => drop(self.inner.job_times.known().remove(&work.job)),
        }
    }

    /// What the engine shows of a job now; the end of a wait is by the clock.
    pub(super) fn prompt_of(&self, work: &Work, viewer: Viewer<'_>) -> Prompt {
        let now = self.time_of(work.job);
        let mut prompt = walk::prompt(&work.edition, &work.state, viewer, now);
        if let Ask::Wait { until } = &mut prompt.ask {
            *until = self.by_the_clock(work.job, *until);
        }
        prompt
    }
}
