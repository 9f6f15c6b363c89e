//! The committer with a disk that fails on demand.

use std::io;
use std::path::Path;
use std::sync::Mutex;
use std::sync::mpsc::{Sender, channel};

use jiff::Timestamp;

use super::super::{Journal, Store, indexer, opening};
use super::*;
use crate::record::stream::{Seq, StreamId};
use crate::store::batch::StreamAppend;
use crate::store::disk::{DiskFile, Folder};
use crate::store::index::LooseIndex;
use crate::store::notice::{Delivery, DeliveryMark, NoticeId};

/// What a medium does on its next calls, and what it was asked to do.
#[derive(Default)]
struct Script {
    write_half: bool,
    fail_cut: bool,
    fail_sync: bool,
    syncs: u32,
    writes: u32,
}

struct Scripted {
    file: Box<dyn DiskFile>,
    script: Arc<Mutex<Script>>,
}

fn failure() -> io::Error {
    io::Error::new(io::ErrorKind::StorageFull, "no space left")
}

impl DiskFile for Scripted {
    fn read_at(&self, bytes: &mut [u8], offset: u64) -> io::Result<()> {
        self.file.read_at(bytes, offset)
    }

    fn length(&self) -> io::Result<u64> {
        self.file.length()
    }

    fn try_lock(&self) -> io::Result<bool> {
        self.file.try_lock()
    }

    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        let mut script = self.script.lock().unwrap();
        script.writes += 1;
        if script.write_half {
            self.file.write_at(&bytes[..bytes.len() / 2], offset)?;
            return Err(failure());
        }
        self.file.write_at(bytes, offset)
    }

    fn cut_to(&self, length: u64) -> io::Result<()> {
        if self.script.lock().unwrap().fail_cut {
            Err(failure())
        } else {
            self.file.cut_to(length)
        }
    }

    fn sync(&self) -> io::Result<()> {
        let mut script = self.script.lock().unwrap();
        script.syncs += 1;
        if script.fail_sync {
            Err(failure())
        } else {
            self.file.sync()
        }
    }
}

struct Bench {
    orders: Sender<Order>,
    thread: JoinHandle<()>,
    script: Arc<Mutex<Script>>,
}

impl Bench {
    /// A committer over a scripted file that begins another file at `roll_at` bytes. It
    /// starts once `before` has put its orders in the queue.
    fn start(
        folder: &Path,
        roll_at: u64,
        script: Script,
        before: impl FnOnce(&Sender<Order>),
    ) -> Bench {
        let folder = Folder::here(folder.to_owned());
        let opened = opening::open(&folder, &LooseIndex::default(), None).unwrap();
        let next = opened.counters.frame + 1;
        let tail = Tail::at(Arc::clone(&opened.segments), opened.end, next).unwrap();
        let file = opened.segments.open(tail.segment()).unwrap();
        let script = Arc::new(Mutex::new(script));
        let medium = Scripted {
            file,
            script: Arc::clone(&script),
        };
        let tail = tail.with(Box::new(medium), roll_at);
        let index = (opened.index, opened.inputs);
        let shared = Shared::new(&folder, opened.segments, index, None).unwrap();
        let shared = Arc::new(shared);
        shared
            .durable
            .store(opened.counters.durable, Ordering::Release);
        let (words, heard) = indexer::channel();
        let sharing = Arc::clone(&shared);
        let thread = std::thread::spawn(move || indexer::run(&sharing, &heard));
        let thread = Some(thread);
        let indexing = Indexing { words, thread };
        let committer = Committer::new(shared, tail, opened.counters, indexing);
        let (orders, given) = channel();
        before(&orders);
        let thread = std::thread::spawn(move || committer.run(&given));
        Bench {
            orders,
            thread,
            script,
        }
    }

    fn append(&self, batch: Batch) -> Result<Committed, AppendError> {
        give(&self.orders, batch).blocking_recv().unwrap()
    }

    fn stop(self) {
        drop(self.orders);
        self.thread.join().unwrap();
    }
}

fn give(orders: &Sender<Order>, batch: Batch) -> oneshot::Receiver<Result<Committed, AppendError>> {
    let (answer, answered) = oneshot::channel();
    orders.send(Order::Append(batch, answer)).unwrap();
    answered
}

fn noting(expected: u64, text: &str) -> Batch {
    let entries = vec![text.as_bytes().to_vec()];
    let append = StreamAppend {
        stream: StreamId::SERVER,
        expected: Seq(expected),
        entries,
    };
    Batch {
        appends: vec![append],
        ..Batch::new(Timestamp::UNIX_EPOCH)
    }
}

fn texts(folder: &Path) -> Vec<String> {
    let (journal, _) = Journal::open(folder).unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    let read = runtime
        .block_on(journal.read(StreamId::SERVER, Seq::FIRST, 1000))
        .unwrap();
    read.into_iter()
        .map(|entry| String::from_utf8(entry.bytes).unwrap())
        .collect()
}

