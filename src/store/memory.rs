//! A store without files: for tests, for trying things out and for simulations.
//!
//! It is written apart from the other engines on purpose: being plain, it shows what they
//! should do.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Bound;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use jiff::Timestamp;
use uuid::Uuid;

use super::batch::{Batch, Committed, IndexRow, InputKey, Table};
use super::codec::time_bytes;
use super::common::{Common, Ends, List};
use super::journal::{BackUp, BackedUp, Checked};
use super::notice::{Delivery, DeliveryMark, NewNotice, NoticeId, PendingNotice};
use super::page::{Cursor, Page};
use super::watch::Watch;
use super::{AppendError, Pending, Store, StoreError, remembered};
use crate::record::chain::{Hash, Head, Stored};
use crate::record::stream::{Seq, StreamId, StreamKind};

/// A store in memory. Clones share what they hold, which is how a test reopens it.
#[derive(Clone, Debug, Default)]
pub struct Memory {
    kept: Arc<Mutex<Kept>>,
}

#[derive(Debug, Default)]
struct Kept {
    streams: BTreeMap<StreamId, Vec<Stored>>,
    inputs: HashMap<InputKey, Timestamp>,
    inputs_by_time: BTreeMap<Timestamp, Vec<InputKey>>,
    notices: BTreeMap<NoticeId, PendingNotice>,
    notices_given: u64,
    tables: BTreeMap<Table, BTreeMap<Vec<u8>, Vec<u8>>>,
    watches: BTreeMap<Table, Watch>,
    names: BTreeMap<Uuid, String>,
    blobs: HashMap<Hash, Vec<u8>>,
    closed: bool,
}

impl Memory {
    /// An empty store.
    pub fn new() -> Memory {
        Memory::default()
    }

