//! Snapshots taken while others write, and what can be made of them.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use fanwright::record::chain::Hash;
use fanwright::record::seal::{SEED_BYTES, SigningKey};
use fanwright::record::stream::{Seq, StreamId};
use fanwright::store::{
    BackUp, BackedUp, BackupFolder, For, Memory, Opener, Restored, Restoring, Store, StoreError,
    UpTo, restore, verify_backup,
};
use jiff::Timestamp;
use tempfile::TempDir;
use uuid::Uuid;

use super::{note, open, rebuilt, texts};

// The pair that the library `age` tests itself with (src/x25519.rs of version 0.11).
const RECIPIENT: &str = "age1t7rxyev2z3rw82stdlrrepyc39nvn86l5078zqkf5uasdy86jp6svpy7pa";
const IDENTITY: &str = "AGE-SECRET-KEY-1GQ9778VQXMMJVE8SK7J6VT8UJ4HDQAJUVSFCWCM02D8GEWQ72PVQ2Y5J33";

pub(super) fn order(to: &Path) -> BackUp {
    BackUp {
        to: to.to_owned(),
        at: Timestamp::UNIX_EPOCH,
        key: Arc::new(SigningKey::from_seed(&[7; SEED_BYTES]).unwrap()),
        secret: Some(b"the secret of the seal".to_vec()),
    }
}

async fn back_up(store: &dyn Store, to: &Path) -> BackedUp {
    store.back_up(order(to)).await.unwrap()
}

pub(super) fn restoring(from: &Path, to: &Path) -> Restoring {
    Restoring {
        from: from.to_owned(),
        to: to.to_owned(),
        snapshot: None,
        up_to: None,
        opener: Opener::Nothing,
    }
}

/// Restores and gives what the notes of the restored folder are.
pub(super) async fn restored(wanted: &Restoring) -> (Restored, Vec<String>) {
    let made = restore(wanted).unwrap();
    let (store, opened) = open(&wanted.to);
    rebuilt(&opened);
    assert_eq!(opened.frames, made.frames);
    (made, texts(&store).await)
}

fn refusal(wanted: &Restoring) -> String {
    restore(wanted).unwrap_err().to_string()
}

/// A folder in which "a" and "b" were noted, with a name and a photo; and a place beside it.
pub(super) async fn noted() -> (TempDir, fanwright::store::Journal, Hash) {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    note(&journal, &["a", "b"]).await;
    let name = "Avery Example".to_owned();
    journal.set_name(Uuid::from_u128(1), name).await.unwrap();
    let photo = journal.put_blob(b"a photo".to_vec()).await.unwrap();
    (folder, journal, photo)
}

/// Every file below a folder with its bytes, but for what is there to be locked.
fn files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.file_name().unwrap() != "lock" {
                let bytes = fs::read(&path).unwrap();
                found.push((path, bytes));
            }
        }
    }
    found.sort();
    found
}

#[tokio::test]
async fn a_restored_backup_holds_everything() {
    let (folder, journal, photo) = noted().await;
    let at = |name: &str| folder.path().join(name);
    let report = back_up(&journal, &at("backup")).await;
    assert_eq!((report.frames, report.names, report.photos), (2, 1, 1));
    assert_eq!((report.snapshot, report.secret), (1, false));
    note(&journal, &["c"]).await;
    let (made, notes) = restored(&restoring(&at("backup"), &at("again"))).await;
    assert_eq!((made.frames, made.names, made.photos), (2, 1, 1));
    assert_eq!(notes, ["a", "b"]);
    let (again, _) = open(&at("again"));
    let name = again.name(Uuid::from_u128(1)).await.unwrap();
    assert_eq!(name.as_deref(), Some("Avery Example"));
    let found = again.get_blob(photo).await.unwrap();
    assert_eq!(found.as_deref(), Some(b"a photo".as_slice()));
    note(&again, &["d"]).await;
    assert_eq!(texts(&again).await, ["a", "b", "d"]);
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
}

