//! How long a step takes when many people walk at once, in chats and on pages:
//! `cargo bench --profile fast --no-default-features --bench people`.
//!
//! The built program serves a data folder on this disk; a Bot API server of our own, or browsers
//! over lines of their own, are in this process on the same processors. Beside the chats a plain
//! bot runs in turn, which commits each answer to SQLite (WAL, synchronous FULL) before it
//! replies (`benches/peer`).
//!
//! Parts: `chats`, `peer`, `paced`, `wrong`, `pages`, as words after `--`; all of them without.
//! In `chats` and `peer` everybody presses the moment a screen arrives, which tells how many steps
//! there can be; in `paced` people take some seconds, which tells how long each takes then. Other
//! numbers of people: `PEOPLE=1,50`; other times: `SECONDS=5`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::disallowed_methods,
    missing_docs,
    unreachable_pub,
    reason = "a bench stops where its input cannot be made, and measures time"
)]

mod bot_api;
mod crowd;
mod dice;
mod figures;
#[path = "../memory.rs"]
mod memory;
mod pages;
#[path = "../processor.rs"]
mod processor;
mod wrong;

use std::process::Command;
use std::time::{Duration, Instant};

use bot_api::{BotApi, TOKEN};
use crowd::{By, Crowd, Program};
use figures::Figures;
use wrong::Wrong;

/// So long nothing is counted at first.
pub const WARM_UP: Duration = Duration::from_secs(3);

/// So many more people are there to go on in place of those who did much.
const RELIEF: usize = 800;

/// So long the last answers may take.
const LAST: Duration = Duration::from_secs(30);

/// So long people take in part `paced`, on average: a tenth of what they take in earnest.
const PACE: Duration = Duration::from_secs(4);

/// Of a hundred calls so many fail, and of a hundred updates so many come again, in part `wrong`.
const WRONG: (u64, u64) = (2, 5);

/// How long is counted.
pub fn seconds() -> Duration {
    let given = std::env::var("SECONDS").ok();
    Duration::from_secs(given.map_or(10, |given| given.parse().unwrap()))
}

fn people() -> Vec<usize> {
    let given = std::env::var("PEOPLE").unwrap_or_else(|_| "1,50,500,5000".to_owned());
    given
        .split(',')
        .map(|count| count.parse().unwrap())
        .collect()
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let parts: Vec<&String> = words.iter().filter(|word| !word.starts_with('-')).collect();
    let wanted = |part: &str| parts.is_empty() || parts.iter().any(|word| *word == part);
    if wanted("peer") {
        build_peer();
    }
    for count in people() {
        let own = wanted("chats").then_some(count);
        let own = match own {
            Some(count) => Some(chats(count, Wrong::default(), Duration::ZERO).await),
            None => None,
        };
        tell(count, "chats", own.as_ref());
        let peer = match wanted("peer") {
            true => Some(peer(count).await),
            false => None,
        };
        tell(count, "plain bot", peer.as_ref());
        if let (Some(own), Some(peer)) = (&own, &peer) {
            println!("{count:>6} ratio      {:.2}", own.rate() / peer.rate());
        }
        if wanted("paced") {
            let figures = chats(count, Wrong::default(), PACE).await;
            tell(count, "paced", Some(&figures));
        }
        if wanted("wrong") {
            let figures = chats(count, Wrong::of(WRONG.0, WRONG.1), Duration::ZERO).await;
            tell(count, "wrong", Some(&figures));
            println!("       latest after a failure: {:.0?}", figures.latest);
        }
        if wanted("pages") {
            tell(count, "pages", Some(&pages::pages(count).await));
        }
    }
}

fn tell(count: usize, what: &str, figures: Option<&Figures>) {
    if let Some(figures) = figures {
        println!("{count:>6} {what:<10} {figures}");
    }
}

/// People in chats with the program.
async fn chats(count: usize, wrong: Wrong, pace: Duration) -> Figures {
    let crowd = Crowd::of(count + RELIEF, By::Chat).await;
    let again = crowd.workers.iter();
    let again = again.map(|worker| format!("/new {}", worker.tag)).collect();
    let api = BotApi::start(again, "/job", (wrong, pace)).await;
    let (program, _) = crowd.serve(Some(&api.url));
    counted(&api, count, (&program, WARM_UP + pace * 2)).await
}

/// People in chats with the plain bot.
async fn peer(count: usize) -> Figures {
    let folder = tempfile::tempdir().unwrap();
    let again = vec!["/start".to_owned(); count + RELIEF];
    let api = BotApi::start(again, "/start", (Wrong::default(), Duration::ZERO)).await;
    let mut command = Command::new(peer_target().join("release/peer"));
    command
        .arg(folder.path().join("answers.sqlite"))
        .env("TELOXIDE_TOKEN", TOKEN)
        .env("TELOXIDE_API_URL", &api.url);
    let program = Program::run(command);
    counted(&api, count, (&program, WARM_UP)).await
}

fn peer_folder() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/peer")
}

/// Where it is built: among what the build leaves anyway.
fn peer_target() -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/peer")
}

fn build_peer() {
    let built = Command::new(env!("CARGO"))
        .args(["build", "--locked", "--release"])
        .current_dir(peer_folder())
        .env("CARGO_TARGET_DIR", peer_target())
        .status();
    assert!(built.unwrap().success(), "the plain bot was not built");
}

/// Lets everybody begin, counts for a while, and waits for the last answers.
async fn counted(api: &BotApi, count: usize, (program, warm_up): (&Program, Duration)) -> Figures {
    api.begin(count);
    tokio::time::sleep(warm_up).await;
    while api.begun() == 0 {
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    drop(api.take());
    let began = Instant::now();
    tokio::time::sleep(seconds()).await;
    let mut figures = api.take();
    figures.counted = began.elapsed();
    api.rest();
    let rest = Instant::now();
    while api.waiting() > 0 && rest.elapsed() < LAST {
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let last = api.take();
    figures.extra += last.extra;
    figures.latest = figures.latest.max(last.latest);
    figures.lost = api.waiting();
    println!("    {}", program.used());
    figures
}
