//! The data folder: what happens to it when it is cut, changed, shared, moved or killed.

mod backup;
mod kill;
mod salvage;

use std::fs;
use std::path::{Path, PathBuf};

use fanwright::record::stream::{Seq, StreamId};
use fanwright::store::{
    Admitted, Batch, DATA_FORMAT, IndexOpened, Journal, LookedOver, OpenReport, Store, StoreError,
    StreamAppend,
};
use jiff::Timestamp;
use tempfile::TempDir;

const BOOT: Option<&str> = Some("boot-1");

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

async fn note(store: &dyn Store, texts: &[&str]) {
    for text in texts {
        let head = store.head(StreamId::SERVER).await.unwrap();
        store.append(noting(head.seq.0, text)).await.unwrap();
    }
}

async fn texts(store: &dyn Store) -> Vec<String> {
    let read = store
        .read(StreamId::SERVER, Seq::FIRST, usize::MAX)
        .await
        .unwrap();
    read.into_iter()
        .map(|entry| String::from_utf8(entry.bytes).unwrap())
        .collect()
}

fn open(folder: &Path) -> (Journal, OpenReport) {
    Journal::open_in_boot(folder, BOOT).unwrap()
}

fn refused(folder: &Path) -> String {
    match Journal::open_in_boot(folder, BOOT) {
        Ok((_, report)) => panic!("it was opened: {report:?}"),
        Err(problem) => problem.to_string(),
    }
}

/// A folder in which "a", "b" and "c" were noted, left without a clean stop.
async fn broken_off() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(folder.path());
    note(&journal, &["a", "b", "c"]).await;
    folder
}

fn journal_file(folder: &Path) -> PathBuf {
    folder.join("journal").join("00000001.journal")
}

/// A new folder with these bytes for a journal and nothing else.
fn folder_with(journal: &[u8]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("journal")).unwrap();
    fs::write(journal_file(folder.path()), journal).unwrap();
    folder
}

fn rebuilt(report: &OpenReport) -> &str {
    match &report.index {
        IndexOpened::Rebuilt { because } => because,
        IndexOpened::Continued { .. } => panic!("the index was not rebuilt: {report:?}"),
    }
}

#[tokio::test]
async fn an_unfinished_write_is_cut_off_put_aside_and_reported() {
    let whole = fs::read(journal_file(broken_off().await.path())).unwrap();
    // The three frames have entries of the same length, after a header of 24 bytes.
    let frame = (whole.len() - 24) / 3;
    let begin = whole.len() - frame;
    for length in begin + 1..whole.len() {
        let folder = folder_with(&whole[..length]);
        let (journal, report) = open(folder.path());
        assert_eq!(report.torn_bytes() as usize, length - begin);
        let aside = fs::read(report.torn.unwrap().kept_in).unwrap();
        assert!(aside == whole[begin..length]);
        if length % 16 == 0 {
            assert_eq!(texts(&journal).await, ["a", "b"]);
            note(&journal, &["d"]).await;
            drop(journal);
            let (journal, report) = open(folder.path());
            assert_eq!((report.torn_bytes(), report.frames), (0, 3));
            assert_eq!(texts(&journal).await, ["a", "b", "d"]);
        }
    }
}

#[tokio::test]
async fn a_flipped_byte_before_the_last_write_is_refused_at_opening() {
    let whole = fs::read(journal_file(broken_off().await.path())).unwrap();
    let last = whole.len() - (whole.len() - 24) / 3;
    for at in (0..last).step_by(7) {
        let mut flipped = whole.clone();
        flipped[at] ^= 0x10;
        let words = refused(folder_with(&flipped).path());
        assert!(
            words.starts_with("The journal is damaged: frame "),
            "{words}"
        );
        assert!(words.ends_with("find out what changed it."), "{words}");
    }
}

#[tokio::test]
async fn an_entry_changed_while_the_store_is_open_is_refused_at_reading() {
    let folder = broken_off().await;
    let (journal, _) = open(folder.path());
    let path = journal_file(folder.path());
    let mut bytes = fs::read(&path).unwrap();
    let at = bytes.iter().rposition(|byte| *byte == b'b').unwrap();
    bytes[at] = b'x';
    fs::write(&path, bytes).unwrap();
    let problem = journal.read(StreamId::SERVER, Seq(2), 1).await.unwrap_err();
    assert!(matches!(problem, StoreError::Damaged { .. }));
    assert!(
        problem.to_string().starts_with("Entry 2 of server:"),
        "{problem}"
    );
    assert!(journal.read(StreamId::SERVER, Seq(1), 1).await.is_ok());
}

