//! What stands in the log while people walk, at the finest grade that the operator can ask for.

use serde_json::Value;

use super::png;
use crate::support::bot_api::{BotApi, Fault, TOKEN};
use crate::support::chat::Chat;
use crate::support::program::Program;

/// Numbers that occur by chance nowhere else.
const SAM: i64 = 715_390_288;
const TONI: i64 = 715_390_911;

#[tokio::test]
async fn no_name_no_word_no_secret_and_no_chat_stands_in_the_log() {
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let environment = [("FANWRIGHT_LOG", "trace"), ("FANWRIGHT_LOG_FORMAT", "json")];
    let program = Program::starts_in(&api, folder.path(), (&[], &environment)).ready();
    let code = program.code.clone().unwrap();
    let mut sam = Chat::new(&api, SAM, "Samantha");
    let mut secrets: Vec<String> = ["Samantha", "Antoinette", "Corner Market", "EV-3", "zebra"]
        .map(str::to_owned)
        .into();
    secrets.push(code.clone());
    secrets.extend([SAM, TONI].map(|chat| chat.to_string()));
    secrets.push(TOKEN.to_owned());
    secrets.push(TOKEN.split(':').nth(1).unwrap().to_owned());

    sam.say("/start ZEBRA-WRONG-CODE").await;
    sam.say(&format!("/start {code}")).await;
    sam.say("/invite").await;
    let told = sam.press("Make a one-time code").await;
    let link = told[0].text.split_whitespace();
    let mut link = link.filter_map(|word| word.strip_prefix("https://t.me/bench_bot?start="));
    let invited = link.next().unwrap().to_owned();
    let mut toni = Chat::new(&api, TONI, "Antoinette");
    toni.say(&format!("/start {invited}")).await;
    secrets.push(invited);
    toni.say("/new").await;
    toni.press("Evaporator fan that moves no air").await;
    toni.reply("Corner Market, EV-3, meat cooler zebra").await;
    toni.say("a zebra-striped remark where none is asked").await;
    toni.photo(png()).await;
    // The line breaks, the service is down, refuses and wants us to wait.
    for fault in [
        Fault::LostBefore,
        Fault::LostAfter,
        Fault::Broken,
        Fault::Wait(0),
        Fault::Refused("Bad Request: chat not found"),
    ] {
        api.fail_next("sendmessage", fault);
        toni.say("/job zebra").await;
    }
    toni.press("Someone is hurt / gas alarm").await;
    let answer = reqwest::get(format!("{}/join/{code}", program.base)).await;
    assert!(answer.is_ok());
    program.tell_to_stop();
    let log = program.ended().await;

    let mut events = 0;
    for line in log.lines() {
        let event: Value = serde_json::from_str(line).unwrap_or_else(|_| panic!("{line}"));
        assert!(
            event["level"].is_string() && event["message"].is_string(),
            "{line}"
        );
        events += 1;
    }
    assert!(events > 5, "it says something: {log}");
    for said in [
        "a message could not be sent",
        "refused for good",
        "told to stop",
    ] {
        assert!(log.contains(said), "“{said}” in {log}");
    }
    for secret in secrets {
        let line = log.lines().find(|line| line.contains(&secret));
        assert_eq!(line, None, "“{secret}”");
    }
}
