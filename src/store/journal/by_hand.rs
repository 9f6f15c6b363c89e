//! A journal without threads, for simulations: whoever opened it says when what happens.

use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver};

use super::committer::{Committer, Indexing, Order};
use super::indexer::{self, carry};
use super::opening::OpenReport;
use super::{Journal, Ready, Shared};
use crate::store::StoreError;
use crate::store::disk::{Disk, Folder};
use crate::store::index::LooseIndex;

/// So many rounds may wait for the index; more are carried there at once.
const ROUNDS_WAITING_MAX: usize = 256;

/// What a journal without threads is made of.
#[derive(Clone, Debug)]
pub struct Made {
    /// Where its files are.
    pub disk: Arc<dyn Disk>,
    /// What is looked up.
    pub index: LooseIndex,
    /// A file is closed for writing once it is this long, in bytes.
    pub file_bytes: u64,
}

/// The hands that do the work of the threads.
pub struct Hands {
    shared: Arc<Shared>,
    committer: Committer,
    orders: Receiver<Order>,
    /// What the committer says to the indexer; as long as it is there the committer goes on.
    words: Receiver<()>,
    rounds_waiting: usize,
    is_closed: bool,
}

impl Journal {
    /// As [`Journal::open_in_boot`], but nothing is kept before [`Hands::keep`] is called.
    ///
    /// # Errors
    /// As [`Journal::open`].
    pub fn open_by_hand(
        folder: &Path,
        boot: Option<&str>,
        made: &Made,
    ) -> Result<(Journal, Hands, OpenReport), StoreError> {
        let folder = Folder::on(Arc::clone(&made.disk), folder.to_owned());
        let Ready {
            shared,
            tail,
            counters,
            report,
        } = Ready::make(&folder, &made.index, boot)?;
        let (words, heard) = indexer::channel();
        let thread = None;
        let indexing = Indexing { words, thread };
        let tail = tail.rolling_at(made.file_bytes);
        let committer = Committer::new(Arc::clone(&shared), tail, counters, indexing);
        let (given, orders) = mpsc::channel();
        let journal = Journal {
            shared: Arc::clone(&shared),
            orders: Some(given),
            committer: None,
            answers_in_place: true,
            _leisure: None,
        };
        let hands = Hands {
            shared,
            committer,
            orders,
            words: heard,
            rounds_waiting: 0,
            is_closed: false,
        };
        Ok((journal, hands, report))
    }
}

impl Hands {
    /// Keeps all batches that wait, with one write and one wait for the disk; whether there were
    /// any.
    pub fn keep(&mut self) -> bool {
        if self.is_closed {
            return false;
        }
        let Ok(order) = self.orders.try_recv() else {
            return false;
        };
        if self.rounds_waiting >= ROUNDS_WAITING_MAX {
            self.follow();
        }
        self.rounds_waiting += 1;
        self.is_closed = self.committer.serve(order, &self.orders).is_break();
        true
    }

    /// Waits for the disk on behalf of delivery marks that nobody waits for.
    pub fn settle(&mut self) {
        if !self.is_closed {
            self.committer.settle();
        }
    }

    /// Carries what is on the disk into the index.
    pub fn follow(&mut self) {
        self.rounds_waiting = 0;
        // What they said is done now.
        while self.words.try_recv().is_ok() {}
        // If it fails, the committer is told that nobody listens any more.
        if carry(&self.shared).is_err() {
            let (_, nobody) = indexer::channel();
            self.words = nobody;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::stream::StreamId;
    use crate::store::Store;
    use crate::store::disk::MachineDisk;
    use crate::store::journal::IndexOpened;

    #[tokio::test]
    async fn an_index_that_failed_once_is_rebuilt_at_the_next_opening() {
        let folder = tempfile::tempdir().unwrap();
        let made = Made {
            disk: Arc::new(MachineDisk),
            index: LooseIndex::default(),
            file_bytes: 8 * 1024,
        };
        let open = || Journal::open_by_hand(folder.path(), Some("boot-1"), &made);
        let (journal, _, _) = open().unwrap();
        assert!(journal.head(StreamId::SERVER).await.is_ok());
        made.index.spoil();
        let refused = journal.head(StreamId::SERVER).await.unwrap_err();
        assert!(
            refused.to_string().ends_with("it rebuilds the index."),
            "{refused}"
        );
        drop(journal);
        let (journal, _, report) = open().unwrap();
        assert!(
            matches!(report.index, IndexOpened::Rebuilt { .. }),
            "{report:?}"
        );
        assert!(journal.head(StreamId::SERVER).await.is_ok());
    }
}
