//! Groups: made a crew's, followed, lost; and what somebody who is not of the crew gets there.

use fanwright::desk::notice::About;
use fanwright::flow::model::Role;
use serde_json::{Value, json};

use super::{World, png};
use crate::support::bot_api::{Sent, bot_message};
use crate::support::group_chat::GroupChat;

const GROUP: i64 = -4_001;
const LARGE: i64 = -1_001_234_567_890;

fn restricted(writes: bool, files: bool) -> Value {
    json!({
        "status": "restricted", "until_date": 0, "is_member": true, "can_send_messages": writes,
        "can_send_audios": true, "can_send_documents": files, "can_send_photos": files,
        "can_send_videos": true, "can_send_video_notes": true, "can_send_voice_notes": true,
        "can_send_polls": true, "can_send_other_messages": true,
        "can_add_web_page_previews": true, "can_change_info": false, "can_invite_users": false,
        "can_pin_messages": false, "can_manage_topics": false,
    })
}

#[tokio::test]
async fn a_supervisor_makes_a_group_the_crews_and_ends_it() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let toni = world.joined(2002, "Toni", Role::Technician).await;
    let group = GroupChat::new(&world.api, GROUP);
    let added = group.standing(
        &sam,
        json!({ "status": "left" }),
        json!({ "status": "member" }),
    );
    let told = group.delivers(&sam, &added).await;
    assert!(
        told[0]
            .text
            .contains("A supervisor of the crew sends /bind here")
    );

    let told = group.says(&toni, "/bind").await;
    assert!(
        told[0]
            .text
            .starts_with("Only a supervisor can make this group the crew's.")
    );
    assert_eq!(world.desk.group(GROUP).await.unwrap(), None);

    let told = group.says(&sam, "/bind@Bench_Bot").await;
    assert!(told[0].text.contains("the group of your crew from now on"));
    let told = group.says(&sam, "/bind").await;
    assert_eq!(told[0].text, "This is the group of your crew already.");
    assert_eq!(world.desk.group(GROUP).await.unwrap().unwrap().chat, GROUP);
    let told = group.says(&toni, "Are you here, @bench_bot?").await;
    assert!(told[0].text.starts_with("This is the group of your crew."));

    let told = group.says(&toni, "/unbind").await;
    assert!(told[0].text.starts_with("Only a supervisor can end"));
    let told = group.says(&sam, "/unbind").await;
    assert!(
        told[0]
            .text
            .starts_with("This is not the group of a crew any more.")
    );
    let told = group.says(&sam, "/unbind").await;
    assert_eq!(told[0].text, "This group is no crew's.");
    assert_eq!(world.desk.group(GROUP).await.unwrap(), None);
    world.end().await;
}

#[tokio::test]
async fn a_group_keeps_its_crew_until_that_lets_it_go() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let olga = world.of_another_crew().await;
    let group = world.group_of(&sam, GROUP).await;
    let told = group.says(&olga, "/bind").await;
    assert!(
        told[0]
            .text
            .starts_with("This group belongs to another crew.")
    );
    assert!(!told[0].text.contains("Sam"), "{told:?}");
    let told = group.says(&olga, "/unbind").await;
    assert_eq!(
        told[0].text, "This group is no crew's.",
        "of hers, at least"
    );
    let kept = world.desk.group(GROUP).await.unwrap().unwrap();
    group.says(&sam, "/unbind").await;
    let told = group.says(&olga, "/bind").await;
    assert!(told[0].text.contains("the group of your crew from now on"));
    let now = world.desk.group(GROUP).await.unwrap().unwrap();
    assert_ne!(kept.crew, now.crew);
    world.end().await;
}

#[tokio::test]
async fn being_in_the_group_makes_nobody_one_of_the_crew() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let toni = world.joined(2002, "Toni", Role::Technician).await;
    let olga = world.of_another_crew().await;
    world.group_of(&sam, GROUP).await;
    let desk = &world.desk;
    let known = desk.group_actor(GROUP, toni.user).await.unwrap().unwrap();
    assert_eq!((known.name.as_str(), known.chat), ("Toni", Some(toni.user)));
    for (group, user) in [(GROUP, olga.user), (GROUP, 9_999), (-4_002, toni.user)] {
        assert_eq!(desk.group_actor(group, user).await.unwrap(), None);
    }
    world.end().await;
}

#[tokio::test]
async fn a_group_that_moves_stays_the_crews_however_the_news_come() {
    for order in [[0, 1], [1, 0], [0, 0], [1, 1]] {
        let world = World::new().await;
        let sam = world.supervisor().await;
        let group = world.group_of(&sam, GROUP).await;
        let large = GroupChat::new(&world.api, LARGE);
        let to = group.message(&sam, json!({ "migrate_to_chat_id": LARGE }));
        let from = large.message(&sam, json!({ "migrate_from_chat_id": GROUP }));
        let news = [(&group, to), (&large, from)];
        for at in order {
            let (place, message) = &news[at];
            let update = world.api.update("message", message.clone());
            assert_eq!(place.delivers(&sam, &update).await, []);
        }
        assert_eq!(world.desk.group(GROUP).await.unwrap(), None, "{order:?}");
        let moved = world.desk.group(LARGE).await.unwrap();
        assert_eq!(moved.unwrap().chat, LARGE, "{order:?}");
        let told = large.says(&sam, "/bind").await;
        assert_eq!(told[0].text, "This is the group of your crew already.");
        world.end().await;
    }
}

