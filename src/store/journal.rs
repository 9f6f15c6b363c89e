//! The store in a data folder: an append-only journal is the truth, everything else follows it.
//!
//! The folder holds `journal/` (the truth), `index/` (worked out from it, may be deleted while
//! the store is closed), `blobs/` (photos), `names` (erasable), `lock` and `last-run`.
//!
//! Three kinds of threads work here: one commits rounds of batches, one carries their changes
//! into the index's files, and questions are answered on the runtime's threads for blocking
//! work.

mod backup;
mod by_hand;
mod chains;
mod committer;
mod folder;
mod frame;
mod frames;
mod indexer;
mod leisure;
mod opening;
mod reading;
mod room;
mod round;
mod scan;
mod segment;
mod tail;

use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread::JoinHandle;

use jiff::Timestamp;
use tokio::sync::oneshot;
use uuid::Uuid;

use super::batch::{Batch, Committed, IndexRow, InputKey, Table};
use super::blobs::Blobs;
use super::common::{Common, Ends};
use super::disk::Folder;
use super::index::inputs::Inputs;
use super::index::{Index, IndexPlace, Overlay};
use super::names::Names;
use super::notice::PendingNotice;
use super::page::{Cursor, Page};
use super::sled::SledPlace;
use super::watch::{Watch, Watches};
use super::{AppendError, Pending, Store, StoreError};
use crate::metrics::metrics;
use crate::record::chain::{Hash, Head, Stored};
use crate::record::stream::{Seq, StreamId, StreamKind};
use backup::{End, Source, check_folder};
use committer::{Committer, Indexing, Order};
use folder::{Lock, RunMark, distrust_index, trust_index};
use leisure::{Leisure, Progress};
use round::Counters;
use segment::Segments;
use tail::Tail;

pub use backup::{
    BackUp, BackedUp, BackupFolder, Checked, For, Opener, Restored, Restoring, UpTo,
    back_up_readable, restore, verify as verify_backup,
};
pub use by_hand::{Hands, Made};
pub(super) use frame::Frame;
pub use leisure::LookedOver;
pub use opening::{IndexOpened, OpenReport, TornTail};
pub(super) use segment::Place;

/// A store in a data folder of its own.
///
/// [`Store::close`] stops it cleanly. Dropping it without that is like the end of the process:
/// nothing acknowledged is lost, and the next opening looks closer.
pub struct Journal {
    shared: Arc<Shared>,
    orders: Option<mpsc::Sender<Order>>,
    committer: Option<JoinHandle<()>>,
    /// Questions are answered where they are asked, not on a thread for blocking work.
    answers_in_place: bool,
    /// Reads what opening trusted; it ends with the store.
    _leisure: Option<Leisure>,
}

/// So many rows in their order lie in a few blocks of the index.
const ROWS_AT_ONCE: usize = 256;

/// Where the index lies in a data folder.
const INDEX: &str = "index";

/// What the threads share.
struct Shared {
    folder: Folder,
    segments: Arc<Segments>,
    overlay: Overlay,
    inputs: Inputs,
    watches: Watches,
    index: Arc<dyn Index>,
    /// Whether the index failed; the next opening works it out anew.
    index_doubted: AtomicBool,
    /// The last frame known to be on the disk.
    durable: AtomicU64,
    names: Names,
    blobs: Blobs,
    closed: AtomicBool,
    lock: Mutex<Option<Lock>>,
    looked_over: Arc<Progress>,
}

impl Journal {
    /// Opens a data folder, or makes one. Of the journal it reads what the index does not hold
    /// yet; a thread of its own reads the rest at leisure afterwards. This blocks.
    ///
    /// # Errors
    /// If another process holds the folder, if a later version wrote it, if what is read of the
    /// journal is damaged anywhere but in an unfinished last write, or if the file system refuses.
    pub fn open(folder: &Path) -> Result<(Journal, OpenReport), StoreError> {
        Journal::open_in_boot(folder, folder::present_boot().as_deref())
    }

