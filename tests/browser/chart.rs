//! Charts on the page and on the checklist.

use super::begin_job;
use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const GAIN: (&str, &str) = ("show-a-gain.yaml", include_str!("../support/gain.yaml"));

fn has_chart(page: &Page) -> bool {
    page.source.contains("<svg role=\"img\"") && page.source.contains("Power of 1 fan")
}

#[tokio::test]
async fn a_gain_is_drawn_where_it_is_worked_out_where_it_is_told_and_on_the_checklist() {
    let server = PagesServer::with_flows(&[GAIN]).await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    assert!(page.shows("This is what the new motor saves."));
    assert!(has_chart(&page), "{}", page.source);
    page.press("Go on").await;
    assert!(page.shows("About 90 W."), "{}", page.text);
    assert!(has_chart(&page));
    page.press("I have told the owner").await;
    assert!(!has_chart(&page));
    page.open(&format!("{job}/checklist")).await;
    assert!(has_chart(&page), "{}", page.source);
    page.open(&format!("{job}/checklist.json")).await;
    assert!(
        page.source.contains("\"before_and_after\""),
        "{}",
        page.source
    );
}
