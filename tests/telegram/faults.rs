//! What happens when something goes wrong on the way.

use fanwright::desk::id::JobId;
use fanwright::desk::{Actor, ChannelAddress, Rules};
use fanwright::flow::model::Role;
use fanwright::store::{Batch, InputKey, Store, StreamAppend};
use fanwright::walk::input::Input;
use jiff::Timestamp;

use super::{World, png};
use crate::support::bot_api::{BotApi, Fault};
use crate::support::chat::Chat;

#[tokio::test]
async fn an_update_delivered_twice_has_one_effect_and_one_answer() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let press = chat.pressing("Go on");
    chat.delivers(&press).await;
    let before = world.api.sent(2002).len();
    world.api.deliver_again(&press);
    let text = chat.say("/job").await;
    assert_eq!(text.len(), 1);
    assert_eq!(world.api.sent(2002).len(), before + 1);
    assert!(text[0].text.contains("step 2"), "{text:?}");
    // After a restart only the store remembers it.
    let world = world.crash().await;
    world
        .api
        .until("the screen comes again", |api| {
            api.sent(2002)
                .last()
                .unwrap()
                .text
                .contains("Here you were")
        })
        .await;
    let before = world.api.sent(2002).len();
    world.api.deliver_again(&press);
    let text = chat.say("/job").await;
    assert!(text[0].text.contains("step 2"), "{text:?}");
    assert_eq!(world.api.sent(2002).len(), before + 1);
    world.end().await;
}

#[tokio::test]
async fn a_typed_reading_delivered_again_after_a_restart_is_not_answered_twice() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    let message = chat.message(serde_json::json!({ "text": "208 V" }));
    let update = world.api.update("message", message);
    chat.delivers(&update).await;
    let world = world.crash().await;
    world
        .api
        .until("the screen comes again", |api| {
            api.sent(2002)
                .last()
                .unwrap()
                .text
                .contains("Here you were")
        })
        .await;
    let before = world.api.sent(2002).len();
    world.api.deliver_again(&update);
    chat.say("/help").await;
    assert_eq!(world.api.sent(2002).len(), before + 1);
    world.end().await;
}

#[tokio::test]
async fn a_stale_or_double_press_is_told_and_shows_the_step_again() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let (first, second) = (chat.pressing("Go on"), chat.pressing("Go on"));
    chat.delivers(&first).await;
    let answer = chat.delivers(&second).await;
    assert!(
        answer[0]
            .text
            .starts_with("That button is from an earlier screen.")
    );
    assert!(answer[0].text.contains("Does the fan turn?"));
    let toast = world.api.answers().pop().unwrap().1.unwrap();
    assert!(toast.starts_with("That button is from an earlier screen."));
    // Twice back from the same screen is once back.
    let (first, second) = (
        chat.pressing("Back one step"),
        chat.pressing("Back one step"),
    );
    chat.press("It turns").await;
    let answer = chat.delivers(&first).await;
    assert!(answer[0].text.contains("earlier screen"), "{answer:?}");
    let answer = chat.delivers(&second).await;
    assert!(answer[0].text.contains("What do you wear?"), "{answer:?}");
    world.end().await;
}

#[tokio::test]
async fn what_the_platform_puts_off_comes_once() {
    // That it comes exactly when it may is in the tests of the queue, where time is told to pass.
    let world = World::new().await;
    let mut chat = world.at_work().await;
    world.api.fail_next("sendMessage", Fault::Wait(1));
    let answer = chat.press("Go on").await;
    assert_eq!(answer.len(), 1);
    assert!(answer[0].text.contains("Does the fan turn?"), "{answer:?}");
    world.end().await;
}

#[tokio::test]
async fn a_lost_answer_comes_at_most_once_more() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    world.api.fail_next("sendMessage", Fault::LostBefore);
    let answer = chat.press("Go on").await;
    assert_eq!(answer.len(), 1);
    world.api.fail_next("sendMessage", Fault::LostAfter);
    let before = world.api.sent(2002).len();
    chat.press("It turns").await;
    world
        .api
        .until("the copy comes", |api| api.sent(2002).len() == before + 2)
        .await;
    let copies = world.api.sent(2002).split_off(before);
    assert_eq!(copies[0].buttons, copies[1].buttons, "both carry the same");
    chat.settled().await;
    assert_eq!(world.api.sent(2002).len(), before + 2);
    world.end().await;
}

#[tokio::test]
async fn a_server_error_is_survived() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    world.api.fail_next("sendMessage", Fault::Broken);
    let answer = chat.press("Go on").await;
    assert_eq!(answer.len(), 1);
    assert!(answer[0].text.contains("Does the fan turn?"));
    world.end().await;
}