    /// As [`Journal::open`], told which boot of the machine this is; `None` if nobody knows.
    /// After a break-off under another boot the index is rebuilt, because a power cut may have
    /// left it damaged.
    ///
    /// # Errors
    /// As [`Journal::open`].
    pub fn open_in_boot(
        folder: &Path,
        boot: Option<&str>,
    ) -> Result<(Journal, OpenReport), StoreError> {
        let place = SledPlace(folder.join(INDEX));
        let folder = Folder::here(folder.to_owned());
        let Ready {
            shared,
            tail,
            counters,
            report,
        } = Ready::make(&folder, &place, boot)?;
        metrics().journal_ends_at(counters.frame);
        metrics().index_is_at(counters.frame);
        if report.torn.is_some() {
            metrics().torn_tail();
        }
        let leisure = Leisure::begin(
            Arc::clone(&shared.segments),
            report.trusted,
            Arc::clone(&shared.looked_over),
        )?;
        let (words, heard) = indexer::channel();
        let sharing = Arc::clone(&shared);
        let thread = spawn("store-index", move || indexer::run(&sharing, &heard))?;
        let thread = Some(thread);
        let indexing = Indexing { words, thread };
        let committer = Committer::new(Arc::clone(&shared), tail, counters, indexing);
        let (orders, given) = mpsc::channel();
        let committer = Some(spawn("store-journal", move || committer.run(&given))?);
        Ok((
            Journal {
                shared,
                orders: Some(orders),
                committer,
                answers_in_place: false,
                _leisure: Some(leisure),
            },
            report,
        ))
    }

    fn give(&self, order: Order) -> Result<(), StoreError> {
        let orders = self.orders.as_ref().ok_or(StoreError::Closed)?;
        orders.send(order).map_err(|_| StoreError::Closed)
    }

    /// Where the journal ends, all of it being on the disk.
    async fn end(&self) -> Result<End, StoreError> {
        let (answer, answered) = oneshot::channel();
        self.give(Order::End(answer))?;
        answered.await.unwrap_or(Err(StoreError::Closed))
    }

    /// Asks a question at once: one key, or a few rows that lie together, which are in memory
    /// nearly always. Going to another thread and back would take many times as long.
    fn ask_at_once<'a, T: Send + 'a>(
        &'a self,
        question: impl FnOnce(&Shared) -> Result<T, StoreError> + Send + 'a,
    ) -> Pending<'a, Result<T, StoreError>> {
        Box::pin(async move {
            match self.shared.closed.load(Ordering::Acquire) {
                true => Err(StoreError::Closed),
                false => question(&self.shared).inspect_err(|why| self.shared.heed(why)),
            }
        })
    }

    /// Asks a question where it may block.
    fn ask<'a, T: Send + 'static>(
        &'a self,
        question: impl FnOnce(&Shared) -> Result<T, StoreError> + Send + 'static,
    ) -> Pending<'a, Result<T, StoreError>> {
        Box::pin(async move {
            let shared = Arc::clone(&self.shared);
            let ask = move || match shared.closed.load(Ordering::Acquire) {
                true => Err(StoreError::Closed),
                false => question(&shared).inspect_err(|why| shared.heed(why)),
            };
            if self.answers_in_place || tokio::runtime::Handle::try_current().is_err() {
                return ask();
            }
            let broke_off = |_| StoreError::Index("a question broke off unexpectedly".to_owned());
            tokio::task::spawn_blocking(ask).await.map_err(broke_off)?
        })
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        self.orders = None;
        // At most one round is under way, so this does not take long.
        if let Some(committer) = self.committer.take()
            && committer.join().is_err()
        {
            tracing::error!("the thread that writes the journal broke off unexpectedly");
        }
    }
}

/// A data folder made ready for work, before anybody works in it.
struct Ready {
    shared: Arc<Shared>,
    tail: Tail,
    counters: Counters,
    report: OpenReport,
}

