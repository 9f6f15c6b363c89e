//! What the people and the world outside the server know: what was acknowledged, what was sent,
//! and what must therefore be there ever after.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, MutexGuard};

use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::Outcome;
use fanwright::record::chain::{Hash, Head};
use fanwright::record::entry::{Entry, What};
use fanwright::record::stream::{StreamId, StreamKind};
use fanwright::store::{Batch, Committed, Delivery, InputKey, NoticeId};
use fanwright::walk::input::Input;
use jiff::Timestamp;

/// Something that somebody did, on its way to the server until it is answered.
#[derive(Clone, Debug)]
pub(super) struct Update {
    pub(super) key: InputKey,
    pub(super) person: usize,
    pub(super) did: Did,
    /// Whether an answer came, so that nobody sends it again by himself.
    pub(super) is_answered: bool,
    /// How often it was said to have had its effect just now.
    pub(super) effects: u32,
}

/// What somebody did.
#[derive(Clone, Debug)]
pub(super) enum Did {
    Begin(NewJob),
    Job(JobId, Input),
}

/// What is known of a message in the outbox.
#[derive(Clone, Debug, Default)]
pub(super) struct Mail {
    /// How often it arrived.
    pub(super) arrived: u32,
    /// How often something went wrong after which nobody could know whether it arrived.
    pub(super) excuses: u32,
    /// It arrived, and that was not kept yet.
    pub(super) is_unmarked: bool,
    /// Whether it still waits in the outbox.
    pub(super) left: Left,
    /// It went out of the outbox without arriving, as somebody decided.
    pub(super) is_needless: bool,
}

/// Whether something waits in the outbox.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Left {
    /// It does.
    #[default]
    Waits,
    /// It does not.
    Gone,
    /// Nobody can know before the folder is opened again.
    Either,
}

/// How much happened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Tally {
    pub(super) crashes: u64,
    pub(super) power_cuts: u64,
    pub(super) updates: u64,
    pub(super) again: u64,
    pub(super) acknowledged: u64,
    pub(super) entries: u64,
    pub(super) in_groups: u64,
    pub(super) at_pages: u64,
    pub(super) hands_in: u64,
    pub(super) sends: u64,
    pub(super) send_failures: u64,
    pub(super) disk_failures: u64,
    pub(super) lost: u64,
    pub(super) doubled: u64,
}

impl Tally {
    pub(super) fn add(&mut self, other: &Tally) {
        self.crashes += other.crashes;
        self.power_cuts += other.power_cuts;
        self.updates += other.updates;
        self.again += other.again;
        self.acknowledged += other.acknowledged;
        self.entries += other.entries;
        self.in_groups += other.in_groups;
        self.at_pages += other.at_pages;
        self.hands_in += other.hands_in;
        self.sends += other.sends;
        self.send_failures += other.send_failures;
        self.disk_failures += other.disk_failures;
        self.lost += other.lost;
        self.doubled += other.doubled;
    }
}

/// Everything outside the server.
#[derive(Debug, Default)]
pub(super) struct Known {
    /// What the time of day is when nobody is there to show it.
    pub(super) day: Timestamp,
    /// What it was when the run began.
    pub(super) began: Timestamp,
    /// The next event of the plan.
    pub(super) next: usize,
    pub(super) updates: Vec<Update>,
    pub(super) jobs: BTreeSet<JobId>,
    /// The acknowledged ends of streams.
    pub(super) heads: BTreeMap<StreamId, Head>,
    /// How often an input with this key was kept.
    pub(super) keys: BTreeMap<InputKey, u32>,
    pub(super) mail: BTreeMap<NoticeId, Mail>,
    /// The screen that an input is an answer to, if it counts on no other.
    meant: BTreeMap<InputKey, Option<(JobId, u64)>>,
    /// Photos that were acknowledged.
    pub(super) blobs: BTreeSet<Hash>,
    pub(super) tally: Tally,
    pub(super) wrong: Vec<String>,
    trace: Trace,
}