#[tokio::test]
async fn a_second_snapshot_adds_only_what_is_new_and_changes_nothing_of_the_first() {
    let (folder, journal, _) = noted().await;
    let backup = folder.path().join("backup");
    let first = back_up(&journal, &backup).await;
    let before = files(&backup);
    // Nothing is new: only the list of the snapshot is added.
    let second = back_up(&journal, &backup).await;
    assert_eq!((second.snapshot, second.new_bytes), (2, 0));
    note(&journal, &["c"]).await;
    journal.put_blob(b"another".to_vec()).await.unwrap();
    let third = back_up(&journal, &backup).await;
    assert_eq!((third.snapshot, third.frames, third.photos), (3, 3, 2));
    let whole = fs::metadata(super::journal_file(&folder.path().join("data")));
    assert!(third.new_bytes < whole.unwrap().len() && third.new_bytes < first.new_bytes);
    let after = files(&backup);
    assert!(before.iter().all(|file| after.contains(file)));
    let checked = verify_backup(&backup, &Opener::Nothing).unwrap();
    assert_eq!((checked.snapshots, checked.frames), (3, 3));
    assert_eq!((checked.entries, checked.streams), (3, 1));
    assert_eq!((checked.names, checked.photos), (1, 2));
    // Every snapshot is still there.
    for (snapshot, notes) in [(1, vec!["a", "b"]), (3, vec!["a", "b", "c"])] {
        let wanted = Restoring {
            snapshot: Some(snapshot),
            ..restoring(&backup, &folder.path().join(format!("again-{snapshot}")))
        };
        assert_eq!(restored(&wanted).await.1, notes);
    }
    let wanted = Restoring {
        snapshot: Some(4),
        ..restoring(&backup, &folder.path().join("none"))
    };
    assert!(refusal(&wanted).contains("has no snapshot 4. Its last one is 3."));
}

#[tokio::test]
async fn a_folder_that_went_another_way_is_kept_beside_what_was_there() {
    let (folder, journal, _) = noted().await;
    let at = |name: &str| folder.path().join(name);
    back_up(&journal, &at("backup")).await;
    note(&journal, &["c"]).await;
    back_up(&journal, &at("backup")).await;
    // Restored to an earlier point and carried on, into the same backup.
    let wanted = Restoring {
        up_to: Some(UpTo::Frame(1)),
        ..restoring(&at("backup"), &at("other"))
    };
    restore(&wanted).unwrap();
    let (other, _) = open(&at("other"));
    note(&other, &["x", "y"]).await;
    back_up(&other, &at("backup")).await;
    verify_backup(&at("backup"), &Opener::Nothing).unwrap();
    for (snapshot, notes) in [(2, ["a", "b", "c"]), (3, ["a", "x", "y"])] {
        let wanted = Restoring {
            snapshot: Some(snapshot),
            ..restoring(&at("backup"), &at(&format!("again-{snapshot}")))
        };
        assert_eq!(restored(&wanted).await.1, notes);
    }
}

#[tokio::test]
async fn a_backup_of_an_empty_store_can_be_restored() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    let (backup, again) = (folder.path().join("backup"), folder.path().join("again"));
    assert_eq!(back_up(&journal, &backup).await.frames, 0);
    verify_backup(&backup, &Opener::Nothing).unwrap();
    assert_eq!(restored(&restoring(&backup, &again)).await.1, [""; 0]);
}

