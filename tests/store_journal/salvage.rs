//! Salvage: what can still be read of a damaged data folder is backed up and comes back.

use std::fs;

use fanwright::store::{Opener, Store, back_up_readable, restore, verify_backup};

use super::backup::{noted, order, restored, restoring};
use super::{note, open};

#[tokio::test]
async fn what_can_be_read_of_a_damaged_folder_is_backed_up_and_restored() {
    let (folder, journal, photo) = noted().await;
    note(&journal, &["c"]).await;
    drop(journal);
    let data = folder.path().join("data");
    let file = super::journal_file(&data);
    let mut bytes = fs::read(&file).unwrap();
    let third = bytes.len() - (bytes.len() - 24) / 3;
    bytes[third + 9] ^= 1;
    fs::write(&file, &bytes).unwrap();
    fs::remove_dir_all(data.join("index")).unwrap();
    // Something comes after it, so that it cannot be an unfinished write.
    fs::write(data.join("last-run"), "stopped 3\n").unwrap();
    let told = super::refused(&data);
    assert!(told.contains("the 2 frames before it, up to "), "{told}");
    assert!(told.contains("`fanwright restore`"), "{told}");
    let backup = folder.path().join("backup");
    let taken = back_up_readable(&data, &order(&backup)).unwrap();
    assert_eq!((taken.frames, taken.names, taken.photos), (2, 1, 1));
    assert!(taken.damaged.unwrap().contains("frame 3, at byte "));
    let checked = verify_backup(&backup, &Opener::Nothing).unwrap();
    assert!(checked.damaged.is_some());
    let again = folder.path().join("again");
    let (made, notes) = restored(&restoring(&backup, &again)).await;
    assert_eq!(notes, ["a", "b"]);
    assert!(made.damaged.is_some());
    assert!(open(&again).0.get_blob(photo).await.unwrap().is_some());
}

#[tokio::test]
async fn a_damaged_folder_that_says_no_format_is_restored_as_of_the_last_that_said_none() {
    let (folder, journal, _) = noted().await;
    drop(journal);
    let at = |name: &str| folder.path().join(name);
    fs::remove_file(at("data").join("format")).unwrap();
    back_up_readable(&at("data"), &order(&at("backup"))).unwrap();
    restore(&restoring(&at("backup"), &at("again"))).unwrap();
    let said = fs::read_to_string(at("again").join("format")).unwrap();
    assert_eq!(said, "fanwright data 7\n");
}

#[tokio::test]
async fn what_a_disk_does_not_give_back_is_left_out_of_what_can_be_read() {
    let (folder, journal, photo) = noted().await;
    drop(journal);
    let at = |name: &str| folder.path().join(name);
    // A folder can be opened like a file, and no byte of it can be read.
    fs::create_dir(at("data").join("journal").join("00000002.journal")).unwrap();
    let name = photo.to_string();
    let blob = at("data").join("blobs").join(&name[..2]).join(&name);
    fs::remove_file(&blob).unwrap();
    fs::create_dir(&blob).unwrap();
    let taken = back_up_readable(&at("data"), &order(&at("backup"))).unwrap();
    assert_eq!((taken.frames, taken.names, taken.photos), (2, 1, 0));
    let damaged = taken.damaged.unwrap();
    for lost in ["00000002.journal", name.as_str()] {
        assert!(damaged.contains(lost), "{damaged}");
    }
    let (_, notes) = restored(&restoring(&at("backup"), &at("again"))).await;
    assert_eq!(notes, ["a", "b"]);
}