/// A hash over everything that happened, in its order.
#[derive(Debug)]
struct Trace(blake3::Hasher);

impl Default for Trace {
    fn default() -> Trace {
        Trace(blake3::Hasher::new())
    }
}

/// The world that one server lives in.
#[derive(Debug, Default)]
pub(super) struct World {
    known: Mutex<Known>,
    /// Whether everything that happens is printed.
    is_loud: bool,
}

impl World {
    /// A world in which everything that happens is printed, or not.
    pub(super) fn heard(is_loud: bool) -> World {
        World {
            is_loud,
            ..World::default()
        }
    }

    pub(super) fn known(&self) -> MutexGuard<'_, Known> {
        self.known.lock().unwrap()
    }

    /// Something happened.
    pub(super) fn note(&self, what: &str) {
        if self.is_loud {
            println!("  {what}");
        }
        let mut known = self.known();
        known.trace.0.update(what.as_bytes());
        known.trace.0.update(b"\n");
    }

    /// Something is as it must never be.
    pub(super) fn wrong(&self, what: String) {
        if self.is_loud {
            println!("  WRONG: {what}");
        }
        self.known().wrong.push(what);
    }

    /// What the whole run comes to, the same for the same seed.
    pub(super) fn trace(&self) -> String {
        self.known().trace.0.finalize().to_hex().to_string()
    }

    /// Somebody answers this screen; nothing if what they send counts on any.
    pub(super) fn meant(&self, key: InputKey, on: Option<(JobId, u64)>) {
        let mut known = self.known();
        let meant = known.meant.entry(key).or_insert(on);
        *meant = meant.and(on);
    }

    /// The store answered that it kept this.
    pub(super) fn kept(&self, batch: &Summary, committed: &Committed) {
        self.note(&format!("kept {batch:?} as {committed:?}"));
        let mut known = self.known();
        known.tally.acknowledged += 1;
        known.tally.entries += batch.entries;
        for (stream, head) in &committed.heads {
            let before = known.heads.insert(*stream, *head);
            let goes_back = before.is_some_and(|before| before.seq > head.seq);
            if goes_back && !batch.streams_only_looked_at {
                known.wrong.push(format!("{stream} went back to {head:?}"));
            }
        }
        for id in &committed.notices {
            known.mail.entry(*id).or_default();
        }
        for (id, outcome) in &batch.marks {
            let mail = known.mail.entry(*id).or_default();
            mail.is_unmarked = false;
            mail.is_needless |= *outcome == Delivery::GivenUp;
            mail.left = match outcome {
                Delivery::Retry { .. } => Left::Waits,
                Delivery::Delivered | Delivery::GivenUp => Left::Gone,
            };
        }
        let Some(key) = &batch.key else {
            if batch.human_entries > 0 {
                let told = format!("a person's entries were kept without a key: {batch:?}");
                known.wrong.push(told);
            }
            return;
        };
        if let Some(Some((job, revision))) = known.meant.get(key).copied() {
            for (stream, entries) in &batch.answered {
                let head = committed.heads.iter().find(|(of, _)| of == stream);
                let before = head.map(|(_, head)| head.seq.0.saturating_sub(*entries));
                if *stream == job.stream() && before != Some(revision) {
                    let told =
                        format!("{key} answered {revision} of {job} and counts on {before:?}");
                    known.wrong.push(told);
                }
            }
        }
        let has_effect = batch.human_entries > 0;
        known.tally.in_groups += u64::from(has_effect && key.0.starts_with("telegram:"));
        known.tally.at_pages += u64::from(has_effect && key.0.starts_with("page:"));
        let times = known.keys.entry(key.clone()).or_default();
        *times += 1;
        if *times > 1 {
            known.tally.doubled += 1;
            known.wrong.push(format!("the input {key} was kept twice"));
        }
    }

    /// It is about to be kept what became of messages; nobody knows whether it will be.
    pub(super) fn marking(&self, batch: &Summary) {
        let mut known = self.known();
        for (id, _) in &batch.marks {
            known.mail.entry(*id).or_default().left = Left::Either;
        }
    }

    /// An update was answered with this, so it must be there ever after.
    pub(super) fn answered(&self, number: usize, outcome: &Outcome) {
        let mut known = self.known();
        let key = known.updates[number].key.clone();
        let was_kept = known.keys.contains_key(&key);
        if *outcome == Outcome::AlreadyHandled {
            known.keys.entry(key).or_insert(1);
        } else if !was_kept {
            known
                .wrong
                .push(format!("{key} was answered before it was kept"));
        }
        let update = &mut known.updates[number];
        update.is_answered = true;
        if *outcome != Outcome::AlreadyHandled {
            update.effects += 1;
            if update.effects > 1 {
                let told = format!("{} had its effect twice: {update:?}", update.key);
                known.tally.doubled += 1;
                known.wrong.push(told);
            }
        }
    }

    /// A message was sent: whether it arrived, and whether its sender knows.
    pub(super) fn sent(&self, id: NoticeId, (arrived, is_known): (bool, bool)) {
        self.note(&format!(
            "message {id} arrived: {arrived}, known: {is_known}"
        ));
        let mut known = self.known();
        known.tally.sends += 1;
        known.tally.send_failures += u64::from(!is_known);
        let mail = known.mail.entry(id).or_default();
        mail.arrived += u32::from(arrived);
        mail.excuses += u32::from(arrived && !is_known);
        mail.is_unmarked = arrived && is_known;
    }

    /// That a message arrived could not be kept, so it will be sent once more.
    pub(super) fn unmarked(&self, id: NoticeId) {
        let mut known = self.known();
        let mail = known.mail.entry(id).or_default();
        mail.excuses += u32::from(std::mem::take(&mut mail.is_unmarked));
    }

    /// The process is gone; what it had not kept of its sendings it will not know.
    pub(super) fn forgotten(&self, power_failed: bool) {
        let mut known = self.known();
        known.tally.crashes += 1;
        known.tally.power_cuts += u64::from(power_failed);
        for mail in known.mail.values_mut() {
            mail.excuses += u32::from(std::mem::take(&mut mail.is_unmarked));
            // A mark outlasts the process, but not a power cut.
            if power_failed && mail.left == Left::Gone {
                mail.left = Left::Either;
            }
        }
    }
}

