//! Words and photos answer the question that stood above them, and no other.

use std::collections::BTreeMap;

use fanwright::desk::id::JobId;
use fanwright::desk::screen::Outcome;
use fanwright::desk::{Actor, ChannelAddress, Rules};
use fanwright::flow::model::Role;
use fanwright::store::{InputKey, Memory, Store};
use fanwright::walk::input::Input;
use serde_json::{Value, json};

use super::{World, labels, make_dead, parts_with, png};
use crate::support::bot_api::{BotApi, Fault, Sent, bot_message};
use crate::support::chat::Chat;

/// What is told of words that came too early.
const CAME_BEFORE: &str = "That came before this question. Read it and answer again.";

const TWO_METERS: &str = "\
flow: read-the-meters
title: Read the meters
language: en
hands_off: true
outcomes: { done: Done }
facts:
  first: { measures: voltage, show_in: V, label: First meter }
  second: { measures: voltage, show_in: V, label: Second meter }
  plate: { photo: The plate, label: Plate }
  wall: { photo: The wall, label: Wall }
  words: { text: 40, label: Remark }
start: one
steps:
  one:
    measure: first
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    say: Read the first meter.
    then: two
  two:
    measure: second
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    say: Read the second meter.
    then: plate
  plate: { photo: plate, say: Take the plate., then: wall }
  wall: { photo: wall, say: Take the wall., then: remark }
  remark: { write: words, say: What did you see?, then: end }
  end: { finish: done, say: All is read. }
";

const TWO_REMARKS: &str = "\
flow: say-what-you-hear
title: Say what you hear
language: en
hands_off: true
outcomes: { done: Done }
facts:
  sound: { text: 40, label: Sound }
  smell: { text: 40, label: Smell }
start: one
steps:
  one: { write: sound, say: What do you hear?, then: two }
  two: { write: smell, say: What do you smell?, then: end }
  end: { finish: done, say: All is said. }
";

fn flows(flow: &str) -> Vec<(&'static str, String)> {
    vec![("the-flow.yaml", flow.to_owned())]
}

/// Toni at the first step of this flow.
async fn at_work(flow: &str) -> (World, Chat) {
    let memory = Memory::new();
    let parts = parts_with(&memory, Rules::default(), flows(flow));
    let world = World::of(BotApi::start().await, memory, parts).await;
    let toni = world.at_work().await;
    (world, toni)
}

/// Types these at once, before anything is answered; gives what came, and the updates.
async fn quickly(toni: &Chat, texts: &[&str]) -> (Vec<Sent>, Vec<Value>) {
    let contents = texts.iter().map(|text| json!({ "text": text }));
    sends(toni, contents.collect()).await
}

async fn sends(toni: &Chat, contents: Vec<Value>) -> (Vec<Sent>, Vec<Value>) {
    let updates = contents.into_iter().map(|content| {
        let message = toni.message(content);
        toni.api.update("message", message)
    });
    let updates: Vec<Value> = updates.collect();
    let before = toni.api.sent(toni.user).len();
    for update in &updates {
        toni.api.deliver(update);
    }
    toni.settled().await;
    (toni.api.sent(toni.user).split_off(before), updates)
}

async fn actor(world: &World, user: i64) -> Actor {
    let address = ChannelAddress::Telegram { chat: user, user };
    world.desk.who_is(&address).await.unwrap().unwrap()
}

async fn job_of(world: &World, user: i64) -> JobId {
    let actor = actor(world, user).await;
    world.desk.job_at_hand(&actor).await.unwrap().unwrap()
}

/// What was asked and answered, by the record.
async fn record(world: &World, job: JobId) -> BTreeMap<String, String> {
    let list = world.desk.checklist(&actor(world, 1001).await, job).await;
    let list = list.unwrap();
    let lines = list.sections.iter().flat_map(|section| &section.lines);
    let asked = lines.filter_map(|line| Some((line.asked.clone()?, line.said.clone())));
    asked.collect()
}

fn texts(came: &[Sent]) -> Vec<&str> {
    came.iter().map(|sent| sent.text.as_str()).collect()
}

