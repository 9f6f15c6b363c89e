//! Check-ins in a chat: the question, the answer, and the supervisor who is told.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::Rules;
use fanwright::desk::clock::Clock;
use fanwright::flow::model::Role;
use fanwright::store::Memory;
use jiff::{SignedDuration, Timestamp};

use super::{World, labels, parts_with};
use crate::desk::TestClock;
use crate::support::bot_api::BotApi;

fn later(clock: &TestClock, minutes: i64) {
    let mut both = clock.0.lock().unwrap();
    both.0 += SignedDuration::from_mins(minutes);
    both.1 += Duration::from_secs(60 * minutes.unsigned_abs());
}

#[tokio::test]
async fn the_question_comes_to_the_chat_and_an_answer_ends_the_alarm() {
    let memory = Memory::new();
    let flow = include_str!("../desk/cold.yaml").to_owned();
    let mut parts = parts_with(&memory, Rules::default(), vec![("cold.yaml", flow)]);
    let clock = Arc::new(TestClock(Mutex::new((Timestamp::now(), Duration::ZERO))));
    let told_by: Arc<dyn Clock> = clock.clone();
    parts.clock = told_by;
    let world = World::of(BotApi::start().await, memory, parts).await;
    world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, freezer back wall").await;
    let asked = toni.press("A freezer").await;
    assert!(asked[0].text.contains("How often am I to ask"), "{asked:?}");
    toni.press("Every 10 minutes").await;
    later(&clock, 10);
    world.desk.end_waits().await.unwrap();
    let api = world.api.clone();
    let has = |to: i64, words: &'static str| {
        let api = api.clone();
        async move {
            let told = |api: &BotApi| api.sent(to).iter().any(|sent| sent.text.contains(words));
            api.until(words, told).await;
        }
    };
    has(2002, "Are you all right at Corner Market").await;
    let question = toni.find("I am all right").unwrap().0;
    for _ in 0..2 {
        later(&clock, 3);
        world.desk.end_waits().await.unwrap();
    }
    has(2002, "ANSWER NOW").await;
    has(1001, "No sign of life from Toni at Corner Market").await;
    // The button of the first question counts, however many came after it.
    let press = toni.pressing_on(question.id, "I am all right");
    toni.delivers(&press).await;
    has(
        1001,
        "Toni at Corner Market · EV-3 · freezer back wall is all right.",
    )
    .await;
    toni.press("I am out of the cold").await;
    assert!(
        !labels(&toni.last()).contains(&"I am out of the cold"),
        "{:?}",
        toni.last()
    );
    world.end().await;
}
