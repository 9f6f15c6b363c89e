//! The process is killed while many write; everything acknowledged is there afterwards.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;

use fanwright::record::chain::verify_chain;
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{AppendError, Batch, InputKey, Journal, NewNotice, Store, StreamAppend};
use jiff::Timestamp;
use uuid::Uuid;

/// Tells the test program that it is the one to be killed, and in which folder.
const FOLDER: &str = "FANWRIGHT_TEST_WRITES_IN";
const NAME: &str = "store_journal::kill::what_was_acknowledged_outlasts_a_kill";
const WRITERS: u128 = 8;
const ROUNDS: usize = 6;

#[test]
fn what_was_acknowledged_outlasts_a_kill() {
    if let Some(folder) = std::env::var_os(FOLDER) {
        write_until_killed(Path::new(&folder));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut acknowledged = BTreeSet::new();
    for round in 1..=ROUNDS {
        let told = acknowledged_until_killed(folder.path(), 40 * round);
        assert!(told.len() >= 40 * round);
        acknowledged.extend(told);
        check(folder.path(), &acknowledged);
    }
}

/// Runs a writer, kills it after so many acknowledgements and gives all it told.
fn acknowledged_until_killed(folder: &Path, count: usize) -> Vec<String> {
    let mut writer = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", NAME, "--nocapture"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut told = Vec::new();
    for line in BufReader::new(writer.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        if let Some(key) = line
            .strip_prefix("kept ")
            .and_then(|rest| rest.strip_suffix(" ."))
        {
            told.push(key.to_owned());
        }
        if told.len() == count {
            writer.kill().unwrap();
        }
    }
    writer.wait().unwrap();
    told
}

fn write_until_killed(folder: &Path) {
    let runtime = tokio::runtime::Builder::new_multi_thread().build().unwrap();
    runtime.block_on(async {
        let store: Arc<dyn Store> = Arc::new(Journal::open(folder).unwrap().0);
        let writers = (0..WRITERS).map(|writer| tokio::spawn(write(Arc::clone(&store), writer)));
        for writer in writers.collect::<Vec<_>>() {
            writer.await.unwrap();
        }
    });
}

/// Writes without end: an own stream, and one that all share.
async fn write(store: Arc<dyn Store>, writer: u128) {
    loop {
        let own = store.head(job(writer)).await.unwrap().seq;
        let shared = store.head(StreamId::SERVER).await.unwrap().seq;
        let key = format!("{writer}/{own}");
        let append = |stream, expected| StreamAppend {
            stream,
            expected,
            entries: vec![key.clone().into_bytes()],
        };
        let notice = NewNotice {
            address: key.clone(),
            payload: Vec::new(),
            due: Timestamp::UNIX_EPOCH,
        };
        let batch = Batch {
            appends: vec![append(job(writer), own), append(StreamId::SERVER, shared)],
            notices: vec![notice],
            ..Batch::handling(InputKey(key.clone()), Timestamp::UNIX_EPOCH)
        };
        match store.append(batch).await {
            // One call, one write: lines of several writers do not mix.
            Ok(_) => println!("kept {key} ."),
            Err(AppendError::Conflict { .. }) => tokio::task::yield_now().await,
            Err(problem) => panic!("{problem}"),
        }
    }
}

fn job(writer: u128) -> StreamId {
    StreamId::new(StreamKind::Job, Uuid::from_u128(writer))
}

fn check(folder: &Path, acknowledged: &BTreeSet<String>) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    runtime.block_on(async {
        let (store, report) = Journal::open(folder).unwrap();
        let shared = store
            .read(StreamId::SERVER, Seq::FIRST, usize::MAX)
            .await
            .unwrap();
        verify_chain(StreamId::SERVER, &shared).unwrap();
        let all: Vec<_> = shared
            .into_iter()
            .map(|entry| String::from_utf8(entry.bytes).unwrap())
            .collect();
        let kept: BTreeSet<_> = all.iter().cloned().collect();
        assert_eq!(kept.len(), all.len(), "one input had two effects");
        assert!(acknowledged.is_subset(&kept), "{report:?}");
        for writer in 0..WRITERS {
            let own = store
                .read(job(writer), Seq::FIRST, usize::MAX)
                .await
                .unwrap();
            verify_chain(job(writer), &own).unwrap();
            let in_both = kept
                .iter()
                .filter(|key| key.starts_with(&format!("{writer}/")));
            assert_eq!(own.len(), in_both.count(), "a batch was kept in part");
        }
        let pending = store
            .notices_pending(Timestamp::MAX, None, usize::MAX)
            .await
            .unwrap();
        let pending: BTreeSet<_> = pending
            .items
            .into_iter()
            .map(|notice| notice.address)
            .collect();
        assert_eq!(pending, kept);
    });
}
