//! Who may see what, and what stands around every page.

use reqwest::StatusCode;

use super::{begin_job, server};
use crate::support::page::Page;

#[tokio::test]
async fn another_crews_job_answers_like_one_that_does_not_exist() {
    let server = server().await;
    let mut ours = server.supervisor("Sam Supervisor").await;
    let mut theirs = server.supervisor("Olga Other").await;
    begin_job(&mut ours).await;
    let job = ours.path.clone();
    let nobodys = "/job/01890000-0000-7000-8000-000000000000";
    for tail in [
        "",
        "/hand-over",
        "/checklist",
        "/checklist.json",
        "/news",
        "/picture/rotation",
    ] {
        theirs.open(&format!("{job}{tail}")).await;
        let answer = (theirs.status, theirs.source.clone());
        theirs.open(&format!("{nobodys}{tail}")).await;
        assert_eq!(answer.0, StatusCode::NOT_FOUND, "{tail}");
        assert_eq!(answer, (theirs.status, theirs.source.clone()), "{tail}");
    }
    theirs.open("/").await;
    assert!(!theirs.shows("Corner Market"));
    theirs.open("/new-job").await;
    assert!(!theirs.shows("Corner Market"));
    theirs.open("/people").await;
    assert!(!theirs.shows("Sam Supervisor"));
}

#[tokio::test]
async fn whoever_is_not_signed_in_is_sent_to_the_door() {
    let server = server().await;
    let mut page = Page::new(&server.base);
    for path in [
        "/",
        "/new-job",
        "/people",
        "/finished",
        "/job/x",
        "/job/x/checklist",
    ] {
        page.open(path).await;
        assert_eq!(page.path, "/join", "{path}");
    }
    for (path, text) in [("/healthz", "ok\n"), ("/readyz", "ready\n")] {
        page.open(path).await;
        assert_eq!(page.source, text);
    }
    let mut signed_in = server.supervisor("Sam Supervisor").await;
    signed_in.press("Sign out").await;
    assert_eq!(signed_in.path, "/join");
    signed_in.open("/").await;
    assert_eq!(signed_in.path, "/join", "the session is over");
}

#[tokio::test]
async fn only_a_supervisor_changes_roles_and_invites() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut other = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    other.open("/people").await;
    assert!(other.shows("Sam Supervisor"));
    assert!(!other.shows("Make a one-time code"));
    other.press("Make a code for myself").await;
    assert!(other.shows("works once"), "{}", other.text);
    supervisor.open("/people").await;
    supervisor.press("Set these roles").await;
    assert_eq!(supervisor.path, "/people", "{}", supervisor.text);
}

#[tokio::test]
async fn ten_wrong_codes_make_a_place_wait() {
    let server = server().await;
    let mut page = Page::new(&server.base);
    for attempt in 0..=10 {
        page.open("/join/AAAA-BBBB-CCCC-DDDD").await;
        page.fill_and_press(&[("name", "Mallory")], "Come in").await;
        let expected = if attempt < 10 {
            StatusCode::UNPROCESSABLE_ENTITY
        } else {
            StatusCode::TOO_MANY_REQUESTS
        };
        assert_eq!(page.status, expected, "attempt {attempt}: {}", page.text);
    }
}

#[tokio::test]
async fn every_answer_carries_the_headers_that_guard_it() {
    let server = server().await;
    let page = server.supervisor("Sam Supervisor").await;
    for path in ["/", "/hurt", "/no/such/page", "/assets/page.js", "/healthz"] {
        let response = page
            .client
            .get(format!("{}{path}", server.base))
            .send()
            .await
            .unwrap();
        let headers = response.headers();
        let policy = headers["content-security-policy"].to_str().unwrap();
        assert!(policy.contains("default-src 'none'"), "{path}: {policy}");
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(headers["x-content-type-options"], "nosniff", "{path}");
        assert_eq!(headers["x-frame-options"], "DENY", "{path}");
        assert_eq!(headers["referrer-policy"], "no-referrer", "{path}");
    }
    let response = Page::new(&server.base)
        .client
        .get(format!("{}/join/ABC", server.base))
        .header("X-Forwarded-Proto", "https")
        .send()
        .await
        .unwrap();
    let cookie = response.headers()["set-cookie"].to_str().unwrap();
    for word in ["HttpOnly", "SameSite=Lax", "Secure", "Path=/"] {
        assert!(cookie.contains(word), "{cookie}");
    }
}

#[tokio::test]
async fn no_page_brings_scripts_or_styles_of_its_own() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    let paths = [
        "/",
        "/new-job",
        "/people",
        "/finished",
        "/hurt",
        "/join",
        &job,
    ];
    for path in paths {
        page.open(path).await;
        for word in ["<style", " style=", " onclick", "javascript:"] {
            assert!(!page.source.contains(word), "{path} has {word}");
        }
    }
}

#[tokio::test]
async fn an_open_page_hears_of_a_change() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    let news = page.client.get(format!("{}{job}/news", server.base));
    let mut news = news.send().await.unwrap();
    assert_eq!(news.headers()["content-type"], "text/event-stream");
    let mut heard = String::new();
    let mut hear = async |count: usize| {
        let patience = std::time::Duration::from_secs(20);
        while heard.matches("event: changed").count() < count {
            let chunk = tokio::time::timeout(patience, news.chunk()).await;
            let chunk = chunk.expect("no news came").unwrap().unwrap();
            heard.push_str(&String::from_utf8_lossy(&chunk));
        }
    };
    hear(1).await;
    page.press("Go on").await;
    hear(2).await;
}
