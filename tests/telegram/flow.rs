//! Flows to look at, as pictures.

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::store::Memory;

use super::{World, labels, parts_with};
use crate::support::bot_api::BotApi;

const SHORT: &str = "
flow: short
title: A short look
language: en
outcomes: { seen: Seen }
start: look
hands_off: true
steps:
  look: { tell: Go on, say: Look at the fan., then: done }
  done: { finish: seen, say: Done. }
";

/// One step whose card is far higher than a phone shows of a photo.
fn long() -> String {
    let say = "Look at the fan once more. ".repeat(200);
    let text = SHORT.replace("flow: short", "flow: long");
    let text = text.replace("A short look", "A long look");
    text.replace("Look at the fan.", say.trim_end())
}

#[tokio::test]
async fn a_flow_is_chosen_and_comes_as_a_picture_that_can_be_read() {
    let flows = vec![
        ("dead-fan.yaml", include_str!("bench.yaml").to_owned()),
        ("long.yaml", long()),
        ("short.yaml", SHORT.to_owned()),
    ];
    let memory = Memory::new();
    let parts = parts_with(&memory, Rules::default(), flows);
    let world = World::of(BotApi::start().await, memory, parts).await;
    world.supervisor().await;
    let mut chat = world.joined(2002, "Toni", Role::Apprentice).await;
    let asked = chat.say("/flow").await;
    assert_eq!(asked[0].text, "Which flow do you want to see?");
    assert_eq!(labels(&asked[0]).len(), 3, "{asked:?}");

    let short = chat.press("A short look").await;
    assert_eq!(short[0].text, "A short look");
    assert!(
        short[0].picture.is_some_and(|bytes| bytes > 1_000),
        "{short:?}"
    );
    // As a photo it would lose its letters.
    let long = chat.press("A long look").await;
    assert_eq!(long[0].text, "A long look");
    assert!(long[0].file.is_some_and(|bytes| bytes > 1_000), "{long:?}");
    assert_eq!(world.api.violations(), Vec::<String>::new());
    world.end().await;
}
