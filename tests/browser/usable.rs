//! Everybody can use every page: with a screen reader, a keyboard, a narrow phone, no scripts.
//!
//! The demo's pages are opened from link to link in a real browser and held against WCAG 2.2,
//! levels A and AA, by axe-core. Every page of the server's list of addresses must be met. Needs
//! `npm ci` in `tests/browser/axe`, which `.ci/test` does.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::{Client, Locator};
use fanwright::channel::browser::Browser;
use reqwest::Method;
use serde_json::Value;

use super::demo::demo;
use super::driver::{Driver, complaints};
use crate::support::pages_server::PagesServer;

/// The narrowest phone, in dots of the page.
const WIDTH: u32 = 360;

/// So many pages of one address are looked at for each person; of jobs, all.
const PAGES_OF_AN_ADDRESS: usize = 3;

/// Pages that no link leads to while the demo stands as it does, by who may open them.
const NOT_LINKED: [(&str, &str); 5] = [
    ("nobody", "/join"),
    ("nobody", "/join/ABCD"),
    ("nobody", "/no-such-page"),
    ("supervisor", "/open"),
    ("supervisor", "/jobs/stopped"),
];

/// Addresses that give no page: files, news, signs of life. Trials need a form first; they are
/// walked in their own test.
const NO_PAGES: [&str; 4] = [
    "/healthz",
    "/readyz",
    "/job/{job}/photo",
    "/flows/try/{trial}",
];

/// What axe-core finds, one line for each place.
const FINDINGS: &str = "const done = arguments[arguments.length - 1]; \
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa', \
      'best-practice']; \
    axe.run(document, { runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] }) \
      .then((found) => done(found.violations.flatMap((rule) => rule.nodes.map((node) => \
        `${rule.id}: ${rule.help}: ${node.html}: ${node.failureSummary}`))), \
        (error) => done([`axe: ${error}`]));";

/// Where a page leads, and how wide it is.
const LOOKED: &str = "return { \
    links: [...document.querySelectorAll('a[href]:not([download])')] \
      .map((link) => link.getAttribute('href')), \
    wide: document.documentElement.scrollWidth };";

fn axe() -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/browser/axe/node_modules/axe-core/axe.min.js");
    std::fs::read_to_string(&file).unwrap_or_else(|error| {
        panic!(
            "{} cannot be read: {error}. Run npm ci in tests/browser/axe, or .ci/test.",
            file.display()
        )
    })
}

/// Signs in as this person of the demo; as nobody, signs out.
pub(super) async fn sign_in(client: &Client, server: &PagesServer, who: &str) {
    client.goto(&format!("{}/hurt", server.base)).await.unwrap();
    client.delete_all_cookies().await.unwrap();
    if who == "nobody" {
        return;
    }
    client.goto(&link(server, who).await).await.unwrap();
    let come_in = "//button[normalize-space(.)='Come in']";
    let button = client.find(Locator::XPath(come_in)).await.unwrap();
    button.click().await.unwrap();
    let home = "//h1[normalize-space(.)='Your jobs']";
    client
        .wait()
        .for_element(Locator::XPath(home))
        .await
        .unwrap();
}

async fn link(server: &PagesServer, who: &str) -> String {
    let links = fanwright::demo::links(&server.desk).await.unwrap();
    let link = links.into_iter().find(|link| link.who == who).unwrap();
    format!("{}{}", server.base, link.path)
}

/// A path without what is asked or pointed at.
fn url_path(path: &str) -> &str {
    path.split(['?', '#']).next().unwrap_or_default()
}

/// Whether a path is one of this address.
fn fits(path: &str, address: &str) -> bool {
    let (mut words, mut places) = (url_path(path).split('/'), address.split('/'));
    loop {
        match (words.next(), places.next()) {
            (None, None) => return true,
            (Some(word), Some(place)) if word == place => {}
            (Some(word), Some(place)) if place.starts_with('{') && !word.is_empty() => {}
            _ => return false,
        }
    }
}

/// Every address that is looked at.
fn looked_at() -> Vec<&'static str> {
    let addresses = Browser::addresses();
    let pages = addresses.iter().filter(|it| it.method == Method::GET);
    pages.map(|address| address.path).collect()
}