    /// The same content, open again after a [`Store::close`].
    pub fn reopen(&self) -> Memory {
        self.kept().closed = false;
        self.clone()
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        // No change of `Kept` can panic half-way, so what a poisoned lock guards is whole.
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Kept {
    /// What comes after the beginning of a list's keys.
    fn ends(&self, list: &List) -> impl Iterator<Item = Vec<u8>> {
        let keys = self.tables.get(&list.table).into_iter().flatten();
        keys.filter_map(|(key, _)| Some(key.strip_prefix(list.prefix.as_slice())?.to_vec()))
    }

    fn head(&self, stream: StreamId) -> Head {
        self.streams
            .get(&stream)
            .and_then(|entries| entries.last())
            .map_or(Head::NONE, Stored::head)
    }

    fn handled(&self, key: &InputKey, now: Timestamp) -> bool {
        self.inputs.get(key).is_some_and(|at| remembered(*at, now))
    }

    fn append(&mut self, batch: Batch) -> Result<Committed, AppendError> {
        if self.closed {
            return Err(AppendError::Failed(StoreError::Closed));
        }
        batch.check()?;
        if let Some(key) = batch.key.clone().filter(|key| self.handled(key, batch.at)) {
            return Err(AppendError::AlreadyHandled { key });
        }
        for append in &batch.appends {
            let (stream, expected) = (append.stream, append.expected);
            let actual = self.head(stream).seq;
            if actual != expected {
                return Err(AppendError::Conflict {
                    stream,
                    expected,
                    actual,
                });
            }
        }
        Ok(self.keep(batch))
    }

    fn keep(&mut self, batch: Batch) -> Committed {
        let mut committed = Committed {
            heads: Vec::new(),
            notices: Vec::new(),
        };
        self.remember(batch.key, batch.at);
        for append in batch.appends {
            let mut head = self.head(append.stream);
            for bytes in append.entries {
                let stored = Stored::after(append.stream, head, bytes);
                head = stored.head();
                self.streams.entry(append.stream).or_default().push(stored);
            }
            committed.heads.push((append.stream, head));
        }
        committed
            .notices
            .extend(batch.notices.into_iter().map(|notice| self.put_out(notice)));
        batch.marks.into_iter().for_each(|mark| self.mark(mark));
        for change in batch.index {
            let watch = self.watches.get(&change.table).cloned();
            let table = self.tables.entry(change.table).or_default();
            match change.value {
                Some(value) => table.insert(change.key, value),
                None => table.remove(&change.key),
            };
            // Nobody reads before this store is let go of again.
            watch.iter().for_each(Watch::changed);
        }
        committed
    }

    fn remember(&mut self, key: Option<InputKey>, now: Timestamp) {
        while let Some(oldest) = self.inputs_by_time.first_entry() {
            if remembered(*oldest.key(), now) {
                break;
            }
            let (at, keys) = oldest.remove_entry();
            for key in keys {
                // A key used again later is remembered under its later time.
                if self.inputs.get(&key) == Some(&at) {
                    self.inputs.remove(&key);
                }
            }
        }
        if let Some(key) = key {
            self.inputs.insert(key.clone(), now);
            self.inputs_by_time.entry(now).or_default().push(key);
        }
    }

    fn put_out(&mut self, notice: NewNotice) -> NoticeId {
        let NewNotice {
            address,
            payload,
            due,
        } = notice;
        self.notices_given += 1;
        let id = NoticeId(self.notices_given);
        self.notices.insert(
            id,
            PendingNotice {
                id,
                address,
                payload,
                due,
                attempts: 0,
            },
        );
        id
    }

    fn mark(&mut self, mark: DeliveryMark) {
        match mark.outcome {
            Delivery::Delivered | Delivery::GivenUp => {
                self.notices.remove(&mark.notice);
            }
            Delivery::Retry { due } => {
                if let Some(notice) = self.notices.get_mut(&mark.notice) {
                    notice.due = due;
                    notice.attempts = notice.attempts.saturating_add(1);
                }
            }
        }
    }

    fn streams(&self, kind: StreamKind) -> Vec<(Vec<u8>, (StreamId, Head))> {
        let of_kind = self.streams.keys().filter(|stream| stream.kind == kind);
        of_kind
            .map(|stream| (stream.to_bytes().to_vec(), (*stream, self.head(*stream))))
            .collect()
    }

    fn due(&self, due_by: Timestamp) -> Vec<(Vec<u8>, PendingNotice)> {
        let due = self.notices.values().filter(|notice| notice.due <= due_by);
        let mut due: Vec<_> = due
            .map(|notice| (due_key(notice), notice.clone()))
            .collect();
        due.sort_by(|(one, _), (other, _)| one.cmp(other));
        due
    }
}

/// Sorts as the due time and then the id.
fn due_key(notice: &PendingNotice) -> Vec<u8> {
    let mut key = time_bytes(notice.due).to_vec();
    key.extend(notice.id.0.to_be_bytes());
    key
}

/// The part of a sorted list after the cursor.
fn page<T>(
    mut keyed: Vec<(Vec<u8>, T)>,
    prefix: &[u8],
    after: Option<Cursor>,
    limit: usize,
) -> Result<Page<T>, StoreError> {
    if let Some(cursor) = after {
        let last = cursor.key_within(prefix)?;
        keyed.retain(|(key, _)| key.as_slice() > last);
    }
    Ok(Page::of(keyed, limit))
}

fn ready<'a, T: Send + 'a>(value: T) -> Pending<'a, T> {
    Box::pin(std::future::ready(value))
}

impl Store for Memory {
    fn append(&self, batch: Batch) -> Pending<'_, Result<Committed, AppendError>> {
        // Nothing happens before the future is awaited, as with the other engines.
        Box::pin(async move { self.kept().append(batch) })
    }

