//! One process of the server: its store on the simulated disk, and how it comes to its end.

use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::record::chain::{Hash, Head, Stored};
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{
    AppendError, BackUp, BackedUp, Batch, Checked, Committed, Common, Cursor, Ends, Hands,
    IndexRow, InputKey, Journal, Page, Pending, PendingNotice, Store, StoreError, Table, Watch,
};
use jiff::Timestamp;
use tokio::sync::Notify;
use tokio::time::Instant;
use uuid::Uuid;

use crate::walk::Dice;

use super::disk::{Disks, Trouble};
use super::plan::Promise;
use super::world::{Summary, World};

/// Delivery marks wait so long for the disk when nothing else goes there.
const MARKS_WAIT: Duration = Duration::from_millis(50);

/// The data folder.
pub(super) fn folder() -> &'static Path {
    Path::new("/data")
}

/// One process.
pub(super) struct Life {
    pub(super) world: Arc<World>,
    pub(super) disks: Disks,
    pub(super) dice: Mutex<Dice>,
    /// What ended it, once it is at its end.
    end: Mutex<Option<Trouble>>,
    ended: Notify,
    /// Places where it waited so far.
    waits: AtomicU64,
    /// At which of them it ends, and how.
    ends_at: Mutex<Option<(u64, Trouble)>>,
    /// The store says that it has stopped and the server has to be started anew.
    pub(super) has_stopped: AtomicBool,
    /// Something is to be written.
    wanted: Notify,
    /// Delivery marks were written that nobody waits for.
    marks_wait: AtomicBool,
    /// Something is in the outbox.
    pub(super) mail: Notify,
    /// Nothing that is sent is answered before this moment.
    offline_until: Mutex<Option<Instant>>,
    /// Messages on their way.
    pub(super) on_the_way: AtomicU64,
    /// Every round on the disk takes so long, in milliseconds, for so many rounds.
    pub(super) slow: Mutex<(u64, u64)>,
}

impl Life {
    pub(super) fn new(world: &Arc<World>, disks: &Disks, seed: u64) -> Life {
        Life {
            world: Arc::clone(world),
            disks: disks.clone(),
            dice: Mutex::new(Dice::new(seed)),
            end: Mutex::default(),
            ended: Notify::new(),
            waits: AtomicU64::new(0),
            ends_at: Mutex::default(),
            has_stopped: AtomicBool::new(false),
            wanted: Notify::new(),
            marks_wait: AtomicBool::new(false),
            mail: Notify::new(),
            offline_until: Mutex::default(),
            on_the_way: AtomicU64::new(0),
            slow: Mutex::default(),
        }
    }

    pub(super) fn roll(&self, sides: usize) -> usize {
        self.dice.lock().unwrap().roll(sides)
    }

    /// The process ends at the so-manieth place where it waits from now.
    pub(super) fn ends_after(&self, waits: u64, how: Trouble) {
        let at = self.waits.load(Ordering::SeqCst) + 1 + waits;
        *self.ends_at.lock().unwrap() = Some((at, how));
    }

    /// How many places it waited at so far.
    pub(super) fn waits(&self) -> u64 {
        self.waits.load(Ordering::SeqCst)
    }

    /// The line to the chats is down for so long.
    pub(super) fn offline(&self, seconds: u64) {
        let until = Instant::now() + Duration::from_secs(seconds);
        *self.offline_until.lock().unwrap() = Some(until);
    }

    /// Whether the line to the chats is down.
    pub(super) fn is_offline(&self) -> bool {
        let until = *self.offline_until.lock().unwrap();
        until.is_some_and(|until| until > Instant::now())
    }

    fn end(&self, how: Trouble) {
        self.end.lock().unwrap().get_or_insert(how);
        self.ended.notify_one();
    }

    /// Whether it is at its end: then nothing that it finds out counts any more.
    pub(super) fn is_over(&self) -> bool {
        if let Some(how) = self.disks.died() {
            self.end(how);
        }
        self.end.lock().unwrap().is_some()
    }

    /// Returns when it is at its end.
    pub(super) async fn over(&self) -> Trouble {
        loop {
            if let Some(how) = *self.end.lock().unwrap() {
                return how;
            }
            self.ended.notified().await;
        }
    }

    /// A place where it waits: others may come first, time may go by, or it ends here.
    pub(super) async fn wait(&self) {
        let at = self.waits.fetch_add(1, Ordering::SeqCst) + 1;
        let ends = *self.ends_at.lock().unwrap();
        if let Some((_, how)) = ends.filter(|(when, _)| *when <= at) {
            self.end(how);
        }
        self.unless_over().await;
        match self.roll(16) {
            0 => {
                let millis = self.roll(12) as u64;
                tokio::time::sleep(Duration::from_millis(millis)).await;
            }
            1..5 => tokio::task::yield_now().await,
            _ => {}
        }
        self.unless_over().await;
    }

    /// Never returns once the process is at its end.
    pub(super) async fn unless_over(&self) {
        if self.is_over() {
            std::future::pending::<()>().await;
        }
    }

    /// Brings batches to the disk, each round when the disk is ready for it.
    pub(super) async fn write(self: Arc<Self>, mut hands: Hands) {
        loop {
            tokio::select! {
                biased;
                () = self.wanted.notified() => {}
                () = tokio::time::sleep(MARKS_WAIT), if self.marks_wait.load(Ordering::SeqCst) => {
                    hands.settle();
                    self.marks_wait.store(false, Ordering::SeqCst);
                    if self.is_over() {
                        return;
                    }
                    continue;
                }
            }
            let millis = self.round_takes();
            tokio::time::sleep(Duration::from_micros(1 + millis * 1000)).await;
            if self.is_over() {
                return;
            }
            while hands.keep() {}
            if self.roll(4) == 0 {
                hands.follow();
            }
            if self.is_over() {
                return;
            }
        }
    }

