//! The pictures of the page in the README, taken from the demo in a real browser.
//!
//! `UPDATE_SCREENS=1 cargo test --locked --test all screens` takes them anew. Without the variable
//! the test only sees to it that every picture is there, small, and shown in the README.

use std::path::{Path, PathBuf};

use fantoccini::{Client, Locator};

use super::demo::demo;
use super::driver::Driver;
use crate::support::pages_server::PagesServer;

/// All pictures together are no larger than this.
const BYTES_MAX: u64 = 600 * 1024;

/// The name of a picture, who looks, and how they get there: paths are opened, labels pressed.
const SCREENS: [(&str, &str, &[&str]); 6] = [
    ("supervisor", "supervisor", &["/"]),
    ("question", "apprentice", &["/", "Heron Hotel · C-2"]),
    ("hold", "apprentice", &["/", "Badger Bakery"]),
    (
        "stopped",
        "supervisor",
        &["/", "Heron Hotel · C-1 · flower"],
    ),
    ("review", "supervisor", &["/", "Pelican Pantry · South"]),
    (
        "checklist",
        "supervisor",
        &["/", "Pelican Pantry · South", "The checklist, to print"],
    ),
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/screens")
}

async fn sign_in(client: &Client, server: &PagesServer, who: &str) {
    let links = fanwright::demo::links(&server.desk).await.unwrap();
    let link = links.into_iter().find(|link| link.who == who).unwrap();
    let address = format!("{}{}", server.base, link.path);
    client.delete_all_cookies().await.unwrap();
    client.goto(&address).await.unwrap();
    let come_in = "//button[normalize-space(.)='Come in']";
    let button = client.find(Locator::XPath(come_in)).await.unwrap();
    button.click().await.unwrap();
    let home = "//h1[normalize-space(.)='Your jobs']";
    let there = client.wait().for_element(Locator::XPath(home)).await;
    there.unwrap_or_else(|error| panic!("{who} is not signed in: {error}"));
}

async fn go(client: &Client, server: &PagesServer, to: &str) {
    if to.starts_with('/') {
        client.goto(&format!("{}{to}", server.base)).await.unwrap();
        return;
    }
    // The job's own card, not the news about it.
    let path = format!("//a[starts-with(normalize-space(.), '{to}')]");
    let found = client.wait().for_element(Locator::XPath(&path)).await;
    let link = found.unwrap_or_else(|error| panic!("no link {to}: {error}"));
    let address = link.attr("href").await.unwrap().unwrap();
    client
        .goto(&format!("{}{address}", server.base))
        .await
        .unwrap();
}

#[tokio::test]
async fn the_screens_of_the_readme_are_taken_from_the_demo() {
    if std::env::var_os("UPDATE_SCREENS").is_some() {
        let server = demo().await;
        let profile = tempfile::tempdir().unwrap();
        let driver = Driver::start().await;
        let client = driver.browser(profile.path(), 1.0).await;
        std::fs::create_dir_all(folder()).unwrap();
        for (name, who, ways) in SCREENS {
            sign_in(&client, &server, who).await;
            for way in ways {
                go(&client, &server, way).await;
            }
            let picture = client.screenshot().await.unwrap();
            std::fs::write(folder().join(format!("{name}.png")), picture).unwrap();
        }
        client.close().await.unwrap();
    }
    let readme = include_str!("../../README.md");
    let mut bytes = 0;
    for (name, _, _) in SCREENS {
        let file = folder().join(format!("{name}.png"));
        let size = std::fs::metadata(&file).unwrap_or_else(|error| panic!("{name}: {error}"));
        bytes += size.len();
        let shown = format!("templates/screens/{name}.png");
        assert!(readme.contains(&shown), "README.md does not show {shown}");
    }
    assert!(bytes <= BYTES_MAX, "{bytes} bytes of pictures");
}
