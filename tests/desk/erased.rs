//! A name that was erased is in no file of the data folder.

use std::path::Path;
use std::sync::Arc;

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::store::{Journal, Store};
use fanwright::walk::input::Input;
use jiff::SignedDuration;

use super::{World, chat};

/// The files under a folder that hold these words.
fn holding(folder: &Path, words: &str) -> Vec<String> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(holding(&path, words));
            continue;
        }
        let bytes = std::fs::read(&path).unwrap();
        let mut parts = bytes.windows(words.len());
        if parts.any(|part| part == words.as_bytes()) {
            found.push(path.display().to_string());
        }
    }
    found
}

#[tokio::test]
async fn whatever_was_told_of_somebody_holds_no_name() {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = Journal::open(folder.path()).unwrap();
    let journal = Arc::new(journal);
    let world = World::over(|_| journal.clone(), Rules::default());
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let mut on_a_page = world.joins(&sam, &chat(3), &[Role::Supervisor]).await;
    on_a_page.chat = None;
    let job = world.at_the_hold(&tess).await.job;
    // Whoever looks from a page finds news there.
    world.does(&on_a_page, job, Input::CallSupervisor).await;
    world.does(&tess, job, Input::CallSupervisor).await;
    world.does(&tess, job, Input::HandOver(None)).await;
    world.after(SignedDuration::from_hours(1));
    world.desk.remind().await.unwrap();
    let offers = |name: &str| format!("{name} offers the job at Corner Market");
    let told = async |name: &str| {
        let chats = world.desk.pending(None, 100).await.unwrap().items;
        let page = world.desk.inbox(&on_a_page).await.unwrap();
        let mut chats = chats.iter().map(|out| &out.notice.sentence);
        let mut page = page.iter().map(|item| &item.notice.sentence);
        let begins = offers(name);
        chats.any(|says| says.starts_with(&begins)) && page.any(|says| says.starts_with(&begins))
    };
    assert!(told(&tess.name).await);
    world.desk.erase_name(&sam, tess.person).await.unwrap();
    assert!(told("somebody").await);
    journal.close().await.unwrap();
    assert_eq!(holding(folder.path(), &tess.name), Vec::<String>::new());
}
