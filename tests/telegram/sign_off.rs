//! What people have shown, signed for in a chat.

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::store::Memory;

use super::{World, labels, parts_with};
use crate::support::bot_api::BotApi;

const FLOW: &str = "\
flow: test-it
title: Test it
language: en
hands_off: true
outcomes: { done: Done }
competences: { live_tests: Measuring on live parts }
start: measure_it
steps:
  measure_it: { needs_shown: live_tests, confirm: Measured, say: Measure., then: end }
  end: { finish: done, say: Done. }
";

#[tokio::test]
async fn a_supervisor_signs_in_the_chat_and_the_job_goes_on() {
    let memory = Memory::new();
    let flows = vec![("test-it.yaml", FLOW.to_owned())];
    let parts = parts_with(&memory, Rules::default(), flows);
    let world = World::of(BotApi::start().await, memory, parts).await;
    let mut supervisor = world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    let stuck = toni.last();
    assert!(stuck.text.contains("You have not."), "{stuck:?}");
    assert!(!labels(&stuck).contains(&"Measured"), "{stuck:?}");
    let list = toni.say("/people").await;
    assert!(
        list[0].buttons.is_empty(),
        "only a supervisor signs: {list:?}"
    );

    supervisor.say("/people").await;
    let who = supervisor.press("Sign off what somebody has shown").await;
    assert_eq!(labels(&who[0]), ["Toni"], "nobody signs for themselves");
    supervisor.press("Toni").await;
    let signed = supervisor.press("Sign for: Measuring on live parts").await;
    let says = "Toni: Measuring on live parts. Signed by Sam, until";
    assert!(signed[0].text.contains(says), "{signed:?}");
    let list = toni.say("/people").await;
    assert!(list[0].text.contains(says), "{list:?}");

    toni.say("/job").await;
    toni.press("Measured").await;
    assert!(toni.last().text.contains("Done."), "{:?}", toni.last());

    supervisor.say("/people").await;
    supervisor.press("Sign off what somebody has shown").await;
    supervisor.press("Toni").await;
    let back = supervisor.press("Take back: Measuring on live parts").await;
    assert!(back[0].text.contains("taken back"), "{back:?}");
    let list = toni.say("/people").await;
    assert!(!list[0].text.contains("Measuring"), "{list:?}");
    // A button that was made for a supervisor is no way around it.
    let theirs = supervisor.find("Sign for: Measuring on live parts");
    let theirs = theirs.unwrap().1;
    toni.say("/new").await;
    let mut press = toni.pressing("Another evaporator");
    press["callback_query"]["data"] = serde_json::json!(theirs);
    let refused = toni.delivers(&press).await;
    assert!(refused[0].text.contains("Only a supervisor"), "{refused:?}");
    world.end().await;
}