    fn head(&self, stream: StreamId) -> Pending<'_, Result<Head, StoreError>> {
        ready(Ok(self.kept().head(stream)))
    }

    fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Pending<'_, Result<Vec<Stored>, StoreError>> {
        let kept = self.kept();
        let entries = kept.streams.get(&stream).into_iter().flatten();
        let wanted = entries.filter(|entry| entry.seq >= from).take(limit.max(1));
        ready(Ok(wanted.cloned().collect()))
    }

    fn streams(
        &self,
        kind: StreamKind,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<(StreamId, Head)>, StoreError>> {
        ready(page(
            self.kept().streams(kind),
            &[kind.code()],
            after,
            limit,
        ))
    }

    fn handled(&self, key: InputKey, now: Timestamp) -> Pending<'_, Result<bool, StoreError>> {
        ready(Ok(self.kept().handled(&key, now)))
    }

    fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<PendingNotice>, StoreError>> {
        ready(page(self.kept().due(due_by), &[], after, limit))
    }

    fn get(&self, table: Table, key: Vec<u8>) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        let kept = self.kept();
        ready(Ok(kept
            .tables
            .get(&table)
            .and_then(|table| table.get(&key))
            .cloned()))
    }

    fn scan(
        &self,
        table: Table,
        prefix: Vec<u8>,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<IndexRow>, StoreError>> {
        let kept = self.kept();
        let from = (Bound::Included(prefix.clone()), Bound::Unbounded);
        let rows = kept
            .tables
            .get(&table)
            .into_iter()
            .flat_map(|table| table.range(from.clone()));
        let rows = rows.take_while(|(key, _)| key.starts_with(&prefix));
        let keyed = rows
            .map(|(key, value)| {
                (
                    key.clone(),
                    IndexRow {
                        key: key.clone(),
                        value: value.clone(),
                    },
                )
            })
            .collect();
        ready(page(keyed, &prefix, after, limit))
    }

    fn watch(&self, table: &Table) -> Option<Watch> {
        Some(
            self.kept()
                .watches
                .entry(table.clone())
                .or_default()
                .clone(),
        )
    }

    fn common(&self, ask: Common) -> Pending<'_, Result<Ends, StoreError>> {
        let kept = self.kept();
        let mut groups = ask.groups.iter().map(|group| {
            let ends = group.iter().flat_map(|list| kept.ends(list));
            ends.collect::<BTreeSet<Vec<u8>>>()
        });
        let first = groups.next().unwrap_or_default();
        let common = groups.fold(first, |common, group| &common & &group);
        let counts = |end: &Vec<u8>| *end >= ask.from && ask.to.as_ref().is_none_or(|to| end <= to);
        let mut ends = common.into_iter().filter(counts);
        ready(Ok(Ends {
            ends: ends.by_ref().take(ask.limit.max(1)).collect(),
            next: ends.next(),
        }))
    }

    fn set_name(&self, person: Uuid, name: String) -> Pending<'_, Result<(), StoreError>> {
        self.kept().names.insert(person, name);
        ready(Ok(()))
    }

    fn name(&self, person: Uuid) -> Pending<'_, Result<Option<String>, StoreError>> {
        ready(Ok(self.kept().names.get(&person).cloned()))
    }

    fn erase_name(&self, person: Uuid) -> Pending<'_, Result<bool, StoreError>> {
        ready(Ok(self.kept().names.remove(&person).is_some()))
    }

    fn names(&self) -> Pending<'_, Result<Vec<(Uuid, String)>, StoreError>> {
        ready(Ok(self.kept().names.clone().into_iter().collect()))
    }

    fn put_blob(&self, bytes: Vec<u8>) -> Pending<'_, Result<Hash, StoreError>> {
        let hash = Hash::of(&bytes);
        self.kept().blobs.insert(hash, bytes);
        ready(Ok(hash))
    }

    fn get_blob(&self, hash: Hash) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        ready(Ok(self.kept().blobs.get(&hash).cloned()))
    }

    fn back_up(&self, _order: BackUp) -> Pending<'_, Result<BackedUp, StoreError>> {
        ready(Err(StoreError::NoFolder))
    }

    fn check(&self) -> Pending<'_, Result<Checked, StoreError>> {
        ready(Err(StoreError::NoFolder))
    }

    fn close(&self) -> Pending<'_, Result<(), StoreError>> {
        self.kept().closed = true;
        ready(Ok(()))
    }
}