    fn round_takes(&self) -> u64 {
        let mut slow = self.slow.lock().unwrap();
        match &mut *slow {
            (_, 0) => self.roll(6) as u64,
            (millis, rounds) => {
                *rounds -= 1;
                *millis
            }
        }
    }
}

/// The store of one process, as its desk sees it. Whatever is asked may be the last thing.
pub(super) struct Watched {
    pub(super) life: Arc<Life>,
    /// A promise that it breaks.
    pub(super) broken: Option<Promise>,
    pub(super) journal: Journal,
}

impl Watched {
    fn through<'a, T: Send + 'a>(
        &'a self,
        ask: impl FnOnce(&'a Journal) -> Pending<'a, Result<T, StoreError>> + Send + 'a,
    ) -> Pending<'a, Result<T, StoreError>> {
        Box::pin(async move {
            self.life.wait().await;
            let answer = ask(&self.journal).await;
            self.life.unless_over().await;
            answer
        })
    }

    fn came_of(&self, summary: &Summary, kept: &Result<Committed, AppendError>) {
        let world = &self.life.world;
        match kept {
            Ok(committed) => {
                world.kept(summary, committed);
                if !committed.notices.is_empty() {
                    self.life.mail.notify_one();
                }
            }
            Err(AppendError::Conflict { .. } | AppendError::AlreadyHandled { .. }) => {}
            Err(error) => {
                world.note(&format!("not kept: {error}"));
                world.known().tally.disk_failures += 1;
                let has_stopped = matches!(
                    error,
                    AppendError::Unsure(_) | AppendError::Failed(StoreError::Closed)
                );
                self.life
                    .has_stopped
                    .fetch_or(has_stopped, Ordering::SeqCst);
            }
        }
    }
}

impl Store for Watched {
    fn append(&self, mut batch: Batch) -> Pending<'_, Result<Committed, AppendError>> {
        Box::pin(async move {
            self.life.wait().await;
            let summary = Summary::of(&batch);
            self.life.world.marking(&summary);
            if !batch.must_outlast_power() {
                self.life.marks_wait.store(true, Ordering::SeqCst);
            }
            match self.broken {
                Some(Promise::Key) => batch.key = None,
                Some(Promise::Mark) => batch.marks.clear(),
                _ => {}
            }
            self.life.wanted.notify_one();
            let kept = self.journal.append(batch).await;
            self.life.unless_over().await;
            self.came_of(&summary, &kept);
            // The process may end after it was kept and before anybody hears of it.
            self.life.wait().await;
            kept
        })
    }

    fn watch(&self, table: &Table) -> Option<Watch> {
        self.journal.watch(table)
    }

    fn head(&self, stream: StreamId) -> Pending<'_, Result<Head, StoreError>> {
        self.through(move |journal| journal.head(stream))
    }

    fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Pending<'_, Result<Vec<Stored>, StoreError>> {
        self.through(move |journal| journal.read(stream, from, limit))
    }

    fn streams(
        &self,
        kind: StreamKind,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<(StreamId, Head)>, StoreError>> {
        self.through(move |journal| journal.streams(kind, after, limit))
    }

    fn handled(&self, key: InputKey, now: Timestamp) -> Pending<'_, Result<bool, StoreError>> {
        self.through(move |journal| journal.handled(key, now))
    }

    fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<PendingNotice>, StoreError>> {
        self.through(move |journal| journal.notices_pending(due_by, after, limit))
    }

    fn get(&self, table: Table, key: Vec<u8>) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.through(move |journal| journal.get(table, key))
    }

    fn scan(
        &self,
        table: Table,
        prefix: Vec<u8>,
        after: Option<Cursor>,
        limit: usize,
    ) -> Pending<'_, Result<Page<IndexRow>, StoreError>> {
        self.through(move |journal| journal.scan(table, prefix, after, limit))
    }

    fn common(&self, ask: Common) -> Pending<'_, Result<Ends, StoreError>> {
        self.through(move |journal| journal.common(ask))
    }

    fn set_name(&self, person: Uuid, name: String) -> Pending<'_, Result<(), StoreError>> {
        self.through(move |journal| journal.set_name(person, name))
    }

    fn name(&self, person: Uuid) -> Pending<'_, Result<Option<String>, StoreError>> {
        self.through(move |journal| journal.name(person))
    }

    fn erase_name(&self, person: Uuid) -> Pending<'_, Result<bool, StoreError>> {
        self.through(move |journal| journal.erase_name(person))
    }

    fn names(&self) -> Pending<'_, Result<Vec<(Uuid, String)>, StoreError>> {
        self.through(|journal| journal.names())
    }

    fn put_blob(&self, bytes: Vec<u8>) -> Pending<'_, Result<Hash, StoreError>> {
        self.through(move |journal| {
            Box::pin(async move {
                let kept = journal.put_blob(bytes).await;
                if let (Ok(hash), false) = (&kept, self.life.is_over()) {
                    self.life.world.known().blobs.insert(*hash);
                }
                kept
            })
        })
    }

    fn get_blob(&self, hash: Hash) -> Pending<'_, Result<Option<Vec<u8>>, StoreError>> {
        self.through(move |journal| journal.get_blob(hash))
    }

    fn back_up(&self, order: BackUp) -> Pending<'_, Result<BackedUp, StoreError>> {
        self.journal.back_up(order)
    }

    fn check(&self) -> Pending<'_, Result<Checked, StoreError>> {
        self.journal.check()
    }

    fn close(&self) -> Pending<'_, Result<(), StoreError>> {
        Box::pin(async move {
            self.life.wanted.notify_one();
            self.journal.close().await
        })
    }
}
