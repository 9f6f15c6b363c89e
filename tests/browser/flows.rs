//! The bench for flows, without scripts: change, see what is found, try, publish.

use super::{LOOK, begin_job, server};
use crate::support::page::Page;

const EDIT: &str = "/flows/edit/look-at-the-fan.yaml";

async fn keeps(page: &mut Page, text: &str, button: &str) {
    page.open(EDIT).await;
    page.fill_and_press(&[("text", text)], button).await;
}

#[tokio::test]
async fn a_flow_is_changed_tried_and_published() {
    let server = server().await;
    let mut sam = server.supervisor("Sam").await;
    let (_, before) = LOOK;
    let after = before.replacen("say: ", "say: Take your time. ", 1);

    keeps(
        &mut sam,
        &after.replacen("then: ", "then: nowhere_", 1),
        "Keep it in my draft",
    )
    .await;
    assert!(sam.shows("error."), "{}", sam.text);
    sam.open("/flows").await;
    assert!(sam.shows("Mend the errors first"), "{}", sam.text);

    keeps(&mut sam, &after, "Keep it in my draft").await;
    assert!(sam.shows("Nothing in this file."), "{}", sam.text);
    assert!(sam.shows("Take your time."), "{}", sam.text);

    keeps(&mut sam, &after, "Keep it and try it").await;
    assert!(sam.path.starts_with("/flows/try/"), "{}", sam.path);
    assert!(sam.shows("Trial. Nothing is kept."), "{}", sam.text);
    assert!(sam.shows("Take your time."), "{}", sam.text);
    let looks = format!("{}?as=supervisor", sam.path);
    sam.open(&looks).await;
    assert!(sam.shows("In the hands of the apprentice."), "{}", sam.text);

    sam.open("/flows").await;
    let note = [("note", "Nobody should hurry.")];
    sam.fill_and_press(&note, "Publish for the crew").await;
    assert_eq!(sam.path, "/flows", "{}", sam.text);
    assert!(sam.shows("Nobody should hurry."), "{}", sam.text);
    begin_job(&mut sam).await;
    assert!(sam.shows("Take your time."), "{}", sam.text);
}

#[tokio::test]
async fn a_flow_is_drawn_as_the_crew_walks_it_and_as_it_is_being_changed() {
    let server = server().await;
    let mut sam = server.supervisor("Sam").await;
    let mut pat = server.invited(&mut sam, "apprentice", "Pat").await;
    let (_, before) = LOOK;
    let after = before.replacen("say: ", "say: Slowly. ", 1);
    keeps(&mut sam, &after, "Keep it in my draft").await;
    let drawn = format!("{EDIT}/diagram.svg");
    assert!(sam.source.contains(&drawn), "{}", sam.source);
    sam.open(&drawn).await;
    assert!(sam.source.starts_with("<svg"), "{}", sam.source);
    assert!(sam.source.contains("Slowly."), "{}", sam.source);

    let seen = "/flows/see/look-at-the-fan";
    pat.open("/new-job").await;
    assert!(
        pat.source.contains(&format!("href=\"{seen}\"")),
        "{}",
        pat.source
    );
    pat.open(seen).await;
    assert!(pat.shows("As the crew walks it today"), "{}", pat.text);
    pat.open(&format!("{seen}/diagram.svg")).await;
    assert!(pat.source.starts_with("<svg"), "{}", pat.source);
    assert!(
        !pat.source.contains("Slowly."),
        "a draft is its author's alone"
    );
    for path in [&drawn, "/flows/see/none", "/flows/see/none/diagram.svg"] {
        pat.open(path).await;
        assert!(
            pat.status == 403 || pat.status == 404,
            "{path}: {}",
            pat.status
        );
    }

    let broken = after.replacen("then: ", "then: nowhere_", 1);
    keeps(&mut sam, &broken, "Keep it in my draft").await;
    sam.open(&drawn).await;
    assert_eq!(sam.status, 422);
    assert!(sam.shows("cannot be drawn yet"), "{}", sam.text);
}

#[tokio::test]
async fn a_refused_draft_keeps_what_was_typed() {
    let server = server().await;
    let mut sam = server.supervisor("Sam").await;
    sam.open("/flows/edit/mine.yaml").await;
    let large = format!("flow: mine # so far\n#{}", "x".repeat(256 * 1024));
    let typed = [("text", large.as_str())];
    sam.fill_and_press(&typed, "Keep it in my draft").await;
    assert_eq!(sam.status, 422);
    assert!(sam.shows("A flow file may have 256 KiB"), "{}", sam.text);
    assert!(sam.source.contains("flow: mine # so far"));
    assert!(sam.source.contains(&large[20..]));
}

#[tokio::test]
async fn only_supervisors_get_to_the_bench() {
    let server = server().await;
    let mut sam = server.supervisor("Sam").await;
    let mut pat = server.invited(&mut sam, "technician", "Pat").await;
    for path in [
        "/flows",
        EDIT,
        "/flows/try/00000000-0000-0000-0000-000000000000",
    ] {
        pat.open(path).await;
        assert_eq!(pat.status, 403, "{path}: {}", pat.text);
    }
    pat.open("/").await;
    assert!(!pat.source.contains("href=\"/flows\""), "no way is shown");
}
