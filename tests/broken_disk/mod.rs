//! The whole server on a disk that fills up, cannot be written to, is taken away or fails: people
//! read one plain sentence, nothing acknowledged is lost, and work goes on where that is sound.
//!
//! The disks are real file systems, mounted for the test. Where that is not allowed, as it needs
//! root, a test says on the error output that it was left out.

mod disk;
mod place;
mod start;

use reqwest::StatusCode;

use crate::support::page::Page;
use disk::Mounted;
use place::Place;

/// What a person reads when there is no room.
const NO_ROOM: &str = "The server's disk is full, so this was not kept.";

/// What a person reads when nothing can be kept any more.
const STOPPED: &str = "The server takes no more work until it is restarted.";

/// The status of `/readyz` and what it says.
async fn ready(page: &mut Page) -> (StatusCode, String) {
    let path = std::mem::take(&mut page.path);
    page.open("/readyz").await;
    let told = (page.status, page.source.clone());
    page.open(&path).await;
    told
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_is_told_and_work_goes_on_once_there_is_room() {
    let Some(disk) = Mounted::memory(64, "a_full_disk_is_told") else {
        return;
    };
    let mut place = Place::at(disk.folder()).await;
    place.page.press("Go on").await;
    place.chat.press("Go on").await;
    disk.fill();
    place.page.press("It turns").await;
    assert_eq!(place.page.status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(place.page.shows(NO_ROOM), "{}", place.page.text);
    let told = place.chat.press("It turns").await;
    assert!(told[0].text.starts_with(NO_ROOM), "{told:?}");
    let (status, told) = ready(&mut place.page).await;
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(told, "nothing can be kept\n");
    disk.clear();
    // Nobody started it anew.
    place.page.again().await;
    place.page.press("It turns").await;
    assert!(place.page.shows("What do you wear?"), "{}", place.page.text);
    place.chat.press("It turns").await;
    assert!(place.chat.last().text.contains("What do you wear?"));
    assert_eq!(ready(&mut place.page).await.0, StatusCode::OK);
    let place = place.killed().await;
    assert_eq!(place.answered().await, [["arrive", "look"]; 2]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_disk_that_does_not_take_what_is_written_stops_all_work() {
    let Some(under) = Mounted::memory(24, "a_disk_that_does_not_take") else {
        return;
    };
    // A file system in a file that has no room to grow takes writes and fails to sync them.
    let Some(disk) = Mounted::image(&under, 96, "a_disk_that_does_not_take") else {
        return;
    };
    let mut place = Place::at(disk.folder()).await;
    place.page.press("Go on").await;
    place.chat.press("Go on").await;
    under.fill();
    // Blocks that are there already may still take a few.
    let mut presses = 0;
    while place.page.status == StatusCode::OK && presses < 4_000 {
        presses += 1;
        let answers = ["It turns", "Back one step"];
        place.page.press(answers[(presses + 1) % 2]).await;
    }
    assert_eq!(place.page.status, StatusCode::SERVICE_UNAVAILABLE);
    place.page.open(&place.page_job()).await;
    let told = place.chat.press("It turns").await;
    assert!(told[0].text.starts_with(STOPPED), "{told:?}");
    let (status, told) = ready(&mut place.page).await;
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(told, "nothing can be kept\n");
    // Room alone does not make up for it: nobody knows what the disk holds.
    under.clear();
    let told = place.chat.press("It turns").await;
    assert!(told[0].text.starts_with(STOPPED), "{told:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_acknowledged_in_a_folder_that_was_removed() {
    let folder = tempfile::tempdir().unwrap();
    let mut place = Place::at(folder.path()).await;
    place.page.press("Go on").await;
    std::fs::remove_dir_all(place.data()).unwrap();
    place.page.press("It turns").await;
    assert_eq!(place.page.status, StatusCode::SERVICE_UNAVAILABLE);
    let told = place.chat.press("Go on").await;
    assert!(told[0].text.starts_with(STOPPED), "{told:?}");
    let (status, told) = ready(&mut place.page).await;
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(told, "nothing can be kept\n");
}