impl Ready {
    fn make(
        folder: &Folder,
        place: &dyn IndexPlace,
        boot: Option<&str>,
    ) -> Result<Ready, StoreError> {
        folder.make()?;
        // Whoever made it may have ended before its name was on the disk.
        if let Err(why) = folder.sync_name() {
            // What it stands in may be closed to us, and then it was made by somebody else.
            tracing::warn!(%why, "the name of the data folder could not be synced");
        }
        let lock = Lock::take(folder)?;
        let opened = opening::open(folder, place, boot)?;
        let next_frame = opened.counters.frame + 1;
        let tail = Tail::at(Arc::clone(&opened.segments), opened.end, next_frame)?;
        let index = (opened.index, opened.inputs);
        let shared = Shared::new(folder, opened.segments, index, Some(lock))?;
        let durable = opened.counters.durable;
        shared.durable.store(durable, Ordering::Release);
        RunMark::in_folder(folder).running(boot)?;
        trust_index(folder)?;
        Ok(Ready {
            shared: Arc::new(shared),
            tail,
            counters: opened.counters,
            report: opened.report,
        })
    }
}

impl Shared {
    fn new(
        folder: &Folder,
        segments: Arc<Segments>,
        (index, inputs): (Arc<dyn Index>, Inputs),
        lock: Option<Lock>,
    ) -> Result<Shared, StoreError> {
        Ok(Shared {
            folder: folder.clone(),
            segments,
            overlay: Overlay::default(),
            inputs,
            watches: Watches::default(),
            index,
            index_doubted: AtomicBool::new(false),
            durable: AtomicU64::new(0),
            names: Names::in_folder(folder)?,
            blobs: Blobs::in_folder(folder.within("blobs")),
            closed: AtomicBool::new(false),
            lock: Mutex::new(lock),
            looked_over: Arc::default(),
        })
    }

    fn source(&self) -> Source<'_> {
        Source {
            segments: &self.segments,
            names: &self.names,
            blobs: &self.blobs,
        }
    }

    /// Lets an index that did not answer be worked out anew at the next opening.
    fn heed(&self, problem: &StoreError) {
        if !matches!(problem, StoreError::Index(_)) || self.index_doubted.load(Ordering::Acquire) {
            return;
        }
        tracing::error!(why = %problem, "the index failed; it is rebuilt at the next start");
        match distrust_index(&self.folder) {
            Ok(()) => self.index_doubted.store(true, Ordering::Release),
            Err(why) => tracing::error!(%why, "a rebuild of the index could not be asked for"),
        }
    }

    /// Lets go of the folder; with a word that it was left in order after `frame`, if it was.
    fn close(&self, frame: Option<u64>) -> Result<(), StoreError> {
        self.closed.store(true, Ordering::Release);
        let closed = self.index.close();
        let marked = match (frame, &closed) {
            (Some(frame), Ok(())) => RunMark::in_folder(&self.folder).stopped(frame),
            _ => Ok(()),
        };
        self.lock
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        closed.and(marked)
    }
}

fn spawn(
    name: &'static str,
    work: impl FnOnce() + Send + 'static,
) -> Result<JoinHandle<()>, StoreError> {
    let thread = std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(work);
    thread.map_err(StoreError::io("begin the thread", name))
}