#[tokio::test]
async fn a_journal_shorter_than_what_was_kept_is_refused() {
    let folder = broken_off().await;
    let path = journal_file(folder.path());
    // The index took in everything while it was opened again.
    drop(open(folder.path()));
    let whole = fs::read(&path).unwrap();
    let frame = (whole.len() - 24) / 3;
    for length in [whole.len() - 1, whole.len() - frame] {
        fs::write(&path, &whole[..length]).unwrap();
        let words = refused(folder.path());
        assert!(words.contains("frame 3"), "{words}");
    }
    // After a clean stop that is known without an index too.
    fs::write(&path, &whole).unwrap();
    let (journal, _) = open(folder.path());
    journal.close().await.unwrap();
    drop(journal);
    fs::remove_dir_all(folder.path().join("index")).unwrap();
    fs::write(&path, &whole[..whole.len() - frame]).unwrap();
    let words = refused(folder.path());
    assert!(
        words.contains("ends with frame 2, but frame 3 was safely kept"),
        "{words}"
    );
}

#[tokio::test]
async fn a_journal_of_a_later_format_is_refused() {
    let mut bytes = fs::read(journal_file(broken_off().await.path())).unwrap();
    bytes[8] = 2;
    let crc = crc32fast::hash(&bytes[..20]).to_le_bytes();
    bytes[20..24].copy_from_slice(&crc);
    let words = refused(folder_with(&bytes).path());
    assert!(
        words.contains("has format 2, and this program reads formats up to 1."),
        "{words}"
    );
}

#[tokio::test]
async fn a_folder_serves_one_store_at_a_time() {
    let folder = broken_off().await;
    let (journal, _) = open(folder.path());
    let words = refused(folder.path());
    assert!(words.contains("is in use by another process"), "{words}");
    journal.close().await.unwrap();
    let (other, _) = open(folder.path());
    assert!(matches!(
        journal.head(StreamId::SERVER).await,
        Err(StoreError::Closed)
    ));
    assert_eq!(texts(&other).await.len(), 3);
}

#[tokio::test]
async fn the_index_is_rebuilt_only_when_it_may_be_wrong() {
    let folder = broken_off().await;
    let continued = |report: OpenReport| {
        assert!(
            matches!(report.index, IndexOpened::Continued { .. }),
            "{report:?}"
        );
    };
    // Broken off under the same boot: what sled holds outlasts the end of a process.
    let (journal, report) = open(folder.path());
    continued(report);
    drop(journal);
    // Broken off under another boot: the power may have gone.
    let (journal, report) = Journal::open_in_boot(folder.path(), Some("boot-2")).unwrap();
    assert!(rebuilt(&report).contains("started anew"));
    journal.close().await.unwrap();
    drop(journal);
    // Stopped cleanly: another boot does not matter.
    let (journal, report) = Journal::open_in_boot(folder.path(), Some("boot-3")).unwrap();
    continued(report);
    drop(journal);
    // Nobody knows the boot.
    let (journal, report) = Journal::open_in_boot(folder.path(), None).unwrap();
    rebuilt(&report);
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
}

#[tokio::test]
async fn a_deleted_or_damaged_index_is_rebuilt() {
    let folder = broken_off().await;
    let index = folder.path().join("index");
    fs::remove_dir_all(&index).unwrap();
    let (journal, report) = open(folder.path());
    assert_eq!(rebuilt(&report), "There was no index.");
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
    journal.close().await.unwrap();
    drop(journal);
    for file in fs::read_dir(&index).unwrap() {
        let path = file.unwrap().path();
        if path.is_file() {
            fs::write(path, b"nothing that an index holds").unwrap();
        }
    }
    let (journal, report) = open(folder.path());
    rebuilt(&report);
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
}

