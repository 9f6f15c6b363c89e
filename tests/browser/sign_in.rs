//! Signing in with a password, sessions, and what keeps others from guessing.

use reqwest::StatusCode;

use super::server;
use crate::support::page::Page;

const PASSWORD: &str = "coil drips on my boots";

/// Sets a password on the page; gives the login.
async fn set_password(page: &mut Page) -> String {
    page.open("/ways-in").await;
    let fields = [("password", PASSWORD)];
    page.fill_and_press(&fields, "Set this password").await;
    assert_eq!(page.status, StatusCode::OK, "{}", page.text);
    let line = page.source.split_once("Your login is <strong>").unwrap().1;
    line.split('<').next().unwrap().to_owned()
}

#[tokio::test]
async fn a_person_sets_a_password_and_signs_in_elsewhere() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    page.open("/people").await;
    page.press("Ways to sign in, and where you are signed in")
        .await;
    let fields = [("password", "passwordpassword")];
    page.fill_and_press(&fields, "Set this password").await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.shows("everybody tries first"), "{}", page.text);
    assert!(!page.source.contains("passwordpassword"));
    let login = set_password(&mut page).await;
    let mut other = Page::new(&server.base);
    other.open("/join").await;
    other.press("Sign in with a password").await;
    let wrong = [
        ("login", login.as_str()),
        ("password", "coil drips on my boot"),
    ];
    other.fill_and_press(&wrong, "Sign in").await;
    assert_eq!(other.status, StatusCode::UNPROCESSABLE_ENTITY);
    let told = other.text.clone();
    let right = [("login", login.as_str()), ("password", PASSWORD)];
    other.fill_and_press(&right, "Sign in").await;
    assert_eq!(other.path, "/", "{}", other.text);
    let mut nobody = Page::new(&server.base);
    nobody.open("/sign-in").await;
    let unknown = [("login", login.as_str()), ("password", "another wrong one")];
    let swapped = login.replace(char::is_alphanumeric, "0");
    nobody
        .fill_and_press(&[("login", swapped.as_str()), unknown[1]], "Sign in")
        .await;
    assert_eq!(nobody.text.replace(&swapped, ""), told.replace(&login, ""));

    page.open("/ways-in").await;
    page.press("Sign out everywhere else").await;
    other.open("/").await;
    assert_eq!(other.path, "/join");
    page.press("Remove the password").await;
    assert!(page.shows("You have no password"), "{}", page.text);
}

#[tokio::test]
async fn ten_wrong_passwords_make_a_login_wait_but_no_code() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    let login = set_password(&mut page).await;
    let mut guesser = Page::new(&server.base);
    guesser.open("/sign-in").await;
    for attempt in 0..=10 {
        let typed = [
            ("login", login.as_str()),
            ("password", "a wild guess it is"),
        ];
        guesser.fill_and_press(&typed, "Sign in").await;
        let expected = if attempt < 10 {
            StatusCode::UNPROCESSABLE_ENTITY
        } else {
            StatusCode::TOO_MANY_REQUESTS
        };
        assert_eq!(
            guesser.status, expected,
            "attempt {attempt}: {}",
            guesser.text
        );
    }
    assert!(guesser.shows("Wait 10 minutes"), "{}", guesser.text);
    page.open("/").await;
    assert_eq!(page.path, "/", "whoever is signed in goes on");
}

#[tokio::test]
async fn nobody_knows_the_session_that_a_sign_in_leads_to() {
    let server = server().await;
    let invitation = server.desk.invite_new_crew().await.unwrap();
    let mut page = Page::new(&server.base);
    let path = format!("/join/{}", invitation.code.reveal());
    let first = page.client.get(format!("{}{path}", server.base));
    let first = first.send().await.unwrap();
    let planted = first.headers()["set-cookie"].to_str().unwrap().to_owned();
    let planted = planted.split(';').next().unwrap().to_owned();
    page.open(&path).await;
    page.fill_and_press(&[("name", "Ann")], "Come in").await;
    assert_eq!(page.path, "/");
    let thief = reqwest::Client::builder();
    let thief = thief.redirect(reqwest::redirect::Policy::none());
    let asked = thief.build().unwrap().get(format!("{}/", server.base));
    let answer = asked.header("Cookie", planted).send().await.unwrap();
    assert_eq!(answer.headers()["location"], "/join");
}

#[tokio::test]
async fn a_browser_that_runs_wild_is_told_when_to_come_again() {
    let server = server().await;
    let page = server.supervisor("Sam Supervisor").await;
    let address = format!("{}/hurt", server.base);
    let mut answer = page.client.get(&address).send().await.unwrap();
    for _ in 0..20_000 {
        if !answer.status().is_success() {
            break;
        }
        answer = page.client.get(&address).send().await.unwrap();
    }
    assert_eq!(answer.status(), StatusCode::TOO_MANY_REQUESTS);
    let wait: u32 = answer.headers()["retry-after"]
        .to_str()
        .unwrap()
        .parse()
        .unwrap();
    assert!(wait >= 1);
    let mut other = Page::new(&server.base);
    other.open("/join").await;
    assert_eq!(other.status, StatusCode::OK, "others are not held up");
}

#[tokio::test]
async fn an_encrypted_line_stays_encrypted_and_keeps_its_cookie_to_itself() {
    let server = server().await;
    let asked = Page::new(&server.base)
        .client
        .get(format!("{}/join/ABC", server.base));
    let plain = asked.try_clone().unwrap().send().await.unwrap();
    assert!(!plain.headers().contains_key("strict-transport-security"));
    let answer = asked.header("X-Forwarded-Proto", "https").send().await;
    let answer = answer.unwrap();
    assert_eq!(
        answer.headers()["strict-transport-security"],
        "max-age=31536000"
    );
    let cookie = answer.headers()["set-cookie"].to_str().unwrap();
    assert!(cookie.starts_with("__Host-fanwright="), "{cookie}");
}

#[tokio::test]
async fn a_supervisor_reads_who_looked() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    let mut tess = server
        .invited(&mut page, "technician", "Tess Technician")
        .await;
    tess.open("/people").await;
    page.open("/people").await;
    page.press("Who looked at what").await;
    assert!(page.shows("Tess Technician on the page") || page.shows("Tess Technician"));
    assert!(page.shows("The people of the crew"), "{}", page.text);
    tess.open("/looks").await;
    assert_eq!(tess.status, StatusCode::FORBIDDEN);
}