#[tokio::test]
async fn the_same_words_typed_twice_answer_one_question() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    let (came, updates) = quickly(&toni, &["12 V", "12 V", "12 V"]).await;
    assert!(came[0].text.contains("Read the second meter."), "{came:?}");
    assert_eq!(texts(&came[1..]), [CAME_BEFORE, CAME_BEFORE]);
    for update in &updates {
        world.api.deliver_again(update);
    }
    let came = toni.say("13 V").await;
    assert_eq!(came.len(), 1, "what came before is told once: {came:?}");
    assert!(came[0].text.contains("Take the plate."), "{came:?}");
    let record = record(&world, job_of(&world, 2002).await).await;
    assert!(record["Read the first meter."].contains("12 V"));
    assert!(record["Read the second meter."].contains("13 V"));
    world.end().await;
}

#[tokio::test]
async fn a_reading_typed_twice_is_one_reading_of_the_proof_that_a_source_is_dead() {
    let three = "[L1 to ground, L2 to ground, L1 to L2]";
    let flow = make_dead().replace("[L1 to ground]", three);
    let (world, mut toni) = at_work(&flow).await;
    toni.press("It is open").await;
    toni.press("My lock hangs").await;
    toni.say("Meter 7").await;
    toni.press("CAT III 600 V").await;
    toni.press("Whole and clean").await;
    toni.say("The socket by the door").await;
    let first = toni.say("230 V").await;
    assert!(first[0].text.contains("L1 to ground"), "{first:?}");
    let (came, _) = quickly(&toni, &["0 V", "0 V"]).await;
    assert!(came[0].text.contains("L2 to ground"), "{came:?}");
    assert_eq!(texts(&came[1..]), [CAME_BEFORE]);
    // The chat is slow: the platform puts the next question off.
    world.api.fail_next("sendMessage", Fault::Wait(1));
    let (came, _) = quickly(&toni, &["0 V", "0 V", "0 V"]).await;
    assert!(came[0].text.contains("L1 to L2"), "{came:?}");
    assert_eq!(texts(&came[1..]), [CAME_BEFORE, CAME_BEFORE]);
    let third = toni.say("0 V").await;
    assert!(third[0].text.contains("known source"), "{third:?}");
    world.end().await;
}

#[tokio::test]
async fn a_photo_sent_twice_is_one_answer() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    toni.say("12 V").await;
    toni.say("13 V").await;
    let photos = vec![toni.photo_content(png()), toni.photo_content(png())];
    let (came, _) = sends(&toni, photos).await;
    assert!(came[0].text.contains("Take the wall."), "{came:?}");
    assert_eq!(texts(&came[1..]), [CAME_BEFORE]);
    let came = toni.photo(png()).await;
    assert!(came[0].text.contains("What did you see?"), "{came:?}");
    world.end().await;
}

#[tokio::test]
async fn words_under_one_job_do_not_answer_another_that_came_to_hand() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    let first = job_of(&world, 2002).await;
    toni.say("/new").await;
    toni.press("Another evaporator").await;
    toni.reply("Harbor Depot, EV-9, freezer").await;
    let second = job_of(&world, 2002).await;
    let list = toni.say("/jobs").await;
    let labels = labels(&list[0]);
    let label = labels.iter().find(|label| label.contains("EV-3")).unwrap();
    let takes_up = toni.pressing_on(list[0].id, label);
    let words = toni.message(json!({ "text": "12 V" }));
    let words = world.api.update("message", words);
    let before = world.api.sent(2002).len();
    world.api.deliver(&takes_up);
    world.api.deliver(&words);
    toni.settled().await;
    let came = world.api.sent(2002).split_off(before);
    assert!(came[0].text.contains("Read the first meter."), "{came:?}");
    let told = "That stood under another job and has no effect. Read the question of this job and \
                answer it.";
    assert_eq!(texts(&came[1..]), [told]);
    for job in [first, second] {
        assert_eq!(record(&world, job).await, BTreeMap::new());
    }
    toni.say("12 V").await;
    assert!(record(&world, first).await["Read the first meter."].contains("12 V"));
    assert_eq!(record(&world, second).await, BTreeMap::new());
    world.end().await;
}

