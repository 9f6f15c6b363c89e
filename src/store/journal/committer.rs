//! The one thread that writes the journal.
//!
//! While one round of batches is on its way to the disk, the next ones gather; they all go with
//! one write and one wait for the disk. Everybody is answered after it, the refused too, so that
//! nobody is told of something that could still be lost.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::oneshot;

use super::Shared;
use super::backup::End;
use super::room;
use super::round::{Counters, Ready, Round};
use super::segment::Segments;
use super::tail::{Tail, TailError};
use crate::metrics::metrics;
use crate::store::batch::{Batch, Committed};
use crate::store::{AppendError, StoreError};

/// A round takes no more batches once its frames are this long.
const ROUND_BYTES: usize = 8 * 1024 * 1024;

/// How long delivery marks may wait for the disk when nothing else goes there.
const MARKS_WAIT: Duration = Duration::from_millis(50);

/// How many rounds of delivery marks may wait for the disk.
const MARKS_WAITING_MAX: usize = 64;

/// The changes that wait for the index take so much memory before it is hurried: 16 MiB.
const CHANGES_BYTES: usize = 16 * 1024 * 1024;

/// And so much before the journal waits for it.
const CHANGES_BYTES_MAX: usize = 4 * CHANGES_BYTES;

/// Something for the committer to do.
pub(super) enum Order {
    /// Keep a batch.
    Append(Batch, oneshot::Sender<Result<Committed, AppendError>>),
    /// Tell where the journal ends, once all before is on the disk.
    End(oneshot::Sender<Result<End, StoreError>>),
    /// Finish and stop cleanly.
    Close(oneshot::Sender<Result<(), StoreError>>),
}

/// The way to the index's files. A word wakes the indexer.
pub(super) struct Indexing {
    pub(super) words: SyncSender<()>,
    /// Who carries changes there, if that is a thread.
    pub(super) thread: Option<JoinHandle<()>>,
}

/// The state of the thread.
pub(super) struct Committer {
    shared: Arc<Shared>,
    tail: Tail,
    counters: Counters,
    /// Rounds of delivery marks, written but not yet on the disk.
    waiting: usize,
    /// How many bytes of changes waited for the index after the last round.
    index_lacks: usize,
    indexing: Option<Indexing>,
    /// Why nothing more is taken.
    stopped: Option<StoreError>,
}

/// What ends a round.
enum Last {
    End(oneshot::Sender<Result<End, StoreError>>),
    Close(oneshot::Sender<Result<(), StoreError>>),
}

type Answer = (
    oneshot::Sender<Result<Committed, AppendError>>,
    Result<Committed, AppendError>,
);

impl Committer {
    pub(super) fn new(
        shared: Arc<Shared>,
        tail: Tail,
        counters: Counters,
        indexing: Indexing,
    ) -> Committer {
        let indexing = Some(indexing);
        Committer {
            shared,
            tail,
            counters,
            waiting: 0,
            index_lacks: 0,
            indexing,
            stopped: None,
        }
    }