/// The address of a path; the one without a brace where several fit.
fn address_of(path: &str, addresses: &[&'static str]) -> Option<&'static str> {
    let fitting = addresses.iter().filter(|address| fits(path, address));
    fitting
        .min_by_key(|address| address.matches('{').count())
        .copied()
}

/// What was found on the way from page to page.
#[derive(Default)]
struct Found {
    wrong: Vec<String>,
    met: BTreeSet<&'static str>,
    no_pages: BTreeSet<&'static str>,
}

/// Opens one person's pages, from link to link.
async fn look(client: &Client, server: &PagesServer, (who, axe): (&str, &str), found: &mut Found) {
    let addresses = looked_at();
    let mut waiting: VecDeque<String> = VecDeque::from(["/".to_owned()]);
    let others = NOT_LINKED.iter().filter(|(whose, _)| *whose == who);
    waiting.extend(others.map(|(_, path)| (*path).to_owned()));
    let mut seen = BTreeSet::new();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    let cookies = client.get_all_cookies().await.unwrap();
    let cookies: Vec<String> = cookies
        .iter()
        .map(|cookie| format!("{}={}", cookie.name(), cookie.value()))
        .collect();
    while let Some(path) = waiting.pop_front() {
        if !path.starts_with('/') || !seen.insert(path.clone()) {
            continue;
        }
        let address = address_of(&path, &addresses);
        let count = counts.entry(address.unwrap_or("none")).or_default();
        *count += 1;
        if *count > PAGES_OF_AN_ADDRESS && address != Some("/job/{job}") {
            continue;
        }
        let url = format!("{}{path}", server.base);
        let asked = reqwest::Client::new()
            .get(&url)
            .header("Cookie", cookies.join("; "));
        let answer = asked.send().await.unwrap();
        let kind = answer.headers().get("Content-Type");
        if !kind.is_some_and(|kind| kind.as_bytes().starts_with(b"text/html")) {
            found.no_pages.extend(address);
            continue;
        }
        if answer.url().path() != url_path(&path) {
            // It leads elsewhere, and that page is looked at under its own name.
            waiting.push_back(answer.url().path().to_owned());
            continue;
        }
        let is_there = answer.status().is_success();
        client.goto(&url).await.unwrap();
        client.execute(axe, Vec::new()).await.unwrap();
        let wrong = client.execute_async(FINDINGS, Vec::new()).await.unwrap();
        let looked = client.execute(LOOKED, Vec::new()).await.unwrap();
        let mut say = |wrong: &str| found.wrong.push(format!("{who} at {path}: {wrong}"));
        texts(&wrong).for_each(&mut say);
        if looked["wide"].as_u64().unwrap() > u64::from(WIDTH) {
            say(&format!("it is {} dots wide", looked["wide"]));
        }
        if is_there {
            complaints(client).await.iter().for_each(|told| say(told));
            found.met.extend(address);
        } else {
            // The browser itself complains of a page that is not there.
            complaints(client).await;
        }
        waiting.extend(texts(&looked["links"]).map(str::to_owned));
        if address == Some("/job/{job}") {
            // A button leads there, where it may.
            waiting.push_back(format!("{}/hand-over", url_path(&path)));
        }
    }
}

fn texts(value: &Value) -> impl Iterator<Item = &str> {
    value
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
}

#[tokio::test]
async fn no_page_keeps_anybody_out() {
    let axe = axe();
    let server = demo().await;
    // With a chat bot there is somewhere for the codes of labels to lead.
    server.desk.note_bot_name("demo_bot").await.unwrap();
    let profile = tempfile::tempdir().unwrap();
    let driver = Driver::start().await;
    let client = driver.phone(profile.path(), (WIDTH, 1.0)).await;
    let mut found = Found::default();
    for who in ["nobody", "supervisor", "technician", "apprentice"] {
        sign_in(&client, &server, who).await;
        complaints(&client).await;
        look(&client, &server, (who, &axe), &mut found).await;
    }
    client.close().await.unwrap();
    assert!(found.wrong.is_empty(), "{}", found.wrong.join("\n"));
    let is_missing = |address: &&str| {
        let is_file = address
            .rsplit('/')
            .next()
            .is_some_and(|name| name.contains('.'));
        let is_other = address.ends_with("/news") || address.ends_with("/{name}");
        let is_no_page = NO_PAGES.contains(address) || address.ends_with("/{hash}");
        let was_met = found.met.contains(address) || found.no_pages.contains(address);
        !(is_file || is_other || is_no_page || was_met)
    };
    let missing: Vec<&str> = looked_at().into_iter().filter(is_missing).collect();
    assert!(
        missing.is_empty(),
        "nobody came to these pages; link to them, or name them in NOT_LINKED: {missing:?}"
    );
}

/// Presses a key.
async fn key(client: &Client, key: char) {
    let pressed = KeyActions::new("keys".to_owned())
        .then(KeyAction::Down { value: key })
        .then(KeyAction::Up { value: key });
    client.perform_actions(pressed).await.unwrap();
}

const TAB: char = '\u{e004}';
const ENTER: char = '\u{e007}';

/// Goes with the tab key to what begins with this text and presses Enter on it.
pub(super) async fn go_to(client: &Client, text: &str) {
    let at = "const at = document.activeElement; \
        const style = getComputedStyle(at); \
        return { text: at.textContent.trim(), outline: style.outlineStyle };";
    let mut met = Vec::new();
    for _ in 0..200 {
        key(client, TAB).await;
        let place = client.execute(at, Vec::new()).await.unwrap();
        let words = place["text"].as_str().unwrap_or_default().to_owned();
        if words.starts_with(text) {
            assert_ne!(place["outline"], "none", "nobody sees where “{text}” is");
            key(client, ENTER).await;
            return;
        }
        met.push(words.lines().next().unwrap_or_default().to_owned());
    }
    panic!("the tab key never comes to “{text}”: {met:?}");
}

/// Waits for a page that shows this.
pub(super) async fn sees(client: &Client, text: &str) {
    let path = format!("//main[contains(normalize-space(.), '{text}')]");
    let shown = client.wait().for_element(Locator::XPath(&path)).await;
    shown.unwrap_or_else(|error| panic!("the page never shows “{text}”: {error}"));
}

#[tokio::test]
async fn a_keyboard_alone_signs_in_reviews_and_accepts() {
    let server = demo().await;
    let profile = tempfile::tempdir().unwrap();
    let driver = Driver::start().await;
    let client = driver.phone(profile.path(), (WIDTH, 1.0)).await;
    client
        .goto(&link(&server, "supervisor").await)
        .await
        .unwrap();
    go_to(&client, "Come in").await;
    sees(&client, "Your jobs").await;
    go_to(&client, "Pelican Pantry · South").await;
    sees(&client, "Your decision").await;
    go_to(&client, "Go to the decision").await;
    go_to(&client, "Accept this job").await;
    sees(&client, "Accepted by").await;
    client.close().await.unwrap();
}

#[tokio::test]
async fn without_scripts_a_job_is_reviewed_and_accepted() {
    let server = demo().await;
    let profile = tempfile::tempdir().unwrap();
    let driver = Driver::start().await;
    let client = driver.without_scripts(profile.path()).await;
    client
        .goto(&link(&server, "supervisor").await)
        .await
        .unwrap();
    for (press, shows) in [
        ("//button[normalize-space(.)='Come in']", "Your jobs"),
        (
            "//a[starts-with(normalize-space(.), 'Pelican Pantry · South')]",
            "Accept this job",
        ),
        (
            "//button[normalize-space(.)='Accept this job']",
            "Accepted by",
        ),
    ] {
        let there = client.wait().for_element(Locator::XPath(press)).await;
        let there = there.unwrap_or_else(|error| panic!("no {press}: {error}"));
        // What stands over the end of a low page is in the way of a mouse, not of a key.
        there.send_keys(&ENTER.to_string()).await.unwrap();
        sees(&client, shows).await;
    }
    client.close().await.unwrap();
}