#[tokio::test]
async fn a_point_is_included_and_nothing_after_it() {
    let (folder, journal, _) = noted().await;
    note(&journal, &["c"]).await;
    let backup = folder.path().join("backup");
    back_up(&journal, &backup).await;
    let epoch = Timestamp::UNIX_EPOCH;
    let points = [
        (UpTo::Frame(2), 2),
        (UpTo::Entry(StreamId::SERVER, Seq(1)), 1),
        (UpTo::Time(epoch), 3),
        (UpTo::Frame(3), 3),
    ];
    for (number, (point, notes)) in points.into_iter().enumerate() {
        let wanted = Restoring {
            up_to: Some(point),
            ..restoring(&backup, &folder.path().join(format!("again-{number}")))
        };
        let (made, found) = restored(&wanted).await;
        assert_eq!(found, ["a", "b", "c"][..notes], "{point:?}");
        assert_eq!(made.left_out, 3 - notes as u64);
    }
    let before = epoch
        .checked_sub(jiff::SignedDuration::from_secs(1))
        .unwrap();
    for point in [
        UpTo::Frame(4),
        UpTo::Entry(StreamId::SERVER, Seq(4)),
        UpTo::Time(before),
    ] {
        let to = folder.path().join("nowhere");
        let wanted = Restoring {
            up_to: Some(point),
            ..restoring(&backup, &to)
        };
        assert!(refusal(&wanted).starts_with("There is no "), "{point:?}");
        assert!(!to.exists(), "{point:?}");
    }
}

#[tokio::test]
async fn every_photo_that_a_backup_names_is_in_it() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    let journal = Arc::new(journal);
    let done = Arc::new(AtomicBool::new(false));
    let writer = {
        let (journal, done) = (Arc::clone(&journal), Arc::clone(&done));
        tokio::spawn(async move {
            let mut number = 0;
            while !done.load(Ordering::SeqCst) {
                number += 1;
                let photo = format!("photo {number}").into_bytes();
                let hash = journal.put_blob(photo).await.unwrap();
                note(&*journal, &[&hash.to_string()]).await;
            }
        })
    };
    // The same folder again and again, while others write.
    let backup = folder.path().join("backup");
    for round in 0..4 {
        back_up(&*journal, &backup).await;
        let again = folder.path().join(format!("again-{round}"));
        let (_, notes) = restored(&restoring(&backup, &again)).await;
        let (store, _) = open(&again);
        for hash in notes {
            let hash: Hash = hash.parse().unwrap();
            assert!(store.get_blob(hash).await.unwrap().is_some());
        }
    }
    done.store(true, Ordering::SeqCst);
    writer.await.unwrap();
    assert_eq!(
        verify_backup(&backup, &Opener::Nothing).unwrap().snapshots,
        4
    );
}

#[tokio::test]
async fn a_backup_goes_only_into_a_backup_or_an_empty_folder() {
    let (folder, journal, _) = noted().await;
    let backup = folder.path().join("backup");
    fs::create_dir(&backup).unwrap();
    fs::write(backup.join("letter"), "Do not lose me.").unwrap();
    let refused = journal.back_up(order(&backup)).await.unwrap_err();
    assert!(matches!(refused, StoreError::NotEmpty { .. }));
    assert_eq!(fs::read_dir(&backup).unwrap().count(), 1);
    let in_memory = Memory::new()
        .back_up(order(&folder.path().join("other")))
        .await;
    assert!(matches!(in_memory, Err(StoreError::NoFolder)));
    let full = restoring(&backup, &folder.path().join("data"));
    assert!(refusal(&full).contains("is no backup"));
    let good = folder.path().join("good");
    back_up(&journal, &good).await;
    let full = restoring(&good, &folder.path().join("data"));
    assert!(refusal(&full).contains("is not empty"));
}