#[tokio::test]
async fn after_a_restart_the_step_comes_again() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    let before = world.api.sent(2002).len();
    let world = world.crash().await;
    world
        .api
        .until("the step comes again", |api| api.sent(2002).len() > before)
        .await;
    let again = chat.last();
    assert!(again.text.starts_with("The server was away for a moment."));
    assert!(again.text.contains("Does the fan turn?"));
    chat.press("It turns").await;
    assert!(chat.last().text.contains("What do you wear?"));
    world.end().await;
}

#[tokio::test]
async fn presses_that_overtake_each_other_do_no_harm() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let first = chat.pressing("Go on");
    let later = {
        let message = chat.message(serde_json::json!({ "text": "208 V" }));
        world.api.update("message", message)
    };
    let answer = chat.delivers(&later).await;
    assert!(answer[0].text.contains("Stand where you can see the fan."));
    chat.delivers(&first).await;
    // The later update was confirmed first, so the earlier may come from the platform once more.
    assert!(chat.last().text.contains("Does the fan turn?"));
    world.end().await;
}

#[tokio::test]
async fn one_slow_chat_holds_up_no_other_and_is_not_confirmed_early() {
    let world = World::new().await;
    let mut slow = world.at_work().await;
    slow.press("Go on").await;
    slow.press("It turns").await;
    slow.press("That is all").await;
    slow.say("208 V").await;
    world.api.fail_next("getFile", Fault::Held);
    let content = slow.photo_content(png());
    let message = slow.message(content);
    let update = world.api.update("message", message);
    let id = world.api.deliver(&update);
    let stranger = world.chat(9, "Noor");
    let later = stranger.message(serde_json::json!({ "text": "/help" }));
    world.api.deliver(&world.api.update("message", later));
    world
        .api
        .until("the other is answered", |api| !api.sent(9).is_empty())
        .await;
    assert!(!world.api.is_confirmed(id), "the photo is not kept yet");
    world.api.let_go();
    world
        .api
        .until("the photo is confirmed", |api| api.is_confirmed(id))
        .await;
    slow.settled().await;
    assert!(slow.last().text.contains("What did you see?"));
    stranger.settled().await;
    assert_eq!(
        stranger.api.sent(9).len(),
        1,
        "fetched again, answered once"
    );
    world.end().await;
}

/// Somebody and the job that they have at hand.
async fn at_hand(world: &World, chat: &Chat) -> (Actor, JobId) {
    let address = ChannelAddress::Telegram {
        chat: chat.user,
        user: chat.user,
    };
    let actor = world.desk.who_is(&address).await.unwrap().unwrap();
    let job = world.desk.job_at_hand(&actor).await.unwrap().unwrap();
    (actor, job)
}

#[tokio::test]
async fn a_job_that_cannot_be_read_silences_no_notice() {
    let world = World::new().await;
    world.supervisor().await;
    let mut jobs = Vec::new();
    for (user, name, at) in [(2002, "Toni", "EV-3"), (2003, "Tess", "EV-4")] {
        let mut chat = world.joined(user, name, Role::Technician).await;
        chat.say("/new").await;
        if user == 2003 {
            chat.press("Another evaporator").await;
        }
        chat.reply(&format!("Corner Market, {at}")).await;
        jobs.push(at_hand(&world, &chat).await);
    }
    // Both call while no chat is served; then the first job cannot be read any more.
    world.shutdown.cancel();
    world.running.await.unwrap();
    for (at, (actor, job)) in jobs.iter().enumerate() {
        let key = InputKey(format!("called:{at}"));
        let called = world.desk.handle(key, actor, *job, Input::CallSupervisor);
        called.await.unwrap();
    }
    let stream = jobs[0].1.stream();
    let mut batch = Batch::new(Timestamp::now());
    batch.appends.push(StreamAppend {
        stream,
        expected: world.memory.head(stream).await.unwrap().seq,
        entries: vec![b"no entry".to_vec()],
    });
    world.memory.append(batch).await.unwrap();
    world.memory.close().await.unwrap();
    let world = World::over(world.api, world.memory.reopen(), Rules::default()).await;
    for called in ["Toni asks for a supervisor", "Tess asks for a supervisor"] {
        let is_told = |api: &BotApi| {
            let sent = api.sent(1_001);
            sent.iter().any(|sent| sent.text.starts_with(called))
        };
        world.api.until(called, is_told).await;
    }
    world.end().await;
}
