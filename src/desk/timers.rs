//! Time: waits that end, and what a start or a jump of the clock means for them.

use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::Desk;
use super::card::CardRow;
use super::error::DeskError;
use super::id::JobId;
use super::keep::TRIES;
use super::notice::{About, Notice};
use super::outbox::Like;
use super::screen::Phase;
use super::tables::{id_at_end, list};
use crate::store::{Batch, IndexChange, InputKey};
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
        self.doubt_waits().await?;
        self.doubt_check_ins().await?;
        let waiting = self.in_outbox().await?;
        for job in self.listed(list::HELD, &[]).await? {
            self.show_again(job, now, &waiting).await?;
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
    /// every [`super::Change`], and at least every few
    /// seconds, so that it notices a clock that jumped.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn end_waits(&self) -> Result<Option<Timestamp>, DeskError> {
        let (now, running) = (self.now(), self.inner.parts.clock.running());
        if self.inner.clock_seen.jumped(now, running) {
            tracing::warn!("the clock jumped; safety waits begin again");
            self.doubt_waits().await?;
            self.doubt_check_ins().await?;
        }
        let question = self.check_in().await?;
        // One wait that ends may begin the next, so the list is looked at until it gives none;
        // the bound keeps a flow of empty waits from holding up all others.
        for _ in 0..TRIES {
            let waits = self.waits().await?;
            let (due, later): (Vec<_>, Vec<_>) =
                waits.into_iter().partition(|wait| wait.until <= now);
            if due.is_empty() {
                let wait = later.first().map(|wait| wait.until);
                return Ok(wait.into_iter().chain(question).min());
            }
            for wait in due {
                self.end_wait(wait).await?;
            }
        }
        Ok(Some(now))
    }

    async fn end_wait(&self, wait: Wait) -> Result<(), DeskError> {
        let place = self.place_of(wait.job);
        let deadline = {
            let mut place = place.lock().await;
            self.folded(wait.job, &mut place)
                .await?
                .state
                .next_deadline()
        };
        let mut ended = false;
        if let Some(until) = deadline {
            let key = InputKey(format!("wait:{}:{until}", wait.job));
            self.handle_time(Some(key), wait.job, Input::WaitOver { until })
                .await?;
            let mut place = place.lock().await;
            ended = self
                .folded(wait.job, &mut place)
                .await?
                .state
                .next_deadline()
                != Some(until);
        }
        if !ended {
            // The job does not wait for this: only the list says so.
            let mut batch = Batch::new(self.now());
            batch.index.push(IndexChange::remove(list::WAITS, wait.key));
            self.keep(batch).await?;
        }
        Ok(())
    }

    /// It is not sure how much time went by: every job that waits is told.
    async fn doubt_waits(&self) -> Result<(), DeskError> {
        for wait in self.waits().await? {
            self.handle_time(None, wait.job, Input::ClockUncertain)
                .await?;
        }
        Ok(())
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
