//! Time: waits that end, and what a start or a jump of the clock means for them.

use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::Desk;
use super::card::{CardRow, wait_key};
use super::error::DeskError;
use super::id::JobId;
use super::keep::TRIES;
use super::notice::{About, Notice};
use super::outbox::Like;
use super::screen::Phase;
use super::tables::{id_at_end, list};
use crate::store::{Batch, IndexChange};
use crate::walk::input::Input;

/// Somebody who was silent for longer than this is not shown the screen again after a restart.
pub const QUIET: SignedDuration = SignedDuration::from_mins(30);

/// A difference between the time of day and the time that went by that is a jump.
pub const JUMP: SignedDuration = SignedDuration::from_secs(5);

/// How many waits are looked at at once.
const WAITS_AT_ONCE: usize = 256;

/// What both sides of the clock said when it was last looked at.
#[derive(Default)]
pub(super) struct ClockSeen(Mutex<Option<(Timestamp, Duration)>>);

impl ClockSeen {
    /// Whether the time of day jumped since the last look.
    fn jumped(&self, now: Timestamp, running: Duration) -> bool {
        let mut seen = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Some((then, ran)) = seen.replace((now, running)) else {
            return false;
        };
        let by_day = now.duration_since(then);
        let went_by =
            SignedDuration::try_from(running.saturating_sub(ran)).unwrap_or(SignedDuration::MAX);
        by_day.saturating_sub(went_by).abs() > JUMP
    }
}

