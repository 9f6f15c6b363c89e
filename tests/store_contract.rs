//! What every store engine must do, written once and run on each of them.

mod concurrent;
mod entries;
mod history;
mod inputs;
mod lookups;
mod outbox;
mod shelf;

use std::path::Path;
use std::sync::Arc;

use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::faulty::Fault;
use fanwright::store::{
    Batch, Faulty, IndexChange, InputKey, Journal, Memory, NewNotice, Store, StreamAppend, Table,
};
use jiff::Timestamp;
use tempfile::TempDir;
use uuid::Uuid;

/// An engine with the place where it keeps things.
pub(crate) enum Bench {
    Memory(Memory),
    /// A wrapper that never meets its fault must not be noticed.
    Faulty(Memory),
    Journal(TempDir),
}

impl Bench {
    fn memory() -> Bench {
        Bench::Memory(Memory::new())
    }

    fn faulty() -> Bench {
        Bench::Faulty(Memory::new())
    }

    fn journal() -> Bench {
        Bench::Journal(tempfile::tempdir().unwrap())
    }

    fn open(&self) -> Arc<dyn Store> {
        match self {
            Bench::Memory(memory) => Arc::new(memory.reopen()),
            Bench::Faulty(memory) => Arc::new(Faulty::new(
                Arc::new(memory.reopen()),
                u64::MAX,
                Fault::Before,
            )),
            Bench::Journal(folder) => Arc::new(open_journal(folder.path())),
        }
    }

    /// Stops cleanly and opens again.
    async fn reopen(&self, store: Arc<dyn Store>) -> Arc<dyn Store> {
        store.close().await.unwrap();
        drop(store);
        self.open()
    }

    /// Breaks off and opens again.
    fn break_off(&self, store: Arc<dyn Store>) -> Arc<dyn Store> {
        drop(store);
        self.open()
    }
}

fn open_journal(folder: &Path) -> Journal {
    Journal::open(folder).unwrap().0
}

/// Makes a test of every named function for every engine.
macro_rules! on_every_engine {
    ($($name:ident),* $(,)?) => {
        crate::store_contract::on_every_engine!(@engine memory, $($name),*);
        crate::store_contract::on_every_engine!(@engine faulty, $($name),*);
        crate::store_contract::on_every_engine!(@engine journal, $($name),*);
    };
    (@engine $engine:ident, $($name:ident),*) => {
        mod $engine {
            $(
                #[tokio::test]
                async fn $name() {
                    super::$name(crate::store_contract::Bench::$engine()).await;
                }
            )*
        }
    };
}
pub(crate) use on_every_engine;

fn job(number: u128) -> StreamId {
    StreamId::new(StreamKind::Job, Uuid::from_u128(number))
}

fn second(number: i64) -> Timestamp {
    Timestamp::from_second(1_700_000_000 + number).unwrap()
}

fn input(text: &str) -> InputKey {
    InputKey(text.to_owned())
}

const JOBS: Table = Table::named("jobs");

/// Entries for a stream whose last entry is `expected`.
fn entries(stream: StreamId, expected: u64, texts: &[&str]) -> StreamAppend {
    let entries = texts.iter().map(|text| text.as_bytes().to_vec()).collect();
    StreamAppend {
        stream,
        expected: Seq(expected),
        entries,
    }
}

fn notice(address: &str, due: Timestamp) -> NewNotice {
    let payload = format!("for {address}").into_bytes();
    NewNotice {
        address: address.to_owned(),
        payload,
        due,
    }
}

fn batch_of(appends: Vec<StreamAppend>) -> Batch {
    Batch {
        appends,
        ..Batch::new(second(0))
    }
}

/// One of everything, for the given stream and input.
fn full_batch(key: &str, append: StreamAppend) -> Batch {
    Batch {
        appends: vec![append],
        notices: vec![notice(key, second(5))],
        index: vec![IndexChange::put(JOBS, key, "open")],
        ..Batch::handling(input(key), second(0))
    }
}

/// Everything that can be asked of a store, for comparing two.
#[derive(Debug, PartialEq)]
struct Picture {
    streams: Vec<(StreamId, Vec<fanwright::record::chain::Stored>)>,
    notices: Vec<fanwright::store::PendingNotice>,
    rows: Vec<fanwright::store::IndexRow>,
    names: Vec<(Uuid, String)>,
}

async fn picture(store: &dyn Store) -> Picture {
    let mut streams = Vec::new();
    for kind in StreamKind::ALL {
        for (stream, head) in store.streams(kind, None, usize::MAX).await.unwrap().items {
            let entries = store.read(stream, Seq::FIRST, usize::MAX).await.unwrap();
            let verified = fanwright::record::chain::verify_chain(stream, &entries);
            assert_eq!(verified, Ok(head));
            assert_eq!(store.head(stream).await.unwrap(), head);
            streams.push((stream, entries));
        }
    }
    let notices = store
        .notices_pending(Timestamp::MAX, None, usize::MAX)
        .await
        .unwrap()
        .items;
    let rows = store
        .scan(JOBS, Vec::new(), None, usize::MAX)
        .await
        .unwrap()
        .items;
    Picture {
        streams,
        notices,
        rows,
        names: store.names().await.unwrap(),
    }
}
