//! The review page: what it tells first, and how supervisors come to it.

use super::demo::demo;
use crate::support::page::Page;

/// The address of the demo's job at this evaporator, as the first page of the person lists it.
async fn address(page: &mut Page, begins: &str) -> String {
    page.open("/").await;
    page.press_card(begins).await;
    page.path.clone()
}

/// What a page says, in one line.
fn words(page: &Page) -> String {
    page.text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[tokio::test]
async fn a_job_to_review_leads_straight_to_what_came_out_of_it() {
    let server = demo().await;
    let mut supervisor = server.demo_person("supervisor").await;
    let path = address(&mut supervisor, "Pelican Pantry · South").await;
    assert!(path.ends_with("/review"), "{path}");
    let text = words(&supervisor);
    let mut rest = text.as_str();
    for told in [
        "What was found",
        "Failed part",
        "Motor",
        "What was done",
        "What was gained",
        "What is open",
        "Who signed",
        "Handed in by Tilly Technician",
        "The walk, part by part",
    ] {
        let at = rest.find(told);
        let at = at.unwrap_or_else(|| panic!("no {told} where it should be:\n{text}"));
        rest = &rest[at + told.len()..];
    }
    assert!(!supervisor.shows("hold point"), "{text}");
    // The report itself says the same on its first page.
    supervisor.press("The checklist, to print").await;
    let report = words(&supervisor);
    for told in [
        "Failed part Motor",
        "Watts saved 120.7 W",
        "Recheck belongs to Tilly",
    ] {
        assert!(text.contains(told), "{told}:\n{text}");
        assert!(report.contains(told), "{told}:\n{report}");
    }
}

#[tokio::test]
async fn a_job_at_a_hold_point_says_who_must_release_it_and_since_when() {
    let server = demo().await;
    let mut supervisor = server.demo_person("supervisor").await;
    let path = address(&mut supervisor, "Badger Bakery").await;
    supervisor.open(&format!("{path}/review")).await;
    let since = "It waits at a hold point since 2026-03-12 ";
    let text = words(&supervisor);
    let line = text.split_once(since);
    let (_, line) = line.unwrap_or_else(|| panic!("no “{since}”:\n{text}"));
    let (_, after_the_time) = line.split_once(" UTC").unwrap();
    let names_the_role = ": a licensed electrician must release it.";
    assert!(
        after_the_time.trim_start().starts_with(names_the_role),
        "{line}"
    );
    supervisor.press("Open its screen").await;
    assert_eq!(supervisor.path, path);
    // A job that its holder can go on with waits for nobody.
    let open = address(&mut supervisor, "Heron Hotel · C-2").await;
    supervisor.open(&format!("{open}/review")).await;
    assert!(!supervisor.shows("hold point"), "{}", supervisor.text);
}
