//! Beginning a job where there is a choice, and the jobs that wait for somebody.

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::store::Memory;

use super::{World, labels, parts_with};
use crate::support::bot_api::BotApi;
use crate::support::chat::Chat;

const WHOLE: &str = "Evaporator fan that moves no air";
const AGAIN: &str = "Look again";

/// A crew with two flows that stand alone. The usual one does not come first by its name.
async fn world() -> World {
    let bench = include_str!("bench.yaml");
    let named = |flow: &str, title: &str| {
        let text = bench.replacen("flow: look-at-the-fan", &format!("flow: {flow}"), 1);
        text.replacen("title: Look at the fan", &format!("title: {title}"), 1)
    };
    let flows = vec![
        ("check-again.yaml", named("check-again", AGAIN)),
        ("dead-fan.yaml", named("dead-fan", WHOLE)),
    ];
    let memory = Memory::new();
    let parts = parts_with(&memory, Rules::default(), flows);
    World::of(BotApi::start().await, memory, parts).await
}

async fn technician(world: &World) -> Chat {
    world.supervisor().await;
    world.joined(2002, "Toni", Role::Technician).await
}

#[tokio::test]
async fn with_a_choice_of_flows_the_usual_is_offered_first_and_then_the_evaporator() {
    let world = world().await;
    let mut chat = technician(&world).await;
    let asked = chat.say("/new").await;
    assert!(asked[0].text.contains("What is to be done?"), "{asked:?}");
    assert_eq!(labels(&asked[0]), [WHOLE, AGAIN]);
    let asked = chat.press(WHOLE).await;
    assert!(asked[0].text.contains(WHOLE), "{asked:?}");
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    assert!(chat.last().text.contains(&format!("{WHOLE} · step 1")));
    chat.say("/new").await;
    let asked = chat.press(AGAIN).await;
    assert!(asked[0].text.starts_with(AGAIN), "{asked:?}");
    let begun = chat.press("Corner Market · EV-3 · meat cooler left").await;
    assert!(begun[0].text.contains("Look again · step 1"), "{begun:?}");
    world.end().await;
}

#[tokio::test]
async fn a_new_evaporator_gets_the_flow_that_was_asked_for() {
    let world = world().await;
    let mut chat = technician(&world).await;
    let asked = chat.say("/training").await;
    assert!(asked[0].text.contains("TRAINING"), "{asked:?}");
    chat.press(AGAIN).await;
    let refused = chat.reply(", no site").await;
    assert!(refused[0].text.contains("needs a site"), "{refused:?}");
    chat.reply("Harbor Depot").await;
    let begun = chat.last().text;
    assert!(begun.contains("TRAINING"), "{begun}");
    assert!(begun.contains("Look again · step 1"), "{begun}");
    world.end().await;
}

#[tokio::test]
async fn words_after_the_command_still_count_after_the_choice() {
    let world = world().await;
    let mut chat = technician(&world).await;
    for (site, tag) in [("Corner Market", "EV-3"), ("Harbor Depot", "EV-1")] {
        chat.say("/new nowhere").await;
        chat.press(WHOLE).await;
        chat.press("Another evaporator").await;
        chat.reply(&format!("{site}, {tag}")).await;
    }
    chat.say("/new harbor ev").await;
    let found = chat.press(AGAIN).await;
    assert_eq!(
        labels(&found[0]),
        ["Harbor Depot · EV-1", "Another evaporator"]
    );
    world.end().await;
}

#[tokio::test]
async fn each_button_of_an_evaporators_card_begins_its_own_flow_and_says_when_it_did() {
    let world = world().await;
    let mut chat = technician(&world).await;
    chat.say("/new").await;
    chat.press(WHOLE).await;
    chat.reply("Corner Market, EV-3").await;
    let card = chat.say("/evaporator").await;
    let begins = |title: &str| {
        let label = labels(&card[0]).into_iter().find(|it| it.contains(title));
        label.unwrap().to_owned()
    };
    let begun = chat.press(&begins(AGAIN)).await;
    assert!(begun[0].text.contains("Look again · step 1"), "{begun:?}");
    let begun = chat.press(&begins(WHOLE)).await;
    assert!(begun[0].text.contains(&format!("{WHOLE} · step 1")));
    let before = chat.press(&begins(AGAIN)).await;
    assert!(before[0].text.contains("Look again · step 1"), "{before:?}");
    assert!(before[0].text.starts_with("This button began this job."));
    world.end().await;
}
