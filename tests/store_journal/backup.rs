//! A backup taken while others write, and what can be made of it.

use std::fs;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use fanwright::record::chain::Hash;
use fanwright::store::{Memory, Store, StoreError, restore};
use uuid::Uuid;

use super::{note, open, rebuilt, texts};

#[tokio::test]
async fn a_restored_backup_holds_everything() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    note(&journal, &["a", "b"]).await;
    let person = Uuid::from_u128(1);
    journal
        .set_name(person, "Avery Example".to_owned())
        .await
        .unwrap();
    let photo = journal.put_blob(b"a photo".to_vec()).await.unwrap();
    let backup = folder.path().join("backup");
    let report = journal.back_up(backup.clone()).await.unwrap();
    assert_eq!((report.frames, report.names, report.blobs), (2, 1, 1));
    note(&journal, &["c"]).await;
    let again = folder.path().join("again");
    assert_eq!(restore(&backup, &again).unwrap(), report);
    let (restored, opened) = open(&again);
    rebuilt(&opened);
    assert_eq!(texts(&restored).await, ["a", "b"]);
    assert_eq!(
        restored.name(person).await.unwrap().as_deref(),
        Some("Avery Example")
    );
    assert_eq!(
        restored.get_blob(photo).await.unwrap().as_deref(),
        Some(b"a photo".as_slice())
    );
    note(&restored, &["d"]).await;
    assert_eq!(texts(&restored).await, ["a", "b", "d"]);
    assert_eq!(texts(&journal).await, ["a", "b", "c"]);
}

#[tokio::test]
async fn a_backup_of_an_empty_store_can_be_restored() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    let (backup, again) = (folder.path().join("backup"), folder.path().join("again"));
    assert_eq!(journal.back_up(backup.clone()).await.unwrap().frames, 0);
    restore(&backup, &again).unwrap();
    assert_eq!(texts(&open(&again).0).await, [""; 0]);
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
    for round in 0..4 {
        let backup = folder.path().join(format!("backup-{round}"));
        journal.back_up(backup.clone()).await.unwrap();
        let again = folder.path().join(format!("again-{round}"));
        restore(&backup, &again).unwrap();
        let (restored, _) = open(&again);
        for hash in texts(&restored).await {
            let hash: Hash = hash.parse().unwrap();
            assert!(restored.get_blob(hash).await.unwrap().is_some());
        }
    }
    done.store(true, Ordering::SeqCst);
    writer.await.unwrap();
}

#[tokio::test]
async fn a_backup_goes_only_into_an_empty_folder() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    let backup = folder.path().join("backup");
    fs::create_dir(&backup).unwrap();
    fs::write(backup.join("letter"), "Do not lose me.").unwrap();
    let refused = journal.back_up(backup.clone()).await.unwrap_err();
    assert!(matches!(refused, StoreError::NotEmpty { .. }));
    assert_eq!(fs::read_dir(&backup).unwrap().count(), 1);
    let in_memory = Memory::new().back_up(folder.path().join("other")).await;
    assert!(matches!(in_memory, Err(StoreError::NoFolder)));
}

#[tokio::test]
async fn a_damaged_or_missing_backup_is_not_restored() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = open(&folder.path().join("data"));
    note(&journal, &["a", "b"]).await;
    let photo = journal
        .put_blob(b"a photo".to_vec())
        .await
        .unwrap()
        .to_string();
    let backup = folder.path().join("backup");
    journal.back_up(backup.clone()).await.unwrap();
    let refused = |name: &str| {
        restore(&backup, &folder.path().join(name))
            .unwrap_err()
            .to_string()
    };
    let file = super::journal_file(&backup);
    let whole = fs::read(&file).unwrap();
    fs::write(&file, &whole[..whole.len() - 1]).unwrap();
    assert!(refused("one").contains("is not complete"));
    fs::write(&file, &whole).unwrap();
    fs::write(
        backup.join("blobs").join(&photo[..2]).join(&photo),
        "a forgery",
    )
    .unwrap();
    assert!(refused("two").contains("does not match the hash in its name"));
    assert!(restore(&folder.path().join("nowhere"), &folder.path().join("three")).is_err());
}
