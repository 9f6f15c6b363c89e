//! Forms that this server did not make, or made for somebody else: each form of the table is sent
//! by somebody who may send it, and none does anything without the token that belongs to it.

use std::sync::Arc;

use reqwest::StatusCode;

use super::table::{self, Row};
use super::world::World;
use super::{About, Asks, file, token};
use crate::support::heads::Heads;

/// Forms that need no token, with why.
const NEEDS_NONE: [(&str, &str, &str); 7] = [
    (
        "/join",
        "",
        "it leads to the page of the code and does nothing",
    ),
    (
        "/verify",
        "",
        "it looks at the file that comes with it and keeps nothing",
    ),
    (
        "/join/{code}",
        "",
        "whoever is signed in is led home, and no code is used",
    ),
    (
        "/flows/look",
        "",
        "it tells what the checker finds and keeps nothing",
    ),
    (
        "/flows/draw",
        "",
        "it draws what comes with it and keeps nothing",
    ),
    (
        "/flows/try/{trial}",
        "",
        "a walk that is only tried leaves nothing",
    ),
    (
        "/job/{job}",
        "hurt",
        "the emergency page opens in any case; without a token nobody is told",
    ),
];

fn needs_none(row: &Row) -> bool {
    let does =
        |word: &str| word.is_empty() || row.fields.contains(&("do".to_owned(), word.to_owned()));
    NEEDS_NONE
        .iter()
        .any(|(path, word, _)| row.path == *path && does(word))
}

#[tokio::test]
async fn no_form_does_anything_without_its_own_token() {
    let (_, rows) = table::read(&std::fs::read_to_string(file()).unwrap());
    let mut world = World::new().await;
    let other = world.browser("worked").await;
    let mut wrong = Vec::new();
    let forms = rows.iter().filter(|row| row.method == "POST");
    for row in forms {
        let browser = world.browser("supervisor").await;
        let asks = Asks::of(&mut world, row, About::Ours).await;
        let own = token(&world, &browser, "supervisor").await;
        let others = token(&world, &other, "worked").await;
        let cut = own[..own.len() - 1].to_owned();
        let store = Arc::clone(world.server.store.as_ref().unwrap());
        let before = Heads::of(&*store).await;
        let tries = [
            ("no token", asks.posted(&browser, None)),
            ("another's token", asks.posted(&browser, Some(others))),
            ("a token cut short", asks.posted(&browser, Some(cut))),
        ];
        for (what, request) in tries {
            let status = request.send().await.unwrap().status();
            if status != StatusCode::FORBIDDEN && !needs_none(row) {
                wrong.push(format!("{} with {what}: {status}", row.head()));
            }
        }
        // Fetch Metadata Request Headers (W3C) and the Origin header of RFC 6454.
        for (header, value) in [
            ("Sec-Fetch-Site", "cross-site"),
            ("Origin", "https://elsewhere.example"),
        ] {
            let request = asks.posted(&browser, Some(own.clone()));
            let status = request.header(header, value).send().await.unwrap().status();
            if status != StatusCode::FORBIDDEN {
                wrong.push(format!(
                    "{} from elsewhere ({header}): {status}",
                    row.head()
                ));
            }
        }
        let written = before.written_since(&*store).await;
        if !written.is_empty() {
            wrong.push(format!("{} wrote into {written:?}", row.head()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
