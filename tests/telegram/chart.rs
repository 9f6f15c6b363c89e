//! Charts in the chat: pictures with the screen under them.

use fanwright::desk::Rules;
use fanwright::flow::library::{Library, Sources};
use fanwright::store::Memory;

use super::{World, labels, parts};
use crate::support::bot_api::BotApi;

#[tokio::test]
async fn a_gain_comes_as_a_picture_where_it_is_worked_out_and_where_it_is_told() {
    let mut sources = Sources::default();
    let gain = include_str!("../support/gain.yaml").to_owned();
    sources.files.insert("show-a-gain.yaml".to_owned(), gain);
    let memory = Memory::new();
    let mut parts = parts(&memory, Rules::default());
    parts.library = Library::load(sources).unwrap();
    let world = World::of(BotApi::start().await, memory, parts).await;
    let mut chat = world.at_work().await;
    for say in ["This is what the new motor saves.", "About 90 W."] {
        let shown = chat.last();
        assert!(shown.text.contains(say), "{shown:?}");
        // The second time the platform has the file already and gets no bytes.
        assert!(shown.picture.is_some(), "{shown:?}");
        assert!(labels(&shown).contains(&"Stop work"));
        let on = if say.starts_with("About") {
            "I have told the owner"
        } else {
            "Go on"
        };
        chat.press(on).await;
    }
    assert!(chat.last().picture.is_none());
    world.end().await;
}