#[tokio::test]
async fn words_typed_while_the_server_was_away_count_once() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    let typed = |text: &str| {
        let message = toni.message(json!({ "text": text }));
        world.api.update("message", message)
    };
    let updates = [typed("12 V"), typed("12 V")];
    let World {
        api,
        memory,
        shutdown,
        running,
        ..
    } = world;
    running.abort();
    shutdown.cancel();
    memory.close().await.unwrap();
    let before = api.sent(2002).len();
    let memory = memory.reopen();
    let parts = parts_with(&memory, Rules::default(), flows(TWO_METERS));
    let world = World::of(api.clone(), memory, parts).await;
    api.until("the screen comes again", |api| {
        api.sent(2002).len() > before
    })
    .await;
    for update in &updates {
        api.deliver(update);
    }
    toni.settled().await;
    let came = api.sent(2002).split_off(before);
    assert!(came[0].text.contains("Read the first meter."), "{came:?}");
    assert!(came[1].text.contains("Read the second meter."), "{came:?}");
    assert_eq!(texts(&came[2..]), [CAME_BEFORE]);
    // Only the store remembers them after another restart.
    let world = world.crash().await;
    let is_back = |api: &BotApi| {
        api.sent(2002)
            .last()
            .unwrap()
            .text
            .contains("Here you were")
    };
    api.until("the screen comes again", is_back).await;
    for update in &updates {
        api.deliver_again(update);
    }
    let came = toni.say("13 V").await;
    assert_eq!(came.len(), 1, "{came:?}");
    assert!(came[0].text.contains("Take the plate."), "{came:?}");
    world.end().await;
}

#[tokio::test]
async fn what_happens_beside_the_question_asks_nobody_to_type_again() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    let (sam, job) = (actor(&world, 1001).await, job_of(&world, 2002).await);
    let key = InputKey("beside".to_owned());
    let called = world.desk.handle(key, &sam, job, Input::CallSupervisor);
    assert_eq!(called.await.unwrap().outcome, Outcome::Advanced);
    let came = toni.say("12 V").await;
    assert!(came[0].text.contains("Read the second meter."), "{came:?}");
    assert!(!came[0].text.contains("came before"), "{came:?}");
    world.end().await;
}

#[tokio::test]
async fn words_that_somebody_else_was_faster_with_do_not_answer_the_next_question() {
    let (world, mut toni) = at_work(TWO_REMARKS).await;
    world.joined(2003, "Tess", Role::Technician).await;
    let (by_toni, by_tess) = (actor(&world, 2002).await, actor(&world, 2003).await);
    let job = job_of(&world, 2002).await;
    let typed = toni.message(json!({ "text": "Nothing" }));
    let given = [
        (&by_toni, Input::Share),
        (&by_tess, Input::Text("A rattle".to_owned())),
    ];
    for (number, (by, input)) in given.into_iter().enumerate() {
        let key = InputKey(format!("elsewhere {number}"));
        let handled = world.desk.handle(key, by, job, input).await.unwrap();
        assert_eq!(handled.outcome, Outcome::Advanced);
    }
    let is_told = |api: &BotApi| {
        let last = api.sent(2002).pop().unwrap().text;
        last.contains("Tess answered a step") && last.contains("What do you smell?")
    };
    world.api.until("the next question comes", is_told).await;
    let came = toni.sends("message", typed).await;
    let told = "Tess was faster: “A rattle”. Here is where the job stands.";
    assert_eq!(texts(&came), [told]);
    toni.say("Nothing").await;
    let record = record(&world, job).await;
    assert!(record["What do you hear?"].contains("A rattle"));
    assert!(record["What do you smell?"].contains("Nothing"));
    world.end().await;
}

#[tokio::test]
async fn a_reply_to_an_earlier_screen_is_no_answer_to_the_one_that_stands() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    let first = toni.last();
    toni.say("12 V").await;
    let second = toni.last();
    let replying =
        |text: &str, to: &Sent| json!({ "text": text, "reply_to_message": bot_message(2002, to) });
    let (came, _) = sends(&toni, vec![replying("14 V", &first)]).await;
    assert_eq!(texts(&came), [CAME_BEFORE]);
    let (came, _) = sends(&toni, vec![replying("13 V", &second)]).await;
    assert!(came[0].text.contains("Take the plate."), "{came:?}");
    world.end().await;
}

#[tokio::test]
async fn a_question_that_may_not_have_arrived_is_asked_again_before_words_count() {
    let (world, mut toni) = at_work(TWO_METERS).await;
    world.api.fail_next("sendMessage", Fault::LostAfter);
    let before = world.api.sent(2002).len();
    let message = toni.message(json!({ "text": "12 V" }));
    world.api.deliver(&world.api.update("message", message));
    let is_there = |api: &BotApi| api.sent(2002).len() > before;
    world.api.until("the question came", is_there).await;
    let (came, _) = quickly(&toni, &["13 V"]).await;
    assert!(came[0].text.contains("Read the second meter."), "{came:?}");
    assert_eq!(texts(&came[1..]), [CAME_BEFORE]);
    let came = toni.say("13 V").await;
    assert!(came[0].text.contains("Take the plate."), "{came:?}");
    world.end().await;
}
