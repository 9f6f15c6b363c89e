//! What `serve` says when it cannot begin: one sentence, and a status.

use std::path::Path;
use std::process::Command;

use fanwright::store::Journal;

use super::disk::Mounted;

/// Starts it over a folder where it cannot begin; gives what it says.
fn refuses(data: &Path) -> String {
    let run = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(data)
        .env_remove("TELOXIDE_TOKEN")
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(1), "{run:?}");
    assert!(run.stdout.is_empty(), "{run:?}");
    String::from_utf8(run.stderr).unwrap()
}

#[test]
fn a_folder_that_cannot_be_written_to_is_told_at_the_start() {
    let Some(disk) = Mounted::memory(4, "a_folder_that_cannot_be_written_to") else {
        return;
    };
    disk.becomes_read_only();
    let told = refuses(&disk.folder().join("data"));
    assert!(told.starts_with("Could not make "), "{told}");
    assert!(told.contains("Read-only file system"), "{told}");
    let advice = "Name a folder that this program may write to with --data.\n";
    assert!(told.ends_with(advice), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn a_disk_without_room_is_told_at_the_start() {
    let Some(disk) = Mounted::memory(4, "a_disk_without_room") else {
        return;
    };
    disk.fill();
    let told = refuses(&disk.folder().join("data"));
    assert!(told.starts_with("Could not "), "{told}");
    assert!(
        told.ends_with("Make room on that disk, then start again.\n"),
        "{told}"
    );
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn a_folder_with_a_disk_of_its_own_is_not_filled_by_a_restore() {
    let Some(disk) = Mounted::memory(4, "a_folder_with_a_disk_of_its_own") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let run = |args: &[&str]| {
        let mut program = Command::new(env!("CARGO_BIN_EXE_fanwright"));
        program.args(args).output().unwrap()
    };
    drop(Journal::open(Path::new(&at("data"))).unwrap());
    let taken = run(&["backup", &at("backup"), "--data", &at("data")]);
    assert!(taken.status.success(), "{taken:?}");
    let to = disk.folder().to_str().unwrap();
    let refused = run(&["restore", &at("backup"), "--data", to]);
    let told = String::from_utf8(refused.stderr).unwrap();
    assert!(
        told.contains("has a disk of its own. Name a folder in it"),
        "{told}"
    );
    let inside = format!("{to}/data");
    let made = run(&["restore", &at("backup"), "--data", &inside]);
    assert!(made.status.success(), "{made:?}");
}

#[test]
fn a_file_in_place_of_the_folder_is_told_at_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("data");
    std::fs::write(&file, "no folder").unwrap();
    let told = refuses(&file);
    assert!(told.starts_with("Could not open "), "{told}");
    let advice = "Name a folder that this program may write to with --data.\n";
    assert!(told.ends_with(advice), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn a_file_that_cannot_be_read_is_told_at_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    drop(Journal::open(&data).unwrap());
    // A folder can be opened like a file, and no byte of it can be read.
    std::fs::create_dir(data.join("names")).unwrap();
    let told = refuses(&data);
    assert!(told.starts_with("Could not read "), "{told}");
    assert!(told.contains("The disk may be failing"), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
}
