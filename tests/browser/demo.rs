//! The invented crew of `serve --demo`, as its people see it.

use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

/// How the demo stood at some time.
pub(super) const NOW: &str = "2026-03-12T10:30:00Z";

pub(super) async fn demo() -> PagesServer {
    PagesServer::demo(NOW.parse().unwrap()).await
}

fn shows_in_order(page: &Page, texts: &[&str]) {
    let mut from = 0;
    for text in texts {
        let found = page.text[from..].find(text);
        let at = found.unwrap_or_else(|| panic!("no {text} from {from} on:\n{}", page.text));
        from += at + text.len();
    }
}

#[tokio::test]
async fn the_demo_has_jobs_in_every_state() {
    let server = demo().await;
    let mut supervisor = server.demo_person("supervisor").await;
    let order = [
        "You may take these over",
        "Otter Inn · K-1",
        "To review",
        "Pelican Pantry · South",
        "The assembly was replaced and proved",
        "Work is stopped",
        "Heron Hotel · C-1",
        "Left locked out",
        "Pelican Pantry · North",
        "Owner: Elmo Electrician",
        "Sent back",
        "Marmot Market · EV-5",
        "Accepted",
        "Marmot Market · EV-2",
        "Open in your crew",
        "Heron Hotel · C-2",
        "Badger Bakery",
        "Otter Inn · K-2",
    ];
    shows_in_order(&supervisor, &order);
    supervisor.open("/new-job").await;
    assert!(supervisor.shows("Dormouse Deli · 2 · freezer in the yard"));

    let mut apprentice = server.demo_person("apprentice").await;
    shows_in_order(&apprentice, &["In your hands", "Heron Hotel · C-2"]);
    apprentice.press_card("Badger Bakery").await;
    assert!(apprentice.shows("Waiting for a licensed electrician"));
    assert!(
        apprentice.shows("hand the job over to them"),
        "{}",
        apprentice.text
    );
    a_replaced_motor_has_a_whole_checklist(&mut supervisor).await;
}

async fn a_replaced_motor_has_a_whole_checklist(page: &mut Page) {
    page.open("/").await;
    page.press_card("Pelican Pantry · South").await;
    page.press("The checklist, to print").await;
    for text in ["proved dead", "Lock 31", "208 V", "Speed book, revision"] {
        assert!(page.shows(text), "{text}:\n{}", page.text);
    }
    assert!(page.source.contains("/photo/"));
    assert!(!page.shows("the crew had no kit"));
}