#[tokio::test]
async fn supervisors_hear_privately_that_the_bot_was_taken_out() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let group = world.group_of(&sam, GROUP).await;
    let before = world.api.sent(sam.user).len();
    let out = group.standing(
        &sam,
        json!({ "status": "member" }),
        json!({ "status": "left" }),
    );
    for _ in 0..2 {
        group.delivers(&sam, &out).await;
    }
    let heard = |api: &crate::support::bot_api::BotApi| api.sent(sam.user).len() > before;
    world.api.until("the supervisor hears", heard).await;
    let told = world.api.sent(sam.user).split_off(before);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0]
            .text
            .starts_with("I was taken out of the group “Night shift”")
    );
    assert_eq!(told[0].buttons, [], "there is no job to look at");
    assert_eq!(world.desk.group(GROUP).await.unwrap(), None);
    world.end().await;
}

#[tokio::test]
async fn supervisors_hear_what_right_is_missing() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let group = world.group_of(&sam, LARGE).await;
    let before = world.api.sent(sam.user).len();
    let cases = [
        (restricted(false, true), "Let me send messages"),
        (restricted(true, false), "Allow me that"),
    ];
    for (count, (standing, words)) in cases.into_iter().enumerate() {
        let less = group.standing(&sam, json!({ "status": "member" }), standing);
        group.delivers(&sam, &less).await;
        let heard =
            |api: &crate::support::bot_api::BotApi| api.sent(sam.user).len() > before + count;
        world.api.until("the supervisor hears", heard).await;
        let told = &world.api.sent(sam.user)[before + count];
        assert!(told.text.starts_with("In the group “Night shift”:"));
        assert!(told.text.contains(words), "{told:?}");
    }
    assert!(world.desk.group(LARGE).await.unwrap().is_some());
    let pending = world.desk.pending(None, 10).await.unwrap().items;
    assert!(pending.iter().all(|one| one.notice.about == About::Group));
    world.end().await;
}

#[tokio::test]
async fn somebody_who_stays_anonymous_is_asked_to_show_themselves() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let group = GroupChat::new(&world.api, LARGE);
    let nameless = |text: &str| {
        let mut content = json!({ "text": text, "sender_chat": group.chat() });
        content["from"] = json!({
            "id": 1_087_968_824, "is_bot": true, "first_name": "Group",
            "username": "GroupAnonymousBot",
        });
        content
    };
    let told = group.sends(&sam, nameless("/bind")).await;
    assert!(
        told[0]
            .text
            .contains("an administrator who stays anonymous")
    );
    assert_eq!(world.desk.group(LARGE).await.unwrap(), None);
    let told = group.sends(&sam, nameless("/hurt")).await;
    assert!(
        told[0].text.starts_with("Get out of the box."),
        "help comes first"
    );
    world.end().await;
}

#[tokio::test]
async fn in_a_topic_of_the_bots_own_only_what_is_for_it_is_answered() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let group = world.group_of(&sam, LARGE).await;
    let topic = group.in_topic(Some(31));
    // The message that made the topic is the bot's; all others in the topic hang on it.
    let root = json!({
        "message_id": 31, "date": 1_900_000_000, "chat": topic.chat(), "message_thread_id": 31,
        "is_topic_message": true,
        "from": { "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot" },
        "forum_topic_created": { "name": "EV-3", "icon_color": 7_322_096 },
    });
    let talk = json!({ "text": "I bring the ladder", "reply_to_message": root });
    assert_eq!(topic.sends(&sam, talk).await, []);
    let told = topic.says(&sam, "/help").await;
    assert_eq!(told[0].topic, Some(31), "the answer stays in the topic");
    let told = topic.replies(&sam, &told[0], "208 V").await;
    assert!(
        told[0]
            .text
            .starts_with("Nothing here waits for that answer.")
    );
    // A row of replies in a group without topics is no topic.
    let mut row = group.message(&sam, json!({ "text": "/help" }));
    row["message_thread_id"] = json!(40);
    let update = world.api.update("message", row);
    let told = group.delivers(&sam, &update).await;
    assert_eq!(told[0].topic, None);
    world.end().await;
}

#[tokio::test]
async fn an_album_that_answers_in_a_group_gets_one_sentence() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let group = world.group_of(&sam, GROUP).await;
    let asked = group.says(&sam, "/help").await;
    let before = world.api.sent(GROUP).len();
    for _ in 0..3 {
        let mut content = sam.photo_content(png());
        content["media_group_id"] = json!("album-1");
        content["reply_to_message"] = bot_message(GROUP, &asked[0]);
        let photo = group.message(&sam, content);
        world.api.deliver(&world.api.update("message", photo));
    }
    group.says(&sam, "/help").await;
    let came = world.api.sent(GROUP).split_off(before);
    let told = |it: &&Sent| it.text.contains("One photo at a time");
    assert_eq!(came.iter().filter(told).count(), 1, "{came:?}");
    world.end().await;
}
