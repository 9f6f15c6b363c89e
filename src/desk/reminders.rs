//! Reminders: who is told again of what waits for them, until it is done.
//!
//! What waits follows from the state of each job (`matter`); whom it waits for from the crew
//! (`audience`); how often they are told is a rhythm that grows slower (`rhythm`). One message
//! tells a person everything that is due for them, outside of their quiet hours. Nothing of this is
//! in the record of a job: reminders are kept in the outbox like other notices, and beside it what
//! was told to whom. That changes in one batch with the notice, so a crash tells nobody twice.

mod agreed;
mod audience;
mod delivery;
pub(super) mod matter;
pub mod rhythm;
mod rows;
mod wording;

use std::collections::{BTreeMap, BTreeSet};

use jiff::{SignedDuration, Timestamp};

use super::Desk;
use super::card::wait_key;
use super::error::DeskError;
use super::floor::Work;
use super::hours::Hours;
use super::id::JobId;
use super::keep::Kept;
use super::notice::{About, Notice};
use super::tables::{InboxRow, PersonRow, id_at_end, put, read, remove, time_of};
use super::webhooks::is_call;
use crate::record::person::PersonId;
use crate::store::{Batch, Delivery, DeliveryMark, IndexChange, InputKey, StreamAppend};
use audience::Standing;
pub use delivery::Turn;
use matter::{Kind, Waiting, waiting};
use rhythm::{Told, next, paced, plus, still_counting};
use rows::{DUE, Of, SentRow, ToldRow};
pub use wording::LINES_MAX;

/// So many jobs are looked at in one round; the others come with the next, a moment later.
const JOBS_A_ROUND: usize = 256;

/// A hold point that waits for nobody at the moment is looked at again after this time.
const HOLD_AGAIN: SignedDuration = SignedDuration::from_hours(1);

/// Everything else that waits for nobody at the moment, after this.
const AGAIN: SignedDuration = SignedDuration::from_hours(24);

/// A job that could not be looked at, after this.
const AFTER_FAULT: SignedDuration = SignedDuration::from_mins(10);

/// What a look at a job found.
#[derive(Default)]
struct Seen {
    /// Who is to be told now, of what.
    now: Vec<(PersonId, Of)>,
    /// When to look again; never if nothing waits.
    next: Option<Timestamp>,
    /// What was told of matters that are over.
    stale: Vec<Vec<u8>>,
}

impl Seen {
    fn look_again(&mut self, at: Timestamp) {
        self.next = Some(self.next.map_or(at, |next| next.min(at)));
    }
}

/// When a person may be told something more.
struct Open {
    hours: Hours,
    sent: Vec<Timestamp>,
}

impl Open {
    /// The first moment from `at` on.
    fn from(&self, at: Timestamp) -> Timestamp {
        let mut at = at;
        // A pace that leads into the night, a night that ends: it settles at once.
        for _ in 0..4 {
            let open = self.hours.open_at(paced(&self.sent, at));
            if open == at {
                break;
            }
            at = open;
        }
        at
    }
}

