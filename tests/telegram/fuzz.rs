//! Updates changed by chance, from somebody of a crew and from a stranger: handling none of them
//! panics, and nothing of the crew goes to anybody else.

use std::time::{Duration, Instant};

use axum::body::Body;
use axum::http::{Request, StatusCode};
use fanwright::channel::telegram::Telegram;
use fanwright::record::chain::Hash;
use serde_json::{Value, json};
use tower::ServiceExt;

use super::{Settings, World, settings};
use crate::fuzz::chance::Chance;
use crate::fuzz::change;
use crate::fuzz::seeds::updates;
use crate::support::bot_api::TOKEN;
use crate::support::chat::{Chat, unbounded};

/// Nobody outside the crew reads these.
const SECRETS: [&str; 3] = ["Corner Market", "EV-3", "Toni"];

/// The people of the crew.
const CREW: [i64; 2] = [1_001, 2_002];

const STRANGER: i64 = 9_009;

/// How the bot says that handling something panicked.
const PANICKED: &str = "The server has a fault and could not answer that.";

/// A crew with a job, and the channel that takes pushed updates.
struct Pushed {
    world: World,
    telegram: Telegram,
    secret: String,
    toni: Chat,
    seeds: Vec<Value>,
}

impl Pushed {
    async fn new() -> Pushed {
        let world = World::new().await;
        let toni = world.at_work().await;
        // From here on updates are pushed.
        world.shutdown.cancel();
        let settings = Settings {
            webhook_url: Some("https://host.example/hook".to_owned()),
            ..settings(&world.api)
        };
        let telegram = Telegram::new(world.desk.clone(), settings);
        let telegram = telegram.unwrap().with_bounds(unbounded());
        let secret = Hash::of(format!("fanwright webhook {TOKEN}").as_bytes()).to_string();
        let mut seeds: Vec<Value> = updates()
            .iter()
            .map(|seed| serde_json::from_slice(seed).unwrap())
            .collect();
        let press = seeds
            .iter()
            .find(|seed| seed.get("callback_query").is_some());
        let press = press.unwrap().clone();
        for (_, data) in toni.last().buttons {
            let mut press = press.clone();
            press["callback_query"]["data"] = json!(data);
            seeds.push(press);
        }
        Pushed {
            world,
            telegram,
            secret,
            toni,
            seeds,
        }
    }

    /// One of the seeds, by one of the people, changed.
    fn update(&self, number: u64) -> Value {
        let mut chance = Chance(number);
        let who = *chance.of(&[CREW[1], STRANGER]);
        let mut update = chance.of(&self.seeds).clone();
        by(&mut update, who);
        let name = update.as_object().unwrap().keys();
        let name = name
            .clone()
            .find(|name| *name != "update_id")
            .unwrap()
            .clone();
        for _ in 0..chance.below(4) {
            change::json(&mut update[&name], &mut chance);
        }
        // What asks for an answer of its own has no chat: its answer is known by this.
        if let Some(id) = update[&name].get_mut("id").filter(|id| id.is_string()) {
            *id = json!(format!("{who}-{number}"));
        }
        if who == STRANGER {
            // Whatever was changed, nobody becomes one of the crew by it.
            not_by(&mut update, &CREW);
        }
        update["update_id"] = json!(10_000 + number);
        update
    }

    async fn push(&self, update: &Value) -> StatusCode {
        let request = Request::post("/hook")
            .header("X-Telegram-Bot-Api-Secret-Token", &self.secret)
            .body(Body::from(update.to_string()));
        let router = self.telegram.webhook_router().unwrap();
        router.oneshot(request.unwrap()).await.unwrap().status()
    }
}

/// Says everywhere that this person did it, each time anew.
fn by(value: &mut Value, who: i64) {
    match value {
        Value::Object(map) => {
            if map.get("id") == Some(&json!(5)) {
                map.insert("id".to_owned(), json!(who));
                let name = if who == STRANGER { "Nobody" } else { "Toni" };
                map.insert("first_name".to_owned(), json!(name));
            }
            map.values_mut().for_each(|inner| by(inner, who));
        }
        Value::Array(list) => list.iter_mut().for_each(|inner| by(inner, who)),
        _ => {}
    }
}

fn not_by(value: &mut Value, who: &[i64]) {
    match value {
        Value::Number(number) if number.as_i64().is_some_and(|id| who.contains(&id)) => {
            *value = json!(STRANGER);
        }
        Value::Object(map) => map.values_mut().for_each(|inner| not_by(inner, who)),
        Value::Array(list) => list.iter_mut().for_each(|inner| not_by(inner, who)),
        _ => {}
    }
}

/// Pushes until there is enough; tells how many updates there were, and how many were read.
async fn run(first: u64, is_enough: impl Fn(u64) -> bool) -> (u64, u64) {
    let pushed = Pushed::new().await;
    let (mut sent, mut read) = (0, 0);
    while !is_enough(sent) {
        let update = pushed.update(first + sent);
        let status = pushed.push(&update).await;
        assert!(
            matches!(status, StatusCode::OK | StatusCode::BAD_REQUEST),
            "number {}: {status}: {update}",
            first + sent
        );
        sent += 1;
        read += u64::from(status == StatusCode::OK);
    }
    holds(&pushed).await;
    (sent, read)
}

async fn holds(pushed: &Pushed) {
    let api = &pushed.world.api;
    // What comes last is answered last.
    let chat = pushed.world.chat(STRANGER, "Nobody");
    for chat in [&chat, &pushed.toni] {
        let (mark, passed) = chat.mark(&Value::Null);
        pushed.push(&mark).await;
        let user = chat.user;
        api.until("the mark is answered", |api| api.has_passed(user, passed))
            .await;
    }
    let said = [
        "sendmessage",
        "editmessagetext",
        "answercallbackquery",
        "answerinlinequery",
    ];
    for call in said.iter().flat_map(|method| api.calls(method)) {
        let told = call.to_string();
        assert!(!told.contains(PANICKED), "{told}");
        let chat = call["chat_id"].as_i64();
        let asked = ["callback_query_id", "inline_query_id"];
        let mut asked = asked.iter().filter_map(|id| call[*id].as_str());
        let to_stranger = asked.any(|id| id.starts_with(&format!("{STRANGER}-")));
        if to_stranger || chat.is_some_and(|chat| !CREW.contains(&chat)) {
            let leaked = SECRETS.iter().find(|secret| told.contains(**secret));
            assert_eq!(leaked, None, "{told}");
        }
    }
    assert_eq!(api.violations(), Vec::<String>::new());
}

#[tokio::test]
async fn no_update_panics_what_handles_it_or_tells_a_stranger_of_the_crew() {
    let (sent, read) = run(1, |sent| sent >= 500).await;
    assert!(read > sent / 4, "{read} of {sent} were read");
}

/// As long as `FUZZ_SECONDS` says; run it by name.
#[tokio::test]
#[ignore = "runs as long as one wants: FUZZ_SECONDS=600"]
async fn fuzz_updates() {
    let seconds = std::env::var("FUZZ_SECONDS").ok();
    let seconds = seconds.and_then(|it| it.parse().ok()).unwrap_or(10);
    let end = Instant::now() + Duration::from_secs(seconds);
    let (sent, read) = run(1_000_000, |_| Instant::now() > end).await;
    println!("{sent} updates, {read} of them read, no panic and no word to a stranger");
}
