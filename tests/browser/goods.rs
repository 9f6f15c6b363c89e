//! The kit and the speed book on the page, and rows that jobs propose.

use super::begin_job;
use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const PROPOSE: (&str, &str) = (
    "prove-a-speed.yaml",
    include_str!("../support/propose.yaml"),
);
const KIT: &str = include_str!("../../flows/demo/kit.yaml");
const BOOK: &str = include_str!("../../flows/demo/speed-book.yaml");

/// Sends a text to the page that takes this file in.
async fn send(base: &str, page: &mut Page, which: &str, (typed, file): (&str, &str)) {
    page.open("/goods").await;
    let token = page.source.split("name=\"token\" value=\"").nth(1).unwrap();
    let token = token.split('"').next().unwrap().to_owned();
    let form = reqwest::multipart::Form::new()
        .text("token", token)
        .text("text", typed.to_owned())
        .part(
            "file",
            reqwest::multipart::Part::text(file.to_owned()).file_name("a.yaml"),
        );
    let path = format!("/goods/{which}");
    let request = page.client.post(format!("{base}{path}")).multipart(form);
    page.go(request, &path).await;
}

#[tokio::test]
async fn a_supervisor_changes_the_goods_and_everybody_can_look_at_them() {
    let server = PagesServer::with_flows(&[PROPOSE]).await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    send(&server.base, &mut supervisor, "kit", (KIT, "")).await;
    assert_eq!(supervisor.path, "/goods", "{}", supervisor.text);
    assert!(supervisor.shows("EC-B medium, invented"));
    // A file counts before the text.
    send(
        &server.base,
        &mut supervisor,
        "speed-book",
        ("nonsense", BOOK),
    )
    .await;
    assert!(supervisor.shows("NQ-HV-4120"), "{}", supervisor.text);

    let wrong = BOOK.replace("speed: 1550 rpm", "speed: 1550");
    send(&server.base, &mut supervisor, "speed-book", (&wrong, "")).await;
    assert_eq!(supervisor.status.as_u16(), 422);
    assert!(supervisor.shows("Line 6:12"), "{}", supervisor.text);
    assert!(
        supervisor.shows("speed: 1550"),
        "what was typed is not lost"
    );
    supervisor.open("/goods/file/speed-book.yaml").await;
    assert_eq!(supervisor.source, BOOK);

    page.open("/goods").await;
    assert!(page.shows("NQ-HV-4120") && !page.source.contains("<textarea"));
    page.open("/goods/file/kit.yaml").await;
    assert_eq!(page.source, KIT);
    page.open("/goods").await;
    send(&server.base, &mut page, "kit", (KIT, "")).await;
    assert!(
        page.status.is_client_error(),
        "only a supervisor changes it"
    );
}

#[tokio::test]
async fn a_proposed_row_is_put_into_the_speed_book_from_the_job() {
    let server = PagesServer::with_flows(&[PROPOSE]).await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    page.say("ZZ-100").await;
    page.say("1230 rpm").await;
    assert!(
        page.shows("For the speed book: ZZ-100 needs 1230 rpm"),
        "{}",
        page.text
    );
    page.press("Go on").await;
    page.press("Hand the job in").await;
    assert!(!page.buttons().contains(&"Decline the row".to_owned()));
    supervisor.open("/").await;
    assert!(
        supervisor.shows("It proposes a row for the speed book."),
        "{}",
        supervisor.text
    );
    supervisor.open(&job).await;
    assert!(supervisor.shows("Proposed for the speed book: ZZ-100 needs 1230 rpm"));
    supervisor.press("Put the row into the speed book").await;
    assert!(
        supervisor.shows("Its row went into the speed book."),
        "{}",
        supervisor.text
    );
    supervisor.open("/goods").await;
    assert!(supervisor.shows("1230 rpm") && supervisor.shows("finished_job"));
}
