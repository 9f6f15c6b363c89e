//! How long a data folder with many stored jobs takes to open: `cargo bench --bench opening`.
//!
//! The journal is written through the store, with entries and rows as long as those of real jobs,
//! into a temporary folder; then another process opens it, after a clean stop and after a
//! break-off.
//! Other sizes than 100,000: `OPENING_JOBS=1000000`. Another place: `OPENING_FOLDER=/some/where`.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a bench stops where its input cannot be made, and measures time"
)]

mod memory;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::time::{Duration, Instant};

use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{Batch, IndexChange, InputKey, Journal, Store, StreamAppend, Table};
use jiff::Timestamp;
use uuid::Uuid;

/// Entries of a job; a walked one has some hundred.
const ENTRIES: usize = 5;

/// Bytes of an entry: an answered reading with its band.
const ENTRY_BYTES: usize = 350;

/// Rows of a job in the lists by which it is found.
const ROWS: u8 = 12;

/// Bytes of the row that shows a job in lists.
const CARD_BYTES: usize = 400;

/// So many jobs are kept at once.
const AT_ONCE: u64 = 512;

fn main() {
    let told: Vec<String> = std::env::args().collect();
    if let Some(at) = told.iter().position(|word| word == "open") {
        return open(Path::new(&told[at + 1]));
    }
    let jobs = std::env::var("OPENING_JOBS").map_or(100_000, |jobs| jobs.parse().unwrap());
    let temporary = tempfile::tempdir().unwrap();
    let folder = std::env::var_os("OPENING_FOLDER")
        .map_or_else(|| temporary.path().join("data"), PathBuf::from);
    let runtime = tokio::runtime::Runtime::new().unwrap();
    if !folder.exists() {
        let begun = Instant::now();
        runtime.block_on(fill(&folder, jobs));
        println!(
            "{jobs} jobs written in {:.1} s",
            begun.elapsed().as_secs_f64()
        );
    }
    let files = std::fs::read_dir(folder.join("journal")).unwrap();
    let bytes: u64 = files
        .map(|file| file.unwrap().metadata().unwrap().len())
        .sum();
    println!("the journal has {:.2} GB", bytes as f64 / 1e9);
    // The first run follows a clean stop and breaks off; so the second follows a break-off.
    for after in ["a clean stop", "a break-off"] {
        let own = std::env::current_exe().unwrap();
        let ran = Command::new(own).arg("open").arg(&folder).output().unwrap();
        print!("after {after}: {}", String::from_utf8_lossy(&ran.stdout));
        assert!(
            ran.status.success(),
            "{}",
            String::from_utf8_lossy(&ran.stderr)
        );
    }
}

async fn fill(folder: &Path, jobs: u64) {
    let (journal, _) = Journal::open(folder).unwrap();
    let journal = Arc::new(journal);
    let mut next = 0;
    while next < jobs {
        let some: Vec<_> = (next..jobs.min(next + AT_ONCE))
            .map(|number| {
                let journal = Arc::clone(&journal);
                tokio::spawn(async move { journal.append(job(number)).await.unwrap() })
            })
            .collect();
        next += some.len() as u64;
        for kept in some {
            kept.await.unwrap();
        }
    }
    journal.close().await.unwrap();
}

/// What a whole job leaves behind, in one batch.
fn job(number: u64) -> Batch {
    let at = Timestamp::from_second(1_900_000_000 + number as i64 * 400).unwrap();
    // Ids sort by their time, as those of the desk do.
    let id = uuid::Builder::from_unix_timestamp_millis(
        at.as_millisecond() as u64,
        &number
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .to_le_bytes()
            .repeat(2)[..10]
            .try_into()
            .unwrap(),
    )
    .into_uuid();
    let entry = |place: usize| {
        let mut text =
            format!("{{\"v\":4,\"at\":\"{at}\",\"place\":{place},\"job\":\"{id}\",\"said\":\"");
        while text.len() < ENTRY_BYTES {
            text += &Uuid::from_u64_pair(number, text.len() as u64).to_string();
        }
        (text + "\"}").into_bytes()
    };
    let mut batch = Batch::handling(InputKey(format!("page:{id}")), at);
    batch.appends.push(StreamAppend {
        stream: StreamId::new(StreamKind::Job, id),
        expected: Seq::NONE,
        entries: (0..ENTRIES).map(entry).collect(),
    });
    for row in 0..ROWS {
        let key = [
            &[row; 17],
            &(u64::MAX - number).to_be_bytes()[..],
            id.as_bytes(),
        ]
        .concat();
        batch
            .index
            .push(IndexChange::put(Table::named("found"), key, []));
    }
    let card = vec![b'c'; CARD_BYTES];
    batch
        .index
        .push(IndexChange::put(Table::named("card"), *id.as_bytes(), card));
    batch
}

/// Opens the folder as a server does, says how long that took, and breaks off.
fn open(folder: &Path) {
    let begun = Instant::now();
    let (journal, report) = Journal::open(folder).unwrap();
    let took = begun.elapsed();
    let resident = || {
        let megabytes = |name| memory::memory("self", name).unwrap() / (1024 * 1024);
        (megabytes("VmRSS"), megabytes("VmHWM"))
    };
    let (now, most) = resident();
    let frames = report.frames;
    let before = journal.looked_over();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let asked = Instant::now();
    let head = runtime.block_on(journal.head(StreamId::SERVER)).unwrap();
    println!(
        "opened {frames} frames in {took:.2?}, {now} MB resident, {most} MB at most, the first \
         question ({}) in {:.1?}; {} frames are read at leisure; the index was {:?}",
        head.seq,
        asked.elapsed(),
        before.up_to,
        report.index
    );
    std::thread::sleep(Duration::from_secs(3));
    let (now, most) = resident();
    println!(
        "  3 s later {now} MB resident, {most} MB at most, {} frames read back",
        journal.looked_over().frames
    );
    // Without a word to the store, as when the process is killed.
    std::process::exit(0);
}
