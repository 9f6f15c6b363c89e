//! The program is told to stop while something is on its way.

use std::ffi::OsStr;

use crate::support::bot_api::{BotApi, Fault};
use crate::support::chat::Chat;
use crate::support::program::Program;

/// How many messages of a chat hold this.
fn count(api: &BotApi, chat: i64, text: &str) -> usize {
    let sent = api.sent(chat);
    sent.iter().filter(|sent| sent.text.contains(text)).count()
}

#[tokio::test]
async fn what_was_taken_in_is_answered_once_whether_before_the_stop_or_after_the_start() {
    const HELP: &str = "I walk you through an evaporator fan";
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let program = Program::serve(&api, folder.path(), &[] as &[&OsStr]);
    let code = program.code.clone().unwrap();
    let mut sam = Chat::new(&api, 1001, "Sam");
    sam.say(&format!("/start {code}")).await;
    sam.say("/new").await;
    sam.press("Evaporator fan that moves no air").await;
    sam.reply("Corner Market, EV-3, meat cooler left").await;

    // The answer is on its way when the program is told to stop, and one more waits behind it.
    api.fail_next("sendmessage", Fault::Held);
    let asks = |text: &str| api.update("message", sam.message(serde_json::json!({ "text": text })));
    let (first, second) = (asks("/help"), asks("/quiet 21:00 06:30"));
    api.deliver(&first);
    api.deliver(&second);
    let is_under_way = |api: &BotApi| {
        let id = u32::try_from(second["update_id"].as_u64().unwrap()).unwrap();
        !api.has_fault("sendmessage") && api.is_fetched(id)
    };
    api.until("the answer is under way", is_under_way).await;
    program.tell_to_stop();
    // This one comes too late for this process.
    let is_stopping = {
        let ready = format!("{}/readyz", program.base);
        async move {
            while let Ok(answer) = reqwest::get(&ready).await {
                if answer.status() != 200 {
                    break;
                }
            }
        }
    };
    is_stopping.await;
    let third = asks("/page");
    api.deliver(&third);
    api.let_go();
    program.ended().await;
    assert_eq!(count(&api, 1001, HELP), 1);
    assert_eq!(count(&api, 1001, "from 21:00 to 06:30"), 1);

    let program = Program::serve(&api, folder.path(), &[] as &[&OsStr]);
    sam.say("/job").await;
    let has_code = |api: &BotApi| count(api, 1001, "type this code there") == 1;
    api.until("what came too late is answered", has_code).await;
    assert_eq!(count(&api, 1001, HELP), 1, "nothing comes twice");
    assert_eq!(count(&api, 1001, "from 21:00 to 06:30"), 1);
    program.tell_to_stop();
    program.ended().await;
    assert_eq!(api.violations(), Vec::<String>::new());
}

#[tokio::test]
async fn news_on_its_way_comes_once_and_is_noted_before_the_end() {
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let program = Program::serve(&api, folder.path(), &[] as &[&OsStr]);
    let code = program.code.clone().unwrap();
    let mut sam = Chat::new(&api, 1001, "Sam");
    sam.say(&format!("/start {code}")).await;
    sam.say("/invite").await;
    let told = sam.press("Make a one-time code").await;
    let mut link = told[0].text.split_whitespace();
    let code = link.find_map(|word| word.strip_prefix("https://t.me/bench_bot?start="));
    let mut toni = Chat::new(&api, 2002, "Toni");
    toni.say(&format!("/start {}", code.unwrap())).await;
    toni.say("/new").await;
    toni.press("Evaporator fan that moves no air").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    // The first message that goes out is held: the answer to Toni, or the news for Sam.
    api.fail_next("sendmessage", Fault::Held);
    let call = toni.pressing("Stop work");
    api.deliver(&call);
    let is_held = |api: &BotApi| !api.has_fault("sendmessage");
    api.until("a message is under way", is_held).await;
    program.tell_to_stop();
    api.let_go();
    program.ended().await;

    let program = Program::serve(&api, folder.path(), &[] as &[&OsStr]);
    let hears = |api: &BotApi| count(api, 1001, "Work is stopped at") >= 1;
    api.until("the supervisor hears of it", hears).await;
    sam.say("/help").await;
    toni.say("/job").await;
    assert_eq!(
        count(&api, 1001, "Work is stopped at"),
        1,
        "{:#?}",
        api.sent(1001)
    );
    assert!(
        toni.last().text.contains("What is wrong?"),
        "{:?}",
        toni.last()
    );
    program.tell_to_stop();
    program.ended().await;
}
