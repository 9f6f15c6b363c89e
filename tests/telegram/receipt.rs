//! The small sign under what was kept, and which commands the platform lists where.

use serde_json::Value;

use super::{World, png};

#[tokio::test]
async fn what_was_kept_gets_a_sign_and_what_was_refused_none() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("no volts at all").await;
    assert_eq!(world.api.calls("setmessagereaction"), Vec::<Value>::new());
    chat.say("208 V").await;
    let signs = |api: &crate::support::bot_api::BotApi| api.calls("setmessagereaction");
    world.api.until("a sign", |api| signs(api).len() == 1).await;
    let sign = signs(&world.api).remove(0);
    assert_eq!(sign["chat_id"], 2002);
    assert_eq!(sign["reaction"][0]["emoji"], "👍");
    // Time runs on between people's messages, but not always here: a sign may be left out.
    chat.photo(png()).await;
    assert!((1..=2).contains(&signs(&world.api).len()));
    world.end().await;
}

#[tokio::test]
async fn each_kind_of_chat_lists_its_own_commands() {
    let world = World::new().await;
    world.supervisor().await;
    let sets = world.api.calls("setmycommands");
    let of = |kind: &str| -> Vec<String> {
        let set = sets
            .iter()
            .find(|set| set["scope"]["type"] == kind)
            .unwrap();
        let commands = set["commands"].as_array().unwrap().iter();
        commands
            .map(|command| command["command"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(of("default"), of("all_private_chats"));
    assert!(of("all_private_chats").contains(&"new".to_owned()));
    assert!(!of("all_group_chats").contains(&"bind".to_owned()));
    assert!(of("all_group_chats").contains(&"hurt".to_owned()));
    assert!(of("all_chat_administrators").ends_with(&["bind".to_owned(), "unbind".to_owned()]));
    world.end().await;
}
