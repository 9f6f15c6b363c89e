//! Where the truth is kept: streams of entries, the outbox, lookups, names and photos.
//!
//! One [`Batch`] is everything that handling one input leaves behind, and it is kept whole or
//! not at all. [`Store::append`] answers only when the batch would survive a power cut. All
//! times come in as arguments; a store reads no clock.
//!
//! Every engine passes the same suite, `tests/store_contract.rs`.

pub mod batch;
mod blobs;
mod codec;
mod common;
pub mod disk;
pub mod error;
pub mod faulty;
pub mod format;
mod index;
pub mod journal;
pub mod memory;
mod names;
pub mod notice;
pub mod page;
mod sled;
mod watch;

use std::future::Future;
use std::pin::Pin;
use std::time::Duration;

use jiff::Timestamp;
use uuid::Uuid;

use crate::record::chain::{Hash, Head, Stored};
use crate::record::stream::{Seq, StreamId, StreamKind};

pub use batch::{Batch, Committed, IndexChange, IndexRow, InputKey, StreamAppend, Table};
pub use common::{Common, Ends, List};
pub use error::{AppendError, StoreError};
pub use faulty::Faulty;
pub use format::{Admitted, DATA_FORMAT};
pub use index::LooseIndex;
pub use journal::{
    BackUp, BackedUp, BackupFolder, Checked, For, Hands, IndexOpened, Journal, LookedOver, Made,
    OpenReport, Opener, Restored, Restoring, TornTail, UpTo, back_up_readable, restore,
    verify_backup,
};
pub use memory::Memory;
pub use notice::{Delivery, DeliveryMark, NewNotice, NoticeId, PendingNotice};
pub use page::{Cursor, Page};
pub use sled::INDEX_CACHE_BYTES;
pub use watch::Watch;

/// What a store's methods give back: a boxed future, so that `Arc<dyn Store>` works.
pub type Pending<'a, T> = Pin<Box<dyn Future<Output = T> + Send + 'a>>;

/// How long a handled input is remembered, so that its second delivery has no effect.
pub const INPUTS_KEPT: Duration = Duration::from_secs(7 * 24 * 60 * 60);

/// The most bytes that one batch may take, written out: 16 MiB. Photos go into blobs.
pub const BATCH_BYTES_MAX: usize = 16 * 1024 * 1024;

/// A place that keeps what it has acknowledged.
///
/// Reading sees every batch whose append has returned, and never one that could still be lost.
/// A `limit` is the most items wanted, at least one; a limit of 0 counts as 1.
pub trait Store: Send + Sync {
    /// Keeps a batch, whole or not at all, and answers once it would survive a power cut.
    ///
    /// A batch of nothing but delivery marks is answered once it would survive the end of this
    /// process: losing a mark costs one extra copy of a message.
    ///
    /// Dropping the future does not take the batch back.
    ///
    /// # Errors
    /// [`AppendError`]; every variant but `Unsure` means that nothing was kept.
    fn append(&self, batch: Batch) -> Pending<'_, Result<Committed, AppendError>>;

    /// The end of a stream, [`Head::NONE`] if it has no entries.
    fn head(&self, stream: StreamId) -> Pending<'_, Result<Head, StoreError>>;

    /// The entries of a stream from the place `from` on, in order, at most `limit`.
    fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Pending<'_, Result<Vec<Stored>, StoreError>>;

    /// The streams of a kind that have entries, in the order of their ids, with their heads.
    ///
    /// A stream begun while the pages are turned appears if its id comes after the cursor.
    fn streams(
        &self,
        kind: StreamKind,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<(StreamId, Head)>, StoreError>>;

    /// Whether an input with this key was kept within [`INPUTS_KEPT`] before `now`.
    fn handled(&self, key: InputKey, now: Timestamp) -> Pending<'_, Result<bool, StoreError>>;

    /// The notices not yet delivered that are due at `due_by`, the earliest due first and in
    /// the order of their ids where due at the same time.
    ///
    /// With `Timestamp::MAX` and a limit of 1 it tells when the next one is due.
    fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<PendingNotice>, StoreError>>;

    /// The value under a key of a lookup table.
    fn get(&self, table: Table, key: Vec<u8>) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>>;

    /// The keys of a lookup table that begin with `prefix`, in order, with their values.
    fn scan(
        &self,
        table: Table,
        prefix: Vec<u8>,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<IndexRow>, StoreError>>;

    /// Tells whoever keeps rows of a table that it changed; `None` if this store cannot tell.
    fn watch(&self, table: &Table) -> Option<Watch>;

    /// What several lists have in common, in order; see [`Common`].
    fn common(&self, ask: Common) -> Pending<'_, Result<Ends, StoreError>>;

    /// Gives a person a name to show, in place of any before. Names are kept apart from the
    /// record so that they can be erased.
    fn set_name(&self, person: Uuid, name: String) -> Pending<'_, Result<(), StoreError>>;

    /// The name of a person, `None` if never given or erased.
    fn name(&self, person: Uuid) -> Pending<'_, Result<Option<String>, StoreError>>;

    /// Erases the name of a person from the disk too; whether there was one.
    fn erase_name(&self, person: Uuid) -> Pending<'_, Result<bool, StoreError>>;

    /// Every name, in the order of the persons' ids; for a backup.
    fn names(&self) -> Pending<'_, Result<Vec<(Uuid, String)>, StoreError>>;

    /// Keeps a photo or another large piece under the hash of its bytes and answers once it
    /// would survive a power cut. Keeping the same bytes again changes nothing.
    fn put_blob(&self, bytes: Vec<u8>) -> Pending<'_, Result<Hash, StoreError>>;

    /// The bytes with this hash, checked against it; `None` if they were never kept.
    fn get_blob(&self, hash: Hash) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>>;

    /// Takes a snapshot of everything kept so far into a backup folder, while work goes on. What
    /// is there from earlier ones is not copied again. [`restore`] makes a data folder of it.
    fn back_up(&self, order: BackUp) -> Pending<'_, Result<BackedUp, StoreError>>;

    /// How far the store has come with reading back, at leisure, what it trusted when it was
    /// opened, and what it found. A store that trusts nothing has nothing to read.
    fn looked_over(&self) -> LookedOver {
        LookedOver::default()
    }

    /// Reads everything kept so far back, while work goes on: every frame, every entry's hash,
    /// the chain of every stream, every photo.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] for what is not as it was written.
    fn check(&self) -> Pending<'_, Result<Checked, StoreError>>;

    /// Finishes what is under way and stops cleanly. Later appends are refused with `Closed`.
    fn close(&self) -> Pending<'_, Result<(), StoreError>>;
}

/// Whether an input kept at `at` is still remembered at `now`.
fn remembered(at: Timestamp, now: Timestamp) -> bool {
    now.duration_since(at) <= jiff::SignedDuration::from_secs(INPUTS_KEPT.as_secs() as i64)
}