/// What matters of a batch once it is kept.
#[derive(Clone, Debug)]
pub(super) struct Summary {
    key: Option<InputKey>,
    entries: u64,
    human_entries: u64,
    streams_only_looked_at: bool,
    /// The jobs in which it is more than a sign of life, with how many entries each gets.
    answered: Vec<(StreamId, u64)>,
    marks: Vec<(NoticeId, Delivery)>,
}

impl Summary {
    pub(super) fn of(batch: &Batch) -> Summary {
        let to_jobs = batch
            .appends
            .iter()
            .filter(|append| append.stream.kind == StreamKind::Job);
        let read = |entry: &Vec<u8>| serde_json::from_slice::<Entry>(entry).unwrap();
        let human = to_jobs.clone().flat_map(|append| &append.entries);
        let human = human.filter(|entry| read(entry).who.is_some());
        // That somebody is all right is taken from whatever they send, also from what is stale.
        let is_answer = |entry: &Vec<u8>| !matches!(read(entry).what, What::CheckIn { .. });
        let answered = to_jobs.clone();
        let answered = answered.filter(|append| append.entries.iter().any(is_answer));
        Summary {
            key: batch.key.clone(),
            entries: batch
                .appends
                .iter()
                .map(|append| append.entries.len() as u64)
                .sum(),
            human_entries: human.count() as u64,
            answered: answered
                .map(|append| (append.stream, append.entries.len() as u64))
                .collect(),
            streams_only_looked_at: batch.appends.iter().all(|append| append.entries.is_empty()),
            marks: batch
                .marks
                .iter()
                .map(|mark| (mark.notice, mark.outcome))
                .collect(),
        }
    }
}
