//! The clock of check-ins: who has to be asked now whether they are all right.
//!
//! A question never comes too late because a clock was set back: each also comes once its time has
//! gone by on the clock that cannot be set. Quiet hours do not hold it back, and after a restart or
//! a jump of the clock everybody who is being looked after is asked at once.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::error::DeskError;
use super::id::JobId;
use super::keep::TRIES;
use super::tables::{id_at_end, list, time_of};
use crate::store::{Batch, IndexChange, InputKey};
use crate::walk::check_ins::Rounds;
use crate::walk::input::Input;

/// How many jobs are looked up at once.
const JOBS_AT_ONCE: usize = 256;

/// A question that is to come.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Question {
    job: JobId,
    due: Timestamp,
    /// What tells it from another of the same job and time.
    mark: u64,
}

/// When questions come by the clock that cannot be set.
#[derive(Default)]
pub(super) struct Questions(Mutex<HashMap<Question, Duration>>);

impl Questions {
    /// Keeps those that are still to come.
    fn keep(&self, coming: &[Question]) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.retain(|question, _| coming.contains(question));
    }

    fn due(&self, question: Question) -> Option<Duration> {
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.get(&question).copied()
    }

    /// It comes when the clock that cannot be set shows this.
    fn note(&self, question: Question, at: Duration) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.insert(question, at);
    }
}

impl Desk {
    /// Asks everybody whose time has come; late or twice is harmless. Returns when the next
    /// question is due.
    pub(super) async fn check_in(&self) -> Result<Option<Timestamp>, DeskError> {
        for _ in 0..TRIES {
            let coming = self.questions().await?;
            self.inner.questions.keep(&coming);
            let mut next = None;
            let mut asked = false;
            for question in coming {
                match self.ask_if_due(question).await {
                    Ok(true) => asked = true,
                    Ok(false) => next = next.or(Some(question.due)),
                    Err(error) => self.set_aside(question.job.0, &error),
                }
            }
            if !asked {
                return Ok(next);
            }
        }
        Ok(Some(self.now()))
    }

    async fn ask_if_due(&self, question: Question) -> Result<bool, DeskError> {
        let is_due = self.is_due(question).await?;
        if is_due {
            self.ask(question).await?;
        }
        Ok(is_due)
    }

    async fn is_due(&self, question: Question) -> Result<bool, DeskError> {
        let Question { job, due, .. } = question;
        let (now, running) = (self.now(), self.inner.parts.clock.running());
        if due <= now {
            return Ok(true);
        }
        if let Some(at) = self.inner.questions.due(question) {
            return Ok(running >= at);
        }
        let rounds = self.rounds_of(job).await?;
        let longest = rounds.map_or(SignedDuration::ZERO, |it| it.length());
        let left = due.duration_since(now).min(longest);
        let left = Duration::try_from(left).unwrap_or(Duration::ZERO);
        self.inner
            .questions
            .note(question, running.saturating_add(left));
        Ok(left.is_zero())
    }

    async fn ask(&self, question: Question) -> Result<(), DeskError> {
        let Question { job, due, mark } = question;
        let key = InputKey(format!("check-in:{job}:{mark}"));
        self.handle_time(Some(key), job, Input::CheckInDue { due })
            .await?;
        let rounds = self.rounds_of(job).await?;
        if rounds.is_some_and(|it| it.mark != mark) {
            return Ok(());
        }
        // The job does not wait for this: only the list says so.
        let mut batch = Batch::new(self.now());
        let key = super::card::wait_key(due, job.0.as_bytes());
        batch.index.push(IndexChange::remove(list::CHECK_INS, key));
        self.keep(batch).await.map(drop)
    }

    /// How the asking stands in a job. This is looked at after every change of any job, so no more
    /// of it is copied.
    async fn rounds_of(&self, job: JobId) -> Result<Option<Rounds>, DeskError> {
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded(job, &mut place).await?;
        Ok(work.state.rounds().cloned())
    }

    /// The jobs whose people are looked after, the earliest question first.
    async fn questions(&self) -> Result<Vec<Question>, DeskError> {
        let mut questions = Vec::new();
        let mut after = None;
        loop {
            let scan = self
                .store()
                .scan(list::CHECK_INS, Vec::new(), after, JOBS_AT_ONCE);
            let page = scan.await?;
            for row in &page.items {
                let Some(job) = id_at_end(&row.key).map(JobId) else {
                    continue;
                };
                // The list is in milliseconds; the job knows the moment itself.
                let rounds = match self.rounds_of(job).await {
                    Ok(rounds) => rounds,
                    Err(error) => {
                        self.set_aside(job.0, &error);
                        continue;
                    }
                };
                let listed = row.key.first_chunk::<8>().and_then(time_of);
                let due = rounds.as_ref().map(|rounds| rounds.due).or(listed);
                let mark = rounds.map_or(0, |rounds| rounds.mark);
                questions.extend(due.map(|due| Question { job, due, mark }));
            }
            after = page.next;
            if after.is_none() {
                return Ok(questions);
            }
        }
    }
}
