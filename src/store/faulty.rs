//! A store that fails when a test wants it to.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use jiff::Timestamp;
use uuid::Uuid;

use super::batch::{Batch, Committed, IndexRow, InputKey, Table};
use super::common::{Common, Ends};
use super::journal::{BackUp, BackedUp, Checked, LookedOver};
use super::notice::PendingNotice;
use super::page::{Cursor, Page};
use super::watch::Watch;
use super::{AppendError, Pending, Store, StoreError};
use crate::record::chain::{Hash, Head, Stored};
use crate::record::stream::{Seq, StreamId, StreamKind};

/// What happens to the call that is to fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It fails before anything is done; later calls work.
    Before,
    /// It is done, but the caller is told of a failure; later calls work.
    After,
    /// It fails before anything is done, and so does every call after it: the process died.
    Dies,
}

/// Wraps a store and lets its N-th call fail. Calls that change something and calls that only
/// read are counted alike.
///
/// Run with N = 1, 2, … until [`Faulty::met`] says that a run no longer met its fault.
pub struct Faulty {
    inner: Arc<dyn Store>,
    call: u64,
    fault: Fault,
    calls: AtomicU64,
}

enum Turn {
    Works,
    FailsUndone,
    FailsDone,
}

impl Faulty {
    /// Lets call number `call`, counted from 1, meet `fault`.
    pub fn new(inner: Arc<dyn Store>, call: u64, fault: Fault) -> Faulty {
        Faulty {
            inner,
            call,
            fault,
            calls: AtomicU64::new(0),
        }
    }

    /// How many calls came so far.
    pub fn calls(&self) -> u64 {
        self.calls.load(Ordering::SeqCst)
    }

    /// Whether the call that is to fail has come.
    pub fn met(&self) -> bool {
        self.calls() >= self.call
    }

    fn turn(&self) -> Turn {
        let call = self.calls.fetch_add(1, Ordering::SeqCst) + 1;
        match call.cmp(&self.call) {
            std::cmp::Ordering::Less => Turn::Works,
            std::cmp::Ordering::Equal if self.fault == Fault::After => Turn::FailsDone,
            std::cmp::Ordering::Equal => Turn::FailsUndone,
            std::cmp::Ordering::Greater if self.fault == Fault::Dies => Turn::FailsUndone,
            std::cmp::Ordering::Greater => Turn::Works,
        }
    }

    fn through<'a, T: Send + 'a>(
        &'a self,
        call: impl FnOnce(&'a dyn Store) -> Pending<'a, Result<T, StoreError>> + Send + 'a,
    ) -> Pending<'a, Result<T, StoreError>> {
        Box::pin(async move {
            match self.turn() {
                Turn::Works => call(self.inner.as_ref()).await,
                Turn::FailsUndone => Err(StoreError::Arranged),
                Turn::FailsDone => call(self.inner.as_ref())
                    .await
                    .and(Err(StoreError::Arranged)),
            }
        })
    }
}

impl Store for Faulty {
    fn append(&self, batch: Batch) -> Pending<'_, Result<Committed, AppendError>> {
        Box::pin(async move {
            match self.turn() {
                Turn::Works => self.inner.append(batch).await,
                Turn::FailsUndone => Err(AppendError::Failed(StoreError::Arranged)),
                Turn::FailsDone => {
                    let unseen = self.inner.append(batch).await;
                    drop(unseen);
                    Err(AppendError::Unsure(StoreError::Arranged))
                }
            }
        })
    }

    fn head(&self, stream: StreamId) -> Pending<'_, Result<Head, StoreError>> {
        self.through(move |inner| inner.head(stream))
    }

    fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Pending<'_, Result<Vec<Stored>, StoreError>> {
        self.through(move |inner| inner.read(stream, from, limit))
    }

    fn streams(
        &self,
        kind: StreamKind,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<(StreamId, Head)>, StoreError>> {
        self.through(move |inner| inner.streams(kind, after, limit))
    }

    fn handled(&self, key: InputKey, now: Timestamp) -> Pending<'_, Result<bool, StoreError>> {
        self.through(move |inner| inner.handled(key, now))
    }

    fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<PendingNotice>, StoreError>> {
        self.through(move |inner| inner.notices_pending(due_by, after, limit))
    }

    fn get(&self, table: Table, key: Vec<u8>) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.through(move |inner| inner.get(table, key))
    }

    fn scan(
        &self,
        table: Table,
        prefix: Vec<u8>,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<IndexRow>, StoreError>> {
        self.through(move |inner| inner.scan(table, prefix, after, limit))
    }

    fn watch(&self, table: &Table) -> Option<Watch> {
        // No call that could fail: it only shows where to look.
        self.inner.watch(table)
    }

    fn common(&self, ask: Common) -> Pending<'_, Result<Ends, StoreError>> {
        self.through(move |inner| inner.common(ask))
    }

    fn set_name(&self, person: Uuid, name: String) -> Pending<'_, Result<(), StoreError>> {
        self.through(move |inner| inner.set_name(person, name))
    }

    fn name(&self, person: Uuid) -> Pending<'_, Result<Option<String>, StoreError>> {
        self.through(move |inner| inner.name(person))
    }

    fn erase_name(&self, person: Uuid) -> Pending<'_, Result<bool, StoreError>> {
        self.through(move |inner| inner.erase_name(person))
    }

    fn names(&self) -> Pending<'_, Result<Vec<(Uuid, String)>, StoreError>> {
        self.through(|inner| inner.names())
    }

    fn put_blob(&self, bytes: Vec<u8>) -> Pending<'_, Result<Hash, StoreError>> {
        self.through(move |inner| inner.put_blob(bytes))
    }

    fn get_blob(&self, hash: Hash) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.through(move |inner| inner.get_blob(hash))
    }

    fn back_up(&self, order: BackUp) -> Pending<'_, Result<BackedUp, StoreError>> {
        self.through(move |inner| inner.back_up(order))
    }

    fn looked_over(&self) -> LookedOver {
        self.inner.looked_over()
    }

    fn check(&self) -> Pending<'_, Result<Checked, StoreError>> {
        self.through(|inner| inner.check())
    }

    fn close(&self) -> Pending<'_, Result<(), StoreError>> {
        self.inner.close()
    }
}
