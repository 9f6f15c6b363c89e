//! Forms that are sent twice, too late, from elsewhere or with nonsense.

use reqwest::StatusCode;
use reqwest::header::ORIGIN;

use super::{begin_job, server};
use crate::support::page::Page;

/// How many entries the checklist counts.
async fn entries(page: &mut Page, job: &str) -> u64 {
    let path = page.path.clone();
    page.open(&format!("{job}/checklist.json")).await;
    let list: serde_json::Value = serde_json::from_str(&page.source).unwrap();
    let entries = list["head"]["seq"].as_u64().unwrap();
    page.open(&path).await;
    entries
}

#[tokio::test]
async fn a_form_that_is_sent_twice_has_one_effect() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    let (first, path) = page.request(&[], "Go on").unwrap();
    let second = first.try_clone().unwrap();
    page.go(first, &path).await;
    let after_one = entries(&mut page, &job).await;
    page.go(second, &path).await;
    assert_eq!(page.status, StatusCode::OK, "the second one is no error");
    assert!(page.shows("Does the fan turn?"), "{}", page.text);
    assert_eq!(entries(&mut page, &job).await, after_one);
}

#[tokio::test]
async fn joining_twice_with_one_form_is_joining_once() {
    let server = server().await;
    let invitation = server.desk.invite_new_crew().await.unwrap();
    let mut page = Page::new(&server.base);
    page.open(&format!("/join/{}", invitation.code.reveal()))
        .await;
    let (first, path) = page.request(&[("name", "Ann")], "Come in").unwrap();
    let second = first.try_clone().unwrap();
    page.go(first, &path).await;
    page.go(second, &path).await;
    assert_eq!((page.status, page.path.as_str()), (StatusCode::OK, "/"));
    assert_eq!(server.desk.crews().await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_link_that_is_fetched_ahead_joins_nobody() {
    let server = server().await;
    let invitation = server.desk.invite_new_crew().await.unwrap();
    let path = format!("/join/{}", invitation.code.reveal());
    let mut machine = Page::new(&server.base);
    machine.open(&path).await;
    assert_eq!(server.desk.crews().await.unwrap().len(), 0);
    Page::joined(&server.base, invitation.code.reveal(), "Ann").await;
    let mut late = Page::new(&server.base);
    late.open(&path).await;
    late.fill_and_press(&[("name", "Bo")], "Come in").await;
    assert!(late.shows("This code does not work"), "{}", late.text);
}

#[tokio::test]
async fn a_page_of_an_earlier_screen_changes_nothing_and_says_so() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    page.press("Go on").await;
    let (old, path) = page.request(&[], "It turns").unwrap();
    let (old_pause, _) = page.request(&[], "Back one step").unwrap();
    page.again().await;
    page.press("It stands still").await;
    let before = entries(&mut page, &job).await;
    page.go(old, &path).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.shows("earlier screen"), "{}", page.text);
    assert!(page.shows("What do you see on it?"), "where the job stands");
    page.go(old_pause, &path).await;
    assert_eq!(entries(&mut page, &job).await, before);
}

#[tokio::test]
async fn typed_text_of_an_earlier_screen_answers_no_other_question() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    page.press("Go on").await;
    let (first, path) = page.request(&[], "It stands still").unwrap();
    page.go(first, &path).await;
    let revision = page
        .source
        .split("name=\"revision\" value=\"")
        .nth(1)
        .unwrap();
    let revision: u64 = revision.split('"').next().unwrap().parse().unwrap();
    let token = page.source.split("name=\"token\" value=\"").nth(1).unwrap();
    let token = token.split('"').next().unwrap().to_owned();
    let earlier = (revision - 1).to_string();
    let form = [
        ("token", token.as_str()),
        ("revision", &earlier),
        ("do", "text"),
        ("text", "208 V"),
    ];
    let request = page
        .client
        .post(format!("{}{path}", server.base))
        .form(&form);
    page.go(request, &path).await;
    assert!(page.shows("earlier screen"), "{}", page.text);
}

#[tokio::test]
async fn a_form_from_another_site_or_without_its_token_is_refused() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    let before = entries(&mut page, &job).await;
    let (request, path) = page.request(&[], "Go on").unwrap();
    page.go(request.header(ORIGIN, "https://elsewhere.example"), &path)
        .await;
    assert_eq!(page.status, StatusCode::FORBIDDEN);
    assert!(page.shows("sent from another site"), "{}", page.text);

    page.open(&job).await;
    let (request, path) = page.request(&[], "Go on").unwrap();
    page.go(request.header("Sec-Fetch-Site", "cross-site"), &path)
        .await;
    assert_eq!(page.status, StatusCode::FORBIDDEN);

    let token = "0".repeat(64);
    let form = [
        ("token", token.as_str()),
        ("revision", "1"),
        ("press", "go"),
    ];
    let request = page
        .client
        .post(format!("{}{job}", server.base))
        .form(&form);
    page.go(request, &job).await;
    assert_eq!(page.status, StatusCode::FORBIDDEN);
    assert!(page.shows("was not made for you"), "{}", page.text);
    page.open(&job).await;
    assert_eq!(entries(&mut page, &job).await, before);
}

#[tokio::test]
async fn one_persons_form_is_no_good_in_anothers_browser() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut other = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut supervisor).await;
    let job = supervisor.path.clone();
    let token = supervisor
        .source
        .split("name=\"token\" value=\"")
        .nth(1)
        .unwrap();
    let token = token.split('"').next().unwrap().to_owned();
    let form = [
        ("token", token.as_str()),
        ("revision", "1"),
        ("do", "pause"),
    ];
    let request = other
        .client
        .post(format!("{}{job}", server.base))
        .form(&form);
    other.go(request, &job).await;
    assert_eq!(other.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn what_is_no_photo_is_told_and_nothing_is_lost() {
    let server = super::PagesServer::with_flows(&[(
        "photo.yaml",
        "flow: photo\ntitle: Photo\nlanguage: en\nhands_off: true\noutcomes: { over: Over }\n\
         facts:\n  plate: { photo: The nameplate }\nstart: take\nsteps:\n  take:\n    \
         photo: plate\n    say: Send it.\n    then: over\n  over: { finish: over, say: Over. }\n",
    )])
    .await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    page.send_photo(b"this is text".to_vec()).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.shows("not a photo that I can read"), "{}", page.text);
    page.send_photo(Vec::new()).await;
    assert!(page.shows("No photo came."), "{}", page.text);
    page.send_photo(vec![0; 21 * 1024 * 1024]).await;
    assert!(page.shows("larger than 20 MB"), "{}", page.text);
}
