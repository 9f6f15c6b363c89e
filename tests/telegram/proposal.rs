//! A row for the speed book, decided under the message about a job that was handed in.

use fanwright::desk::Rules;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::store::Memory;

use super::{World, labels, parts};
use crate::support::bot_api::BotApi;

#[tokio::test]
async fn a_supervisor_puts_the_row_into_the_speed_book_from_the_chat() {
    let mut sources = Sources::default();
    let flow = include_str!("../support/propose.yaml").to_owned();
    sources.files.insert("prove-a-speed.yaml".to_owned(), flow);
    let memory = Memory::new();
    let mut parts = parts(&memory, Rules::default());
    parts.library = Library::load(sources).unwrap();
    let world = World::of(BotApi::start().await, memory, parts).await;
    let mut supervisor = world.supervisor().await;
    let mut chat = world.joined(2002, "Toni", Role::Technician).await;
    chat.say("/new").await;
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    chat.say("ZZ-100").await;
    chat.say("1230 rpm").await;
    chat.press("Go on").await;
    chat.press("Hand the job in").await;
    let told = |api: &BotApi| {
        api.sent(1001)
            .iter()
            .any(|sent| sent.text.contains("ZZ-100"))
    };
    world.api.until("the supervisor is told", told).await;
    supervisor.settled().await;
    let told = supervisor.last();
    assert!(
        told.text.contains("It proposes a row for the speed book."),
        "{told:?}"
    );
    assert!(told.text.contains("ZZ-100 needs 1230 rpm"), "{told:?}");
    assert!(labels(&told).contains(&"Decline the row"), "{told:?}");
    let answer = supervisor.press("Put the row into the speed book").await;
    let shown = &answer.last().unwrap().text;
    assert!(
        shown.contains("Its row went into the speed book."),
        "{shown}"
    );
    world.end().await;
}