#[tokio::test]
async fn every_changed_or_missing_byte_of_a_backup_is_found() {
    let (folder, journal, _) = noted().await;
    let backup = folder.path().join("backup");
    back_up(&journal, &backup).await;
    note(&journal, &["c"]).await;
    back_up(&journal, &backup).await;
    let verdict = |what: &str| match verify_backup(&backup, &Opener::Nothing) {
        Ok(_) => panic!("{what} was not found"),
        Err(damage) => damage.to_string(),
    };
    for (path, whole) in files(&backup) {
        for at in (0..whole.len()).step_by(5) {
            let mut flipped = whole.clone();
            flipped[at] ^= 1;
            fs::write(&path, &flipped).unwrap();
            verdict(&format!("byte {at} of {}", path.display()));
        }
        // The line break behind a seal says nothing.
        let cut = whole.len()
            - if path.extension().is_some_and(|it| it == "seal") {
                2
            } else {
                1
            };
        fs::write(&path, &whole[..cut]).unwrap();
        verdict(&format!("the end of {}", path.display()));
        fs::remove_file(&path).unwrap();
        // Without its list a snapshot is not there at all; the seal of the last one is left.
        if path.extension().is_none_or(|ending| ending != "json") {
            verdict(&path.display().to_string());
        }
        fs::write(&path, &whole).unwrap();
    }
    verify_backup(&backup, &Opener::Nothing).unwrap();
    let piece = files(&backup)
        .into_iter()
        .find(|(path, bytes)| path.starts_with(backup.join("pieces")) && bytes.len() > 20);
    let (path, whole) = piece.unwrap();
    fs::write(&path, &whole[1..]).unwrap();
    let to = folder.path().join("again");
    let told = refusal(&restoring(&backup, &to));
    assert!(told.starts_with("The backup is damaged: "), "{told}");
    assert!(
        fs::read_dir(&to).unwrap().next().is_none(),
        "nothing half-done is left"
    );
    assert!(!folder.path().join("again.restoring").exists());
}

#[tokio::test]
async fn an_encrypted_backup_shows_nothing_and_opens_to_whoever_it_is_for() {
    let (folder, journal, _) = noted().await;
    let at = |name: &str| folder.path().join(name);
    let ways = [
        (
            For::Recipients(vec![RECIPIENT.to_owned()]),
            Opener::Identity(format!("# mine\n{IDENTITY}\n")),
        ),
        (
            For::Passphrase("a cold box".to_owned()),
            Opener::Passphrase("a cold box".to_owned()),
        ),
    ];
    for (number, (whom, opener)) in ways.into_iter().enumerate() {
        let (backup, again) = (
            at(&format!("backup-{number}")),
            at(&format!("again-{number}")),
        );
        BackupFolder::make(&backup, &whom).unwrap();
        let taken = back_up(&journal, &backup).await;
        assert!(taken.secret);
        // A second one needs nothing to open the first.
        assert_eq!(back_up(&journal, &backup).await.new_bytes, 0);
        shows_nothing(&backup);
        assert_eq!(verify_backup(&backup, &opener).unwrap().snapshots, 2);
        let wanted = Restoring {
            opener: opener.clone(),
            ..restoring(&backup, &again)
        };
        let (made, notes) = restored(&wanted).await;
        assert!(made.secret);
        assert_eq!(notes, ["a", "b"]);
        let secret = fs::read(again.join("seal-key")).unwrap();
        assert_eq!(secret, b"the secret of the seal");
        for (other, told) in [
            (Opener::Nothing, "This backup is encrypted."),
            (Opener::Passphrase("a warm box".to_owned()), "passphrase"),
            (
                Opener::Identity("nothing".to_owned()),
                "no file with identities",
            ),
        ] {
            let refused = verify_backup(&backup, &other).unwrap_err().to_string();
            assert!(refused.contains(told), "{refused}");
        }
        let piece = files(&backup).into_iter().find(|(path, _)| {
            path.extension().is_some_and(|it| it == "age")
                && path.starts_with(backup.join("pieces"))
        });
        let (path, mut flipped) = piece.unwrap();
        *flipped.last_mut().unwrap() ^= 1;
        fs::write(&path, flipped).unwrap();
        let refused = verify_backup(&backup, &opener).unwrap_err();
        assert!(
            matches!(refused, StoreError::BackupDamaged { .. }),
            "{refused}"
        );
        let made = BackupFolder::open(&backup).unwrap();
        assert!(made.must_be(&whom).is_ok());
        let others = For::Recipients(vec![RECIPIENT.to_owned(), RECIPIENT.to_owned()]);
        assert!(made.must_be(&others).is_err());
    }
}