impl Desk {
    /// Reminds everybody who is to be reminded now. Returns when to call it again; sooner or
    /// later than that is harmless.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn remind(&self) -> Result<Option<Timestamp>, DeskError> {
        let now = self.now();
        let due = self.due(now).await?;
        // A job may be due for several matters at once; one look finds all of them.
        let jobs: BTreeSet<JobId> = due.iter().map(|(_, job)| *job).collect();
        let mut wanted: BTreeMap<PersonId, Vec<Of>> = BTreeMap::new();
        for job in jobs {
            for (person, of) in self.look_or_later(job, now).await.now {
                wanted.entry(person).or_default().push(of);
            }
        }
        for (person, of) in wanted {
            if let Err(error) = self.remind_person(person, of, now).await {
                self.set_aside(person.0, &error);
            }
        }
        for (key, job) in due {
            let seen = self.look_or_later(job, now).await;
            // Whoever could not be told, since a job moved on meanwhile, is told at the next call.
            if seen.now.is_empty() {
                self.put_off(key, job, seen).await?;
            }
        }
        self.next_due().await
    }

    /// The jobs whose time has come, with the keys that say so.
    async fn due(&self, now: Timestamp) -> Result<Vec<(Vec<u8>, JobId)>, DeskError> {
        let scan = self.store().scan(DUE, Vec::new(), None, JOBS_A_ROUND);
        let rows = scan.await?.items.into_iter();
        let is_due = |key: &[u8]| due_time(key).is_some_and(|at| at <= now);
        let rows = rows.take_while(|row| is_due(&row.key));
        let job = |key: Vec<u8>| id_at_end(&key).map(|job| (key, JobId(job)));
        Ok(rows.filter_map(|row| job(row.key)).collect())
    }

    async fn next_due(&self) -> Result<Option<Timestamp>, DeskError> {
        let page = self.store().scan(DUE, Vec::new(), None, 1).await?;
        Ok(page.items.first().and_then(|row| due_time(&row.key)))
    }

    /// A job that cannot be looked at holds up nobody else.
    async fn look_or_later(&self, job: JobId, now: Timestamp) -> Seen {
        self.look(job, now).await.unwrap_or_else(|error| {
            let error = error.for_the_log();
            tracing::error!(%job, error, "nobody can be reminded of a job; again soon");
            Seen {
                next: Some(plus(now, AFTER_FAULT)),
                ..Seen::default()
            }
        })
    }

    /// Who is to be told what of a job now, and when to look again.
    async fn look(&self, job: JobId, now: Timestamp) -> Result<Seen, DeskError> {
        let work = self.work_at_hand(job).await?;
        let rows = self.rows::<ToldRow>(job.0.as_bytes()).await?;
        let told: BTreeMap<_, _> = rows.into_iter().collect();
        let mut seen = Seen::default();
        let mut kinds = Vec::new();
        for waiting in waiting(&work.edition, &work.state) {
            let of = Of {
                job,
                kind: waiting.matter.kind(),
                since: waiting.since,
            };
            let again = match of.kind {
                Kind::Hold => plus(now, HOLD_AGAIN),
                _ => plus(now, AGAIN),
            };
            match self.standing(&work, &waiting).await? {
                Standing::Settled => continue,
                Standing::SeenTo => {
                    kinds.push(of.kind.code());
                    seen.look_again(again);
                    continue;
                }
                Standing::Waits => kinds.push(of.kind.code()),
            }
            let overdue = waiting.overdue(&self.crew_clocks(work.crew).await?);
            let people = self.waited_for(&work, &waiting.matter, overdue).await?;
            if people.is_empty() {
                seen.look_again(again);
            }
            for (person, from) in people {
                let told = told.get(&ToldRow::key(&of, person)).copied();
                let wanted = next(of.kind, from, ToldRow::told(told, &of));
                let open = self.open(&work, person).await?.from(wanted.max(now));
                if open <= now {
                    seen.now.push((person, of.clone()));
                } else {
                    seen.look_again(open);
                }
            }
        }
        let is_over = |key: &Vec<u8>| key.get(16).is_none_or(|kind| !kinds.contains(kind));
        seen.stale = told.into_keys().filter(is_over).collect();
        Ok(seen)
    }

    async fn open(&self, work: &Work, person: PersonId) -> Result<Open, DeskError> {
        let sent = self.row::<SentRow>(person.0).await?.unwrap_or_default();
        Ok(Open {
            hours: self.hours_of(work.crew, person).await?,
            sent: sent.sent,
        })
    }

    /// Moves a job to the time at which it is looked at again.
    async fn put_off(&self, key: Vec<u8>, job: JobId, seen: Seen) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        batch.index.push(IndexChange::remove(DUE, key));
        batch
            .index
            .extend(seen.stale.into_iter().map(remove::<ToldRow>));
        batch.index.extend(seen.next.map(|at| look_at(job, at)));
        self.keep(batch).await?;
        Ok(())
    }

    /// Tells a person everything that is due, in one message, together with what an earlier one
    /// said that they have not got yet.
    async fn remind_person(
        &self,
        person: PersonId,
        of: Vec<Of>,
        now: Timestamp,
    ) -> Result<(), DeskError> {
        let mut batch = Batch::new(now);
        let mut sent = self.row::<SentRow>(person.0).await?.unwrap_or_default();
        let mut all = of.clone();
        if self.take_back(&mut batch, person).await? {
            sent.of.retain(|old| !of.contains(old));
            all.append(&mut sent.of);
        }
        let cases = self.cases(person, &all).await?;
        let row = self.row::<PersonRow>(person.0).await?;
        let (Some(first), Some(row)) = (of.first(), row) else {
            return Ok(());
        };
        let hours = self.hours_of(row.crew, person).await?;
        let Some(notice) = delivery::written(person, &cases, &hours) else {
            return Ok(());
        };
        let told = self.told_once_more(person, &of, now).await?;
        for (key, row) in &told {
            batch.index.push(put(key.clone(), row)?);
        }
        let Of { job, kind, since } = first;
        let count = told.first().map_or(0, |(_, row)| row.count);
        let key = format!("remind:{}:{job}:{kind:?}:{since}:{count}", person.0);
        batch.key = Some(InputKey(key));
        sent.of = all;
        sent.sent = still_counting(sent.sent, now);
        sent.sent.push(now);
        batch.index.push(put(person.0, &sent)?);
        for case in &cases {
            let stream = case.work.job.stream();
            if batch.appends.iter().all(|append| append.stream != stream) {
                // If the job moved on meanwhile, nothing of this is kept.
                batch.appends.push(StreamAppend {
                    stream,
                    expected: case.work.seq(),
                    entries: Vec::new(),
                });
            }
        }
        // What it says is worked out anew when it is told: nothing of it is kept.
        let unsaid = Notice {
            sentence: String::new(),
            lines: Vec::new(),
            ..notice
        };
        self.put_out(&mut batch, unsaid).await?;
        match self.keep(batch).await {
            Ok(Kept::Fresh) => {
                if let Some(case) = cases.first() {
                    self.tell(&case.work);
                }
                Ok(())
            }
            Ok(Kept::Before) => self.note_told(told.into_iter().take(1), now).await,
            Err(DeskError::Busy) => Ok(()),
            Err(error) => Err(error),
        }
    }

    /// What is kept of these matters once the person was told of them.
    async fn told_once_more(
        &self,
        person: PersonId,
        of: &[Of],
        now: Timestamp,
    ) -> Result<Vec<(Vec<u8>, ToldRow)>, DeskError> {
        let mut rows = Vec::with_capacity(of.len());
        for of in of {
            let key = ToldRow::key(of, person);
            let told = ToldRow::told(self.row::<ToldRow>(key.clone()).await?, of);
            let row = ToldRow {
                since: of.since,
                count: told.count.saturating_add(1),
                last: now,
            };
            rows.push((key, row));
        }
        Ok(rows)
    }

    /// Notes that this was told before, where nothing says so any more: else it would be due for
    /// as long as its key is remembered, and hold up whatever comes in one message with it.
    async fn note_told(
        &self,
        told: impl Iterator<Item = (Vec<u8>, ToldRow)>,
        now: Timestamp,
    ) -> Result<(), DeskError> {
        let mut batch = Batch::new(now);
        for (key, row) in told {
            batch.index.push(put(key, &row)?);
        }
        self.keep(batch).await.map(drop)
    }

    /// Takes back reminders that a person has not got yet; whether there are any.
    async fn take_back(&self, batch: &mut Batch, person: PersonId) -> Result<bool, DeskError> {
        let mut any = false;
        for (key, row) in self.rows::<InboxRow>(person.0.as_bytes()).await? {
            if row.notice.about == About::Reminder {
                batch.index.push(remove::<InboxRow>(key));
                any = true;
            }
        }
        let mut after = None;
        loop {
            let page = self
                .store()
                .notices_pending(Timestamp::MAX, after, JOBS_A_ROUND)
                .await?;
            for pending in page.items.iter().filter(|one| !is_call(&one.address)) {
                let notice: Notice = read(&pending.payload)?;
                if (notice.about, notice.to) == (About::Reminder, person) {
                    batch.marks.push(DeliveryMark {
                        notice: pending.id,
                        outcome: Delivery::GivenUp,
                    });
                    any = true;
                }
            }
            after = page.next;
            if after.is_none() {
                return Ok(any);
            }
        }
    }

    /// When a job is to be looked at, after what just happened to it.
    pub(super) async fn looks(
        &self,
        before: Option<&Work>,
        after: &Work,
    ) -> Result<Vec<IndexChange>, DeskError> {
        let of = |work: &Work| waiting(&work.edition, &work.state);
        let before = before.map(of).unwrap_or_default();
        let was = |new: &Waiting| {
            let same =
                |old: &Waiting| (old.matter.kind(), old.since) == (new.matter.kind(), new.since);
            before.iter().any(same)
        };
        let mut new = of(after);
        new.retain(|new| !was(new));
        if new.is_empty() {
            return Ok(Vec::new());
        }
        let clocks = self.crew_clocks(after.crew).await?;
        let first = |new: Waiting| {
            let kind = new.matter.kind();
            look_at(after.job, next(kind, new.overdue(&clocks), Told::default()))
        };
        Ok(new.into_iter().map(first).collect())
    }
}

/// The row that has a job looked at.
pub(super) fn look_at(job: JobId, at: Timestamp) -> IndexChange {
    IndexChange::put(DUE, wait_key(at, job.0.as_bytes()), [])
}

fn due_time(key: &[u8]) -> Option<Timestamp> {
    time_of(key.first_chunk::<8>()?)
}
