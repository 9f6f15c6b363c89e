//! What people send that nobody asked for: a friendly answer, and no effect.

use serde_json::{Value, json};

use super::{World, png};
use crate::support::group_chat::GroupChat;

fn file(kind: &str) -> Value {
    json!({
        "file_id": "f", "file_unique_id": "f", "file_size": 10, "duration": 1, "width": 10,
        "height": 10, "mime_type": kind, "file_name": "f", "type": "regular",
        "is_animated": false, "is_video": false,
    })
}

#[tokio::test]
async fn odd_messages_get_a_sentence_and_change_nothing() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let photo = chat.photo_content(png());
    let mut forwarded = json!({ "text": "208 V" });
    forwarded["forward_origin"] =
        json!({ "type": "hidden_user", "date": 1, "sender_user_name": "A friend" });
    let odd = [
        ("sticker", json!({ "sticker": file("image/webp") })),
        ("listen", json!({ "voice": file("audio/ogg") })),
        ("a video", json!({ "video": file("video/mp4") })),
        ("that file", json!({ "document": file("application/pdf") })),
        (
            "cannot use that",
            json!({ "contact": { "phone_number": "1", "first_name": "A" } }),
        ),
        ("forwarded", forwarded),
        ("do not know that command", json!({ "text": "/launch" })),
        ("No photo is wanted", photo),
    ];
    for (words, content) in odd {
        let message = chat.message(content.clone());
        let answer = chat.sends("message", message).await;
        assert_eq!(answer.len(), 1, "{content}");
        assert!(answer[0].text.contains(words), "{content}: {answer:?}");
    }
    let message = chat.message(json!({ "text": "209 V", "edit_date": 1_900_000_001 }));
    let answer = chat.sends("edited_message", message).await;
    assert!(answer[0].text.contains("edited message changes nothing"));
    assert!(chat.say("/job").await[0].text.contains("step 1"));
    world.end().await;
}

#[tokio::test]
async fn a_huge_text_is_answered_within_the_limits() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    let huge = "<&>🧊 ".repeat(800);
    let answer = chat.say(&huge).await;
    assert!(
        answer
            .last()
            .unwrap()
            .text
            .contains("What does the nameplate say?")
    );
    world.end().await;
}

#[tokio::test]
async fn what_somebody_picks_from_what_a_bot_found_answers_nothing() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("208 V").await;
    chat.photo(png()).await;
    assert!(chat.last().text.contains("step 6"), "{:?}", chat.last());
    let bot = json!({ "id": 7, "is_bot": true, "first_name": "B", "username": "bench_bot" });
    let picked = chat.message(json!({ "text": "Corner Market · EV-3", "via_bot": bot }));
    assert_eq!(chat.sends("message", picked).await, []);
    let shown = chat.say("/job").await;
    assert!(shown[0].text.contains("step 6"), "{shown:?}");
    world.end().await;
}

#[tokio::test]
async fn an_album_gets_one_answer_and_an_unreadable_photo_a_reason() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("208 V").await;
    let before = world.api.sent(2002).len();
    for _ in 0..3 {
        let mut content = chat.photo_content(png());
        content["media_group_id"] = json!("album-1");
        let message = chat.message(content);
        let update = world.api.update("message", message);
        world.api.deliver(&update);
    }
    let answer = chat.photo(b"no picture at all".to_vec()).await;
    assert!(
        answer.last().unwrap().text.contains("not a photo"),
        "{answer:?}"
    );
    let came = world.api.sent(2002).split_off(before);
    assert_eq!(came.len(), 2, "{came:?}");
    assert!(came[0].text.contains("One photo at a time"));
    let mut content = chat.photo_content(png());
    content["caption"] = json!("EV-3");
    let message = chat.message(content);
    let answer = chat.sends("message", message).await;
    assert!(answer[0].text.contains("What did you see?"), "{answer:?}");
    assert!(
        answer[1].text.contains("The words under it are not"),
        "{answer:?}"
    );
    world.end().await;
}

#[tokio::test]
async fn a_picture_sent_as_a_file_is_a_photo_too() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("208 V").await;
    let mut document = file("image/png");
    document["file_id"] = json!(world.api.file(png()));
    let message = chat.message(json!({ "document": document }));
    let answer = chat.sends("message", message).await;
    assert!(answer[0].text.contains("What did you see?"), "{answer:?}");
    world.end().await;
}

#[tokio::test]
async fn groups_get_a_sentence_and_bots_and_channels_nothing() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let group = GroupChat::new(&world.api, -50);
    let mut from_bot = chat.message(json!({ "text": "208 V" }));
    from_bot["from"]["is_bot"] = json!(true);
    let update = world.api.update("message", from_bot);
    world.api.deliver(&update);
    assert_eq!(group.says(&chat, "has anybody seen the ladder?").await, []);
    assert_eq!(group.says(&chat, "/job@another_bot").await, []);
    let command = group.message(&chat, json!({ "text": "/new@bench_bot" }));
    world.api.deliver(&world.api.update("message", command));
    world
        .api
        .until("the group hears", |api| !api.sent(-50).is_empty())
        .await;
    let said = world.api.sent(-50);
    assert_eq!(said.len(), 1);
    assert_eq!(
        said[0].text,
        "That works in a private chat with me: https://t.me/bench_bot."
    );
    let answer = chat.say("/job").await;
    assert_eq!(answer.len(), 1);
    world.end().await;
}

#[tokio::test]
async fn a_button_that_is_not_ours_is_answered() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let mut press = chat.pressing("Go on");
    for data in ["", "plug", "AAAA", "🧊"] {
        press = world
            .api
            .update("callback_query", press["callback_query"].clone());
        press["callback_query"]["data"] = json!(data);
        press["callback_query"]["id"] = json!(format!("odd-{data}"));
        let answer = chat.delivers(&press).await;
        assert!(
            answer[0]
                .text
                .contains("too old, or made for another place"),
            "{answer:?}"
        );
        let answered = world.api.answers();
        assert!(answered.iter().any(|(id, _)| *id == format!("odd-{data}")));
    }
    world.end().await;
}