#[tokio::test]
async fn who_was_added_to_a_backup_unseen_gets_nothing() {
    let (folder, journal, _) = noted().await;
    let at = |name: &str| folder.path().join(name);
    let passphrase = || "a cold box".to_owned();
    BackupFolder::make(&at("backup"), &For::Passphrase(passphrase())).unwrap();
    back_up(&journal, &at("backup")).await;
    let mark = at("backup").join("fanwright-backup");
    let said = fs::read_to_string(&mark).unwrap();
    fs::write(&mark, format!("{said}encrypted to {RECIPIENT}\n")).unwrap();
    let opener = Opener::Passphrase(passphrase());
    let verdict = verify_backup(&at("backup"), &opener).unwrap_err();
    let refused = journal.back_up(order(&at("backup"))).await.unwrap_err();
    for told in [verdict, refused].map(|problem| problem.to_string()) {
        assert!(
            told.contains("names others than it did when snapshot 1"),
            "{told}"
        );
    }
    let changed = BackupFolder::open(&at("backup")).unwrap();
    assert!(changed.must_be(&For::Passphrase(passphrase())).is_err());
    // What was taken before still comes back.
    let wanted = Restoring {
        opener,
        ..restoring(&at("backup"), &at("again"))
    };
    assert_eq!(restored(&wanted).await.1, ["a", "b"]);
}

#[tokio::test]
async fn a_passphrase_does_not_fit_a_backup_that_is_not_encrypted() {
    let (folder, journal, _) = noted().await;
    let backup = folder.path().join("backup");
    back_up(&journal, &backup).await;
    let plain = BackupFolder::open(&backup).unwrap();
    let wanted = For::Passphrase("a cold box".to_owned());
    let told = plain.must_be(&wanted).unwrap_err().to_string();
    assert!(
        told.contains("is not encrypted. Leave the option out"),
        "{told}"
    );
}

#[tokio::test]
async fn a_folder_is_restored_through_a_link_to_an_empty_one() {
    let (folder, journal, _) = noted().await;
    let at = |name: &str| folder.path().join(name);
    back_up(&journal, &at("backup")).await;
    fs::create_dir(at("real")).unwrap();
    std::os::unix::fs::symlink(at("real"), at("link")).unwrap();
    let (_, notes) = restored(&restoring(&at("backup"), &at("link"))).await;
    assert_eq!(notes, ["a", "b"]);
    assert!(at("real").join("journal").is_dir());
}

/// No file of a backup has anything of its content in it.
fn shows_nothing(backup: &Path) {
    for (path, bytes) in files(backup) {
        for secret in ["Avery", "a photo", "the secret of the seal"] {
            let mut parts = bytes.windows(secret.len());
            let found = parts.any(|it| it == secret.as_bytes());
            assert!(!found, "{secret} stands in {}", path.display());
        }
    }
}

#[tokio::test]
async fn a_damaged_folder_does_not_come_into_a_good_backup_unseen() {
    let (folder, journal, photo) = noted().await;
    let at = |name: &str| folder.path().join(name);
    back_up(&journal, &at("backup")).await;
    note(&journal, &["c"]).await;
    let file = super::journal_file(&at("data"));
    let whole = fs::read(&file).unwrap();
    for place in [30, whole.len() - 4] {
        let mut flipped = whole.clone();
        flipped[place] ^= 1;
        fs::write(&file, &flipped).unwrap();
        let refused = journal.back_up(order(&at("backup"))).await.unwrap_err();
        assert!(matches!(refused, StoreError::Damaged { .. }), "{refused}");
        assert!(journal.check().await.is_err());
    }
    fs::write(&file, &whole).unwrap();
    assert_eq!(journal.check().await.unwrap().entries, 3);
    let name = photo.to_string();
    let blob = at("data").join("blobs").join(&name[..2]).join(&name);
    fs::write(&blob, "a forgery").unwrap();
    assert!(
        journal
            .check()
            .await
            .unwrap_err()
            .to_string()
            .contains("does not match")
    );
    let checked = verify_backup(&at("backup"), &Opener::Nothing).unwrap();
    assert_eq!((checked.snapshots, checked.frames), (1, 2));
}
