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
    let open = page.source.clone();
    send_from(base, page, which, (&open, typed, file)).await;
}

/// The same from a page that was opened before.
async fn send_from(
    base: &str,
    page: &mut Page,
    which: &str,
    (open, typed, file): (&str, &str, &str),
) {
    let from = open
        .find(&format!("action=\"/goods/{which}\""))
        .unwrap_or(0);
    let hidden = |name: &str| {
        let (_, value) = open[from..].split_once(&format!("name=\"{name}\" value=\""))?;
        value.split('"').next().map(str::to_owned)
    };
    let revision = hidden("revision").unwrap_or_else(|| "none".to_owned());
    let form = reqwest::multipart::Form::new()
        .text("token", hidden("token").unwrap())
        .text("revision", revision)
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
async fn an_old_form_overwrites_nothing_that_came_meanwhile() {
    let server = PagesServer::with_flows(&[PROPOSE]).await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    supervisor.open("/goods").await;
    let before = supervisor.source.clone();
    let meanwhile = BOOK.replace("speed: 1550 rpm", "speed: 1400 rpm");
    let sent = (meanwhile.as_str(), "");
    send(&server.base, &mut supervisor, "speed-book", sent).await;
    let other = BOOK.replace("speed: 1550 rpm", "speed: 1300 rpm");
    let sent = (before.as_str(), other.as_str(), "");
    send_from(&server.base, &mut supervisor, "speed-book", sent).await;
    assert_eq!(supervisor.status.as_u16(), 422);
    assert!(supervisor.shows("Somebody else changed it since you opened this page."));
    assert!(supervisor.source.contains("speed: 1300 rpm"), "not lost");
    supervisor.open("/goods/file/speed-book.yaml").await;
    assert_eq!(supervisor.source, meanwhile);
    // From the page as it is now it is kept.
    send(&server.base, &mut supervisor, "speed-book", (&other, "")).await;
    supervisor.open("/goods/file/speed-book.yaml").await;
    assert_eq!(supervisor.source, other);
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
