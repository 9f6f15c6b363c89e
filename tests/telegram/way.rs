//! How people are asked, chosen in a chat.

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::store::Memory;

use super::{World, labels, parts_with};
use crate::support::bot_api::BotApi;

const FLOW: &str = "\
flow: look-round
title: Look round
language: en
hands_off: true
outcomes: { done: Done }
facts:
  words: { text: 40, label: Words }
start: a
steps:
  a: { tell: Seen, say: Look at the door., then: b }
  b: { confirm: Swept, say: Sweep the floor., then: words }
  words: { write: words, say: What did you see?, then: end }
  end: { finish: done, say: Done. }
";

#[tokio::test]
async fn a_technician_asks_for_lists_and_an_apprentice_may_not() {
    let memory = Memory::new();
    let flows = vec![("look-round.yaml", FLOW.to_owned())];
    let parts = parts_with(&memory, Rules::default(), flows);
    let world = World::of(BotApi::start().await, memory, parts).await;
    world.supervisor().await;
    let mut ann = world.joined(2003, "Ann", Role::Apprentice).await;
    let refused = ann.say("/way do").await;
    assert!(
        refused[0].text.contains("Apprentices read a step"),
        "{refused:?}"
    );
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    let told = toni.say("/way").await;
    assert!(told[0].text.starts_with("Read then do"), "{told:?}");
    let told = toni.say("/way do").await;
    assert!(told[0].text.starts_with("Do then confirm"), "{told:?}");
    let told = toni.say("/way sideways").await;
    assert!(told[0].text.starts_with("/way read"), "{told:?}");
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    let list = toni.last();
    assert!(
        list.text
            .contains("1. Look at the door.\n2. Sweep the floor."),
        "{list:?}"
    );
    assert_eq!(labels(&list)[..2], ["1 to 2 are done", "1: Seen"]);
    let next = toni.press("1 to 2 are done").await;
    assert!(next[0].text.contains("What did you see?"), "{next:?}");
    world.end().await;
}
