//! Somebody who sends more than a person can, and the others meanwhile.

use fanwright::desk::Rules;
use serde_json::json;

use super::World;

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