impl Store for Journal {
    fn append(&self, batch: Batch) -> Pending<'_, Result<Committed, AppendError>> {
        Box::pin(async move {
            let (answer, answered) = oneshot::channel();
            self.give(Order::Append(batch, answer))
                .map_err(AppendError::Failed)?;
            match answered.await {
                Ok(answer) => answer,
                // It came after the last round, for every batch of a round is answered.
                Err(_) if self.shared.closed.load(Ordering::Acquire) => {
                    Err(AppendError::Failed(StoreError::Closed))
                }
                // The thread ended at a point that nobody knows.
                Err(_) => Err(AppendError::Unsure(StoreError::Closed)),
            }
        })
    }

    fn head(&self, stream: StreamId) -> Pending<'_, Result<Head, StoreError>> {
        self.ask_at_once(move |shared| shared.head(stream))
    }

    fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Pending<'_, Result<Vec<Stored>, StoreError>> {
        self.ask(move |shared| shared.read(stream, from, limit))
    }

    fn streams(
        &self,
        kind: StreamKind,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<(StreamId, Head)>, StoreError>> {
        self.ask(move |shared| shared.streams(kind, after.as_ref(), limit))
    }

    fn handled(&self, key: InputKey, now: Timestamp) -> Pending<'_, Result<bool, StoreError>> {
        self.ask_at_once(move |shared| shared.handled(&key, now))
    }

    fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<PendingNotice>, StoreError>> {
        self.ask(move |shared| shared.notices_pending(due_by, after.as_ref(), limit))
    }

    fn get(&self, table: Table, key: Vec<u8>) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.ask_at_once(move |shared| shared.row(&table, &key))
    }

    fn scan(
        &self,
        table: Table,
        prefix: Vec<u8>,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<IndexRow>, StoreError>> {
        let scan = move |shared: &Shared| shared.scan(&table, &prefix, after.as_ref(), limit);
        match limit <= ROWS_AT_ONCE {
            true => self.ask_at_once(scan),
            false => self.ask(scan),
        }
    }

    fn watch(&self, table: &Table) -> Option<Watch> {
        Some(self.shared.watches.of(table))
    }

    fn common(&self, ask: Common) -> Pending<'_, Result<Ends, StoreError>> {
        self.ask(move |shared| shared.common(&ask))
    }

    fn set_name(&self, person: Uuid, name: String) -> Pending<'_, Result<(), StoreError>> {
        self.ask(move |shared| shared.names.set(person, name))
    }

    fn name(&self, person: Uuid) -> Pending<'_, Result<Option<String>, StoreError>> {
        // Names are in memory; there is nothing to wait for.
        Box::pin(std::future::ready(Ok(self.shared.names.get(person))))
    }

    fn erase_name(&self, person: Uuid) -> Pending<'_, Result<bool, StoreError>> {
        self.ask(move |shared| shared.names.erase(person))
    }

    fn names(&self) -> Pending<'_, Result<Vec<(Uuid, String)>, StoreError>> {
        self.ask(|shared| Ok(shared.names.all()))
    }

    fn put_blob(&self, bytes: Vec<u8>) -> Pending<'_, Result<Hash, StoreError>> {
        self.ask(move |shared| shared.blobs.put(&bytes))
    }

    fn get_blob(&self, hash: Hash) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.ask(move |shared| shared.blobs.get(hash))
    }

    fn back_up(&self, order: BackUp) -> Pending<'_, Result<BackedUp, StoreError>> {
        Box::pin(async move {
            let end = self.end().await?;
            self.ask(move |shared| shared.source().back_up(&order, end))
                .await
        })
    }

    fn looked_over(&self) -> LookedOver {
        self.shared.looked_over.looked_over()
    }

    fn check(&self) -> Pending<'_, Result<Checked, StoreError>> {
        Box::pin(async move {
            let end = self.end().await?;
            self.ask(move |shared| check_folder(&shared.source(), end))
                .await
        })
    }

    fn close(&self) -> Pending<'_, Result<(), StoreError>> {
        Box::pin(async move {
            let (answer, answered) = oneshot::channel();
            match self.give(Order::Close(answer)) {
                // It was closed before.
                Err(StoreError::Closed) => Ok(()),
                Err(problem) => Err(problem),
                Ok(()) => match answered.await {
                    Ok(closed) => closed,
                    // Another call closed it first.
                    Err(_) if self.shared.closed.load(Ordering::Acquire) => Ok(()),
                    Err(_) => Err(StoreError::Closed),
                },
            }
        })
    }
}
