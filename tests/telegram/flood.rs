//! Somebody who sends more than a person can, and the others meanwhile.

use fanwright::desk::Rules;
use serde_json::json;

use super::{World, png};
use crate::support::bot_api::{BotApi, Fault};

const FLOOD: &str = "That is more than I can read at once.";

#[tokio::test]
async fn a_flood_of_one_is_told_once_and_holds_up_nobody() {
    let world = World::with(Rules::default()).await;
    world.supervisor().await;
    let flooding = world.chat(5_005, "Mallory");
    let mut other = world.chat(6_006, "Toni");
    for _ in 0..1_000 {
        let message = flooding.message(json!({ "text": "208 V" }));
        let update = world.api.update("message", message);
        world.api.deliver(&update);
    }
    // What they sent in the same moment is one of many places, each with its turn.
    let answer = other.say("/help").await;
    assert!(!answer.is_empty(), "the other is answered");
    let last = flooding.message(json!({ "text": "/hurt" }));
    let hurt = world.api.update("message", last);
    world.api.deliver(&hurt);
    world
        .api
        .until("the emergency is answered", |api| {
            let sent = api.sent(5_005);
            sent.iter().any(|it| it.text.contains("emergency number"))
        })
        .await;
    let sent = world.api.sent(5_005);
    let told = sent.iter().filter(|it| it.text.starts_with(FLOOD)).count();
    assert_eq!(told, 1, "told once");
    world.end().await;
}

/// Whether the emergency screen is in this chat.
fn is_helped(api: &BotApi, chat: i64) -> bool {
    let sent = api.sent(chat);
    sent.iter().any(|it| it.text.contains("emergency number"))
}

#[tokio::test]
async fn an_emergency_does_not_wait_for_a_photo_that_is_slow_to_arrive() {
    let world = World::new().await;
    let mut toni = world.at_work().await;
    for label in ["Go on", "It turns", "That is all"] {
        toni.press(label).await;
    }
    toni.say("208 V").await;
    world.api.fail_next("getfile", Fault::Held);
    let photo = toni.message(toni.photo_content(png()));
    world.api.deliver(&world.api.update("message", photo));
    let is_held = |api: &BotApi| !api.has_fault("getfile");
    world.api.until("the photo is being fetched", is_held).await;
    // The chat is as full as it may be behind the photo.
    for _ in 0..200 {
        let more = toni.message(json!({ "text": "/help" }));
        world.api.deliver(&world.api.update("message", more));
    }
    let hurt = toni.message(json!({ "text": "/hurt" }));
    world.api.deliver(&world.api.update("message", hurt));
    let helped = |api: &BotApi| is_helped(api, 2_002);
    world.api.until("the emergency is answered", helped).await;
    // The supervisor hears of it, too.
    let told = |api: &BotApi| {
        let sent = api.sent(1_001);
        sent.iter().any(|it| it.text.contains("Call them"))
    };
    world.api.until("the supervisor is told", told).await;
    world.api.let_go();
    world.end().await;
}

#[tokio::test]
async fn an_emergency_does_not_wait_for_a_message_that_is_slow_to_go_out() {
    let world = World::new().await;
    let toni = world.at_work().await;
    world.api.fail_next("sendmessage", Fault::Held);
    let help = toni.message(json!({ "text": "/help" }));
    world.api.deliver(&world.api.update("message", help));
    let is_held = |api: &BotApi| !api.has_fault("sendmessage");
    world.api.until("the answer is under way", is_held).await;
    let hurt = toni.message(json!({ "text": "/hurt" }));
    world.api.deliver(&world.api.update("message", hurt));
    let helped = |api: &BotApi| is_helped(api, 2_002);
    world.api.until("the emergency is answered", helped).await;
    world.api.let_go();
    toni.settled().await;
    world.end().await;
}