#[test]
fn batches_that_wait_together_go_with_one_write_and_one_sync() {
    let folder = tempfile::tempdir().unwrap();
    let mut answers = Vec::new();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |orders| {
        answers = (0..50)
            .map(|number| give(orders, noting(number, "a")))
            .collect();
    });
    for answer in answers {
        answer.blocking_recv().unwrap().unwrap();
    }
    let script = Arc::clone(&bench.script);
    bench.stop();
    let script = script.lock().unwrap();
    assert_eq!((script.writes, script.syncs), (1, 1));
    assert_eq!(texts(folder.path()).len(), 50);
}

#[test]
fn a_full_disk_refuses_and_recovers() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    bench.append(noting(0, "kept")).unwrap();
    bench.script.lock().unwrap().write_half = true;
    let refused = bench
        .append(noting(1, "lost, and longer than the next"))
        .unwrap_err();
    assert!(
        matches!(refused, AppendError::Failed(StoreError::Io { .. })),
        "{refused}"
    );
    assert!(refused.to_string().ends_with("no space left."), "{refused}");
    bench.script.lock().unwrap().write_half = false;
    bench.append(noting(1, "short")).unwrap();
    bench.stop();
    assert_eq!(texts(folder.path()), ["kept", "short"]);
}

#[test]
fn a_refusal_that_rests_on_a_lost_batch_is_not_told() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    bench.append(noting(0, "kept")).unwrap();
    bench.stop();
    let mut answers = Vec::new();
    let script = Script {
        write_half: true,
        ..Script::default()
    };
    let bench = Bench::start(folder.path(), u64::MAX, script, |orders| {
        answers = ["first", "second"]
            .map(|text| give(orders, noting(1, text)))
            .into();
    });
    for answer in answers {
        let refused = answer.blocking_recv().unwrap().unwrap_err();
        assert!(
            matches!(refused, AppendError::Failed(StoreError::Io { .. })),
            "{refused}"
        );
    }
    bench.stop();
    assert_eq!(texts(folder.path()), ["kept"]);
}

#[test]
fn after_a_failed_sync_nothing_more_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    bench.append(noting(0, "kept")).unwrap();
    bench.script.lock().unwrap().fail_sync = true;
    let unsure = bench.append(noting(1, "perhaps")).unwrap_err();
    assert!(matches!(unsure, AppendError::Unsure(_)), "{unsure}");
    bench.script.lock().unwrap().fail_sync = false;
    let refused = bench.append(noting(1, "refused")).unwrap_err();
    assert!(
        matches!(refused, AppendError::Failed(StoreError::Closed)),
        "{refused}"
    );
    bench.stop();
    assert_eq!(texts(folder.path()), ["kept", "perhaps"]);
}

#[test]
fn after_a_write_that_could_not_be_undone_nothing_more_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    bench.append(noting(0, "kept")).unwrap();
    {
        let mut script = bench.script.lock().unwrap();
        (script.write_half, script.fail_cut) = (true, true);
    }
    let unsure = bench.append(noting(1, "half")).unwrap_err();
    assert!(matches!(unsure, AppendError::Unsure(_)), "{unsure}");
    *bench.script.lock().unwrap() = Script::default();
    assert!(bench.append(noting(1, "refused")).is_err());
    bench.stop();
    let (journal, report) = Journal::open(folder.path()).unwrap();
    assert!(report.torn_bytes() > 0);
    drop(journal);
    assert_eq!(texts(folder.path()), ["kept"]);
}

fn marking() -> Batch {
    let outcome = Delivery::Delivered;
    let marks = vec![DeliveryMark {
        notice: NoticeId(1),
        outcome,
    }];
    Batch {
        marks,
        ..Batch::new(Timestamp::UNIX_EPOCH)
    }
}

#[test]
fn marks_reach_the_disk_without_anybody_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let failing = Script {
        fail_sync: true,
        ..Script::default()
    };
    let bench = Bench::start(folder.path(), u64::MAX, failing, |_| {});
    bench.append(marking()).unwrap();
    bench.stop();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    bench.append(marking()).unwrap();
    let script = Arc::clone(&bench.script);
    bench.stop();
    assert_eq!(script.lock().unwrap().syncs, 1);
}

#[test]
fn a_steady_run_of_marks_does_not_put_the_disk_off_for_ever() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::start(folder.path(), u64::MAX, Script::default(), |_| {});
    for _ in 0..3 * MARKS_WAITING_MAX {
        bench.append(marking()).unwrap();
    }
    assert!(bench.script.lock().unwrap().syncs >= 3);
    bench.stop();
}

#[test]
fn a_long_journal_goes_on_in_further_files() {
    let folder = tempfile::tempdir().unwrap();
    let mut bench = Bench::start(folder.path(), 300, Script::default(), |_| {});
    for number in 0..20 {
        bench
            .append(noting(number, &format!("entry {number}")))
            .unwrap();
        if number == 10 {
            bench.stop();
            bench = Bench::start(folder.path(), 300, Script::default(), |_| {});
        }
    }
    bench.stop();
    let files = std::fs::read_dir(folder.path().join("journal"))
        .unwrap()
        .count();
    assert!(files > 2, "{files}");
    let expected: Vec<_> = (0..20).map(|number| format!("entry {number}")).collect();
    assert_eq!(texts(folder.path()), expected);
    std::fs::remove_dir_all(folder.path().join("index")).unwrap();
    assert_eq!(texts(folder.path()), expected);
}