    /// Works until it is told to close or nobody can give orders any more.
    pub(super) fn run(mut self, orders: &Receiver<Order>) {
        loop {
            let order = if self.waiting == 0 {
                orders.recv().map_err(|_| RecvTimeoutError::Disconnected)
            } else {
                orders.recv_timeout(MARKS_WAIT)
            };
            match order {
                Ok(order) => {
                    if self.serve(order, orders).is_break() {
                        return;
                    }
                }
                Err(RecvTimeoutError::Timeout) => self.settle(),
                Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        self.settle();
        self.stop_indexing();
    }

    /// Does what is ordered, and with it what else waits; breaks after the order to close.
    pub(super) fn serve(&mut self, order: Order, orders: &Receiver<Order>) -> ControlFlow<()> {
        // Whoever asked may have gone; what they asked for is done all the same.
        match self.round(order, orders) {
            None => ControlFlow::Continue(()),
            Some(Last::End(answer)) => {
                let _ = answer.send(self.end());
                ControlFlow::Continue(())
            }
            Some(Last::Close(answer)) => {
                let closed = self.close();
                refuse_rest(orders);
                let _ = answer.send(closed);
                ControlFlow::Break(())
            }
        }
    }

    /// Keeps all batches that wait, up to an order of another kind, which it gives back.
    fn round(&mut self, first: Order, orders: &Receiver<Order>) -> Option<Last> {
        self.make_room();
        let shared = Arc::clone(&self.shared);
        let (segment, offset) = (self.tail.segment(), self.tail.length());
        let mut round = Round::new(&shared, self.counters, segment, offset);
        let mut answers = Vec::new();
        let lack = room::lacks(&shared.folder, self.index_lacks);
        let mut next = Some(first);
        let last = loop {
            match next {
                Some(Order::Append(batch, answer)) => {
                    // What was delivered is noted as long as it can be, lest it comes again.
                    let lack = lack.as_ref().filter(|_| batch.must_outlast_power());
                    let taken = match self.stopped.as_ref().or(lack) {
                        Some(why) => Err(AppendError::Failed(why.clone())),
                        None => round.take(batch),
                    };
                    if let Err(AppendError::Failed(why)) = &taken {
                        shared.heed(why);
                    }
                    answers.push((answer, taken));
                }
                Some(Order::End(answer)) => break Some(Last::End(answer)),
                Some(Order::Close(answer)) => break Some(Last::Close(answer)),
                None => break None,
            }
            let full = round.bytes() >= ROUND_BYTES;
            next = if full { None } else { orders.try_recv().ok() };
        };
        self.finish(round.ready(), answers);
        last
    }

    /// Writes a round, shows it to readers and answers.
    fn finish(&mut self, ready: Ready, answers: Vec<Answer>) {
        let written = if ready.frames.is_empty() {
            Ok(())
        } else {
            self.write(&ready)
        };
        if written.is_ok() && !ready.frames.is_empty() {
            self.publish(ready);
        }
        for (sender, answer) in answers {
            let answer = match (&written, answer) {
                (Err(TailError::Unchanged(why)), Ok(_)) => Err(AppendError::Failed(why.clone())),
                (Err(TailError::Unknown(why)), Ok(_)) => Err(AppendError::Unsure(why.clone())),
                // A refusal may rest on a batch of this round that was not kept after all.
                (Err(TailError::Unchanged(why)), Err(AppendError::Conflict { .. }))
                | (Err(TailError::Unchanged(why)), Err(AppendError::AlreadyHandled { .. })) => {
                    Err(AppendError::Failed(why.clone()))
                }
                (Err(TailError::Unknown(why)), Err(AppendError::Conflict { .. }))
                | (Err(TailError::Unknown(why)), Err(AppendError::AlreadyHandled { .. })) => {
                    Err(AppendError::Unsure(why.clone()))
                }
                (_, answer) => answer,
            };
            // Whoever asked may have stopped waiting.
            let _ = sender.send(answer);
        }
    }

    /// Shows a round that is written to readers and to the indexer.
    fn publish(&mut self, ready: Ready) {
        self.counters = Counters {
            durable: self.counters.durable,
            ..ready.counters
        };
        for (input, at) in ready.inputs {
            self.shared.inputs.note(input, at);
        }
        let overlay = &self.shared.overlay;
        let published = overlay.publish(ready.changes, &ready.ends, ready.mark);
        self.index_lacks = published.bytes;
        ready.touched.tell();
        metrics().journal_ends_at(ready.mark.frame);
        self.waiting += 1;
        if ready.must_outlast_power {
            self.is_durable();
        } else if self.waiting >= MARKS_WAITING_MAX {
            self.settle();
        }
        if published.bytes >= CHANGES_BYTES_MAX {
            // The journal must not run away from the index.
            self.settle();
            self.wake_indexer(true);
        } else if published.is_first || published.bytes >= CHANGES_BYTES {
            self.wake_indexer(false);
        }
    }

    fn write(&mut self, ready: &Ready) -> Result<(), TailError> {
        let written = self.tail.write(&ready.frames);
        let kept = written.and_then(|()| {
            if ready.must_outlast_power {
                self.tail.sync()?;
                self.is_still_there()
            } else {
                Ok(())
            }
        });
        if let Err(TailError::Unknown(why)) = &kept {
            tracing::error!(%why, "the journal stops: what its last file holds is not known");
            self.stopped = Some(StoreError::Closed);
        }
        kept
    }

    /// What goes into a file that somebody removed is nowhere to be found after the end of this
    /// process.
    fn is_still_there(&self) -> Result<(), TailError> {
        let segments = &self.shared.segments;
        let segment = self.tail.segment();
        if segments.folder().exists(&Segments::name(segment)) {
            return Ok(());
        }
        let gone = std::io::Error::from(std::io::ErrorKind::NotFound);
        Err(TailError::Unknown(StoreError::io(
            "find",
            segments.path(segment),
        )(gone)))
    }

    /// Begins another file if the present one is long enough.
    fn make_room(&mut self) {
        if self.stopped.is_some() || !self.tail.wants_roll() {
            return;
        }
        self.settle();
        if self.stopped.is_some() {
            // Another file says that everything in this one is whole.
            return;
        }
        match self.tail.roll(self.counters.frame + 1) {
            Ok(()) => {}
            Err(TailError::Unchanged(why)) => {
                // The present file still takes frames; the next round tries again.
                tracing::warn!(%why, "the journal could not begin another file");
            }
            Err(TailError::Unknown(why)) => {
                tracing::error!(%why, "the journal stops: which file is its last is not known");
                self.stopped = Some(StoreError::Closed);
            }
        }
    }

    /// Waits for the disk on behalf of delivery marks that nobody waits for.
    pub(super) fn settle(&mut self) {
        if self.waiting == 0 || self.stopped.is_some() {
            return;
        }
        match self.tail.sync() {
            Ok(()) => self.is_durable(),
            Err(TailError::Unchanged(why) | TailError::Unknown(why)) => {
                tracing::error!(%why, "the journal stops: the disk did not take its end");
                self.stopped = Some(StoreError::Closed);
            }
        }
    }

    /// Everything written is on the disk.
    fn is_durable(&mut self) {
        self.counters.durable = self.counters.frame;
        self.shared
            .durable
            .store(self.counters.durable, Ordering::Release);
        self.waiting = 0;
    }

    /// Wakes the indexer; if that has to be, waits until it is done with what it does.
    fn wake_indexer(&mut self, wait: bool) {
        let Some(Indexing { words, thread }) = &self.indexing else {
            return;
        };
        let gone = match (wait, thread) {
            (true, Some(_)) => words.send(()).is_err(),
            _ => matches!(words.try_send(()), Err(TrySendError::Disconnected(()))),
        };
        if gone {
            // What was kept stays readable from memory until the restart.
            self.stopped = Some(StoreError::Index("it stopped following".to_owned()));
        }
    }

    fn stop_indexing(&mut self) {
        if let Some(Indexing { words, thread }) = self.indexing.take() {
            drop(words);
            if thread.is_some_and(|thread| thread.join().is_err()) {
                self.stopped = Some(StoreError::Index("it broke off unexpectedly".to_owned()));
            }
        }
    }

    /// Where the journal ends, all of it being on the disk.
    fn end(&mut self) -> Result<End, StoreError> {
        self.settle();
        let end = End {
            frame: self.counters.frame,
            segment: self.tail.segment(),
            length: self.tail.length(),
        };
        self.stopped.clone().map_or(Ok(end), Err)
    }

    fn close(&mut self) -> Result<(), StoreError> {
        self.settle();
        self.stop_indexing();
        let broken = self.stopped.replace(StoreError::Closed);
        self.shared.close(match broken {
            None => Some(self.counters.frame),
            Some(_) => None,
        })?;
        broken.map_or(Ok(()), Err)
    }
}

fn refuse_rest(orders: &Receiver<Order>) {
    while let Ok(order) = orders.try_recv() {
        // Whoever asked may have stopped waiting.
        match order {
            Order::Append(_, answer) => {
                let _ = answer.send(Err(AppendError::Failed(StoreError::Closed)));
            }
            Order::End(answer) => {
                let _ = answer.send(Err(StoreError::Closed));
            }
            Order::Close(answer) => {
                let _ = answer.send(Ok(()));
            }
        }
    }
}

#[cfg(test)]
mod tests;