impl Desk {
    /// What has to be done once before the first input: what an older version kept gets the rows
    /// that it lacks, safety waits begin again, and people whose job is neither paused nor quiet
    /// for 30 minutes get their screen again.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn start(&self) -> Result<(), DeskError> {
        let (now, running) = (self.now(), self.inner.parts.clock.running());
        self.inner.clock_seen.jumped(now, running);
        self.catch_up().await?;
        let held = self.listed(list::HELD, &[]).await?;
        for job in &held {
            self.take_up_time(*job, now).await?;
        }
        self.inner.doubts.begin();
        self.settle_doubts().await?;
        let waiting = self.in_outbox().await?;
        for job in held {
            self.show_again(job, now, &waiting).await?;
        }
        Ok(())
    }

    /// From here on the time of a job is at least what goes by. Where the clock shows a time before
    /// its last entry, nobody knows how much went by since.
    async fn take_up_time(&self, job: Uuid, now: Timestamp) -> Result<(), DeskError> {
        let Some(card) = self.row::<CardRow>(job).await? else {
            return Ok(());
        };
        self.note_time(JobId(job), card.last.max(now));
        let is_walked = card.phase.is_open() || card.phase == Phase::SentBack;
        if is_walked && card.last.duration_since(now) > JUMP {
            self.inner.doubts.add_silent(JobId(job));
        }
        Ok(())
    }

    async fn show_again(
        &self,
        job: Uuid,
        now: Timestamp,
        waiting: &HashSet<Like>,
    ) -> Result<(), DeskError> {
        let Some(card) = self.row::<CardRow>(job).await? else {
            return Ok(());
        };
        let at_work = matches!(card.phase, Phase::Open | Phase::Stopped | Phase::Finished);
        if !at_work || now.duration_since(card.last_human) > QUIET {
            return Ok(());
        }
        let notice = Notice {
            to: card.holder,
            about: About::BackAgain,
            job: Some(JobId(job)),
            revision: card.revision,
            sentence: "The server was away for a moment. Nothing is lost. Here you were:"
                .to_owned(),
            lines: Vec::new(),
            people: Vec::new(),
            show_screen: true,
        };
        if waiting.contains(&Like::of(&notice)) || self.in_inbox(&notice).await? {
            return Ok(());
        }
        let mut batch = Batch::new(now);
        self.put_out(&mut batch, notice).await?;
        self.keep(batch).await?;
        Ok(())
    }

    /// Ends every wait whose time has come, and asks those who are to check in; late or twice is
    /// harmless. Returns when the next wait ends or question comes. Call it at that time, after
    /// every [`super::Change`], and at least every few seconds, so that it notices a clock that
    /// jumped and tries again what it could not do for one job.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn end_waits(&self) -> Result<Option<Timestamp>, DeskError> {
        let (now, running) = (self.now(), self.inner.parts.clock.running());
        if self.inner.clock_seen.jumped(now, running) {
            tracing::warn!("the clock jumped; safety waits begin again");
            self.inner.doubts.begin();
        }
        self.settle_doubts().await?;
        let question = self.check_in().await?;
        let mut aside = HashSet::new();
        // One wait that ends may begin the next, so the list is looked at until it gives none;
        // the bound keeps a flow of empty waits from holding up all others.
        for _ in 0..TRIES {
            let mut waits = self.waits().await?;
            waits.retain(|wait| !aside.contains(&wait.job));
            let (due, later): (Vec<_>, Vec<_>) = waits
                .into_iter()
                .partition(|wait| wait.until <= self.time_of(wait.job));
            if due.is_empty() {
                let ends = |wait: &Wait| self.by_the_clock(wait.job, wait.until);
                return Ok(later.iter().map(ends).chain(question).min());
            }
            for wait in due {
                let job = wait.job;
                if let Err(error) = self.end_wait(wait).await {
                    self.set_aside(job.0, &error);
                    aside.insert(job);
                }
            }
        }
        Ok(Some(now))
    }

    async fn end_wait(&self, wait: Wait) -> Result<(), DeskError> {
        self.settle_doubt(wait.job).await?;
        let place = self.place_of(wait.job);
        let deadline = {
            let mut place = place.lock().await;
            self.folded(wait.job, &mut place)
                .await?
                .state
                .next_deadline()
        };
        if let Some(until) = deadline.filter(|until| wait.is_until(*until)) {
            self.handle_time(None, wait.job, Input::WaitOver { until })
                .await?;
            return Ok(());
        }
        // The job does not wait for this: only the list says so.
        let mut batch = Batch::new(self.now());
        batch.index.push(IndexChange::remove(list::WAITS, wait.key));
        self.keep(batch).await.map(drop)
    }

    /// All waits, the earliest first.
    async fn waits(&self) -> Result<Vec<Wait>, DeskError> {
        let mut waits = Vec::new();
        let mut after = None;
        loop {
            let scan = self
                .store()
                .scan(list::WAITS, Vec::new(), after, WAITS_AT_ONCE);
            let page = scan.await?;
            waits.extend(page.items.into_iter().filter_map(|row| Wait::read(row.key)));
            after = page.next;
            if after.is_none() {
                return Ok(waits);
            }
        }
    }
}

/// One line of the list of waits.
struct Wait {
    key: Vec<u8>,
    until: Timestamp,
    job: JobId,
}

impl Wait {
    fn read(key: Vec<u8>) -> Option<Wait> {
        let until = super::tables::time_of(key.first_chunk::<8>()?)?;
        let job = JobId(id_at_end(&key)?);
        Some(Wait { key, until, job })
    }

    /// Whether it is the line of a job that waits until then.
    fn is_until(&self, until: Timestamp) -> bool {
        self.key == wait_key(until, self.job.0.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_difference_of_both_sides_is_a_jump() {
        let at = |seconds: i64| Timestamp::from_second(seconds).unwrap();
        let seen = ClockSeen::default();
        assert!(!seen.jumped(at(100), Duration::from_secs(1)));
        assert!(
            !seen.jumped(at(4_000), Duration::from_secs(3_901)),
            "a long time is no jump"
        );
        assert!(
            !seen.jumped(at(4_010), Duration::from_secs(3_906)),
            "five seconds are forgiven"
        );
        assert!(seen.jumped(at(4_020), Duration::from_secs(3_907)));
        assert!(
            seen.jumped(at(3_000), Duration::from_secs(3_908)),
            "backwards too"
        );
        assert!(!seen.jumped(at(3_001), Duration::from_secs(3_909)));
    }
}