#[tokio::test]
async fn the_index_of_another_journal_is_rebuilt() {
    let other = tempfile::tempdir().unwrap();
    let (journal, _) = open(other.path());
    note(&journal, &["x"]).await;
    journal.close().await.unwrap();
    drop(journal);
    let folder = broken_off().await;
    let index = folder.path().join("index");
    fs::remove_dir_all(&index).unwrap();
    fs::rename(other.path().join("index"), &index).unwrap();
    let (journal, report) = open(folder.path());
    assert!(
        rebuilt(&report).contains("it belongs to another journal"),
        "{report:?}"
    );
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
}

#[test]
fn a_store_answers_without_a_runtime_too() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(folder.path());
    let mut context = std::task::Context::from_waker(std::task::Waker::noop());
    let mut head = journal.head(StreamId::SERVER);
    assert!(head.as_mut().poll(&mut context).is_ready());
}

#[tokio::test]
async fn what_the_index_holds_is_not_read_at_opening_but_at_leisure_after_it() {
    let folder = broken_off().await;
    let (journal, report) = open(folder.path());
    assert_eq!(report.frames, 3);
    journal.close().await.unwrap();
    drop(journal);
    let (journal, report) = open(folder.path());
    assert_eq!((report.frames, report.trusted), (3, 3));
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
    note(&journal, &["d"]).await;
    let looked = until_looked_over(&journal).await;
    assert_eq!((looked.frames, looked.up_to, looked.damage), (3, 3, None));
    drop(journal);
    // Broken off under the same boot, the index may lag behind: what it lacks is read.
    let (journal, report) = open(folder.path());
    assert_eq!(report.frames, 4);
    assert!(report.trusted >= 3);
    drop(journal);
    // Under another boot everything is read.
    let (journal, report) = Journal::open_in_boot(folder.path(), Some("boot-2")).unwrap();
    assert_eq!((report.frames, report.trusted), (4, 0));
    assert_eq!(until_looked_over(&journal).await.up_to, 0);
}

/// Waits until the reading at leisure has ended.
async fn until_looked_over(journal: &Journal) -> LookedOver {
    loop {
        let looked = journal.looked_over();
        if looked.damage.is_some() || looked.frames == looked.up_to {
            return looked;
        }
        tokio::task::yield_now().await;
    }
}

#[tokio::test]
async fn damage_in_what_opening_trusted_is_found_at_leisure_and_on_reading() {
    let folder = broken_off().await;
    let (journal, _) = open(folder.path());
    journal.close().await.unwrap();
    drop(journal);
    let path = journal_file(folder.path());
    let whole = fs::read(&path).unwrap();
    let frame = (whole.len() - 24) / 3;
    for at in (24..24 + 2 * frame).step_by(7) {
        let mut flipped = whole.clone();
        flipped[at] ^= 0x10;
        fs::write(&path, &flipped).unwrap();
        let (journal, report) = open(folder.path());
        assert_eq!(report.trusted, 3);
        let number = 1 + (at - 24) / frame;
        let damage = until_looked_over(&journal).await.damage.unwrap();
        assert!(damage.contains(&format!("frame {number}, ")), "{damage}");
        // What is whole still serves.
        assert!(journal.read(StreamId::SERVER, Seq(3), 1).await.is_ok());
        journal.close().await.unwrap();
    }
    // The last frame that the index holds is looked at, whatever is trusted.
    let mut flipped = whole.clone();
    flipped[24 + 2 * frame + 9] ^= 1;
    fs::write(&path, &flipped).unwrap();
    let words = refused(folder.path());
    assert!(words.contains("frame 3, at byte "), "{words}");
}

#[tokio::test]
async fn a_folder_says_its_format_and_a_later_one_is_not_opened() {
    let folder = broken_off().await;
    let mark = folder.path().join("format");
    let said = fs::read_to_string(&mark).unwrap();
    assert_eq!(said, format!("fanwright data {DATA_FORMAT}\n"));
    // A folder of before there was a mark is brought to the present format.
    fs::remove_file(&mark).unwrap();
    let (journal, report) = open(folder.path());
    assert_eq!(report.format, Admitted::Raised { from: 7 });
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
    drop(journal);
    assert_eq!(fs::read_to_string(&mark).unwrap(), said);
    assert_eq!(open(folder.path()).1.format, Admitted::Present);
    fs::write(&mark, format!("fanwright data {}\n", DATA_FORMAT + 1)).unwrap();
    let words = refused(folder.path());
    assert!(
        words.ends_with("Start the newer program that wrote it."),
        "{words}"
    );
}
