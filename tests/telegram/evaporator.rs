//! What a chat tells of an evaporator, to whoever is of its crew.

use fanwright::flow::model::Role;
use serde_json::json;

use super::{World, labels};
use crate::support::chat::Chat;

/// Answers the flow up to the photo.
async fn reads(chat: &mut Chat, volts: &str) {
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say(volts).await;
}

#[tokio::test]
async fn an_evaporator_tells_its_jobs_and_how_its_readings_went() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    let none = supervisor.say("/evaporator").await;
    assert!(none[0].text.contains("no evaporator yet"), "{none:?}");
    let mut chat = world.joined(2002, "Toni", Role::Technician).await;
    chat.say("/new").await;
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    let new = supervisor.say("/evaporator ev-3").await;
    let text = &new[0].text;
    assert!(
        text.starts_with("Corner Market · EV-3 · meat cooler left"),
        "{text}"
    );
    assert!(text.contains("Look at the fan: open · Toni"), "{text}");
    reads(&mut chat, "208 V").await;
    chat.say("/evaporator").await;
    chat.press("Begin a job here").await;
    reads(&mut chat, "180 V").await;
    // Outside of what is expected it is asked for once more.
    chat.say("180 V").await;
    chat.say("/new").await;
    chat.press("Another evaporator").await;
    chat.reply("Harbor Fish, EV-9").await;

    let which = supervisor.say("/evaporator").await;
    assert_eq!(
        labels(&which[0]),
        [
            "Corner Market · EV-3 · meat cooler left",
            "Harbor Fish · EV-9"
        ]
    );
    let told = supervisor
        .press("Corner Market · EV-3 · meat cooler left")
        .await;
    let text = &told[0].text;
    let day = jiff::Timestamp::now().strftime("%Y-%m-%d").to_string();
    for part in [
        format!("Supply voltage: fell from 208 V ({day}) to 180 V ({day}), 2 readings."),
        "The last is outside 187 V to 253 V.".to_owned(),
        "Last jobs".to_owned(),
    ] {
        assert!(text.contains(&part), "{part}: {text}");
    }
    assert_eq!(text.matches("Look at the fan: open · Toni").count(), 2);
    let unknown = supervisor.say("/evaporator submarine").await;
    assert!(unknown[0].text.contains("submarine"), "{unknown:?}");
    world.end().await;
}

#[tokio::test]
async fn another_crews_evaporator_is_not_there() {
    let world = World::new().await;
    let mut ours = world.at_work().await;
    ours.say("/evaporator").await;
    let mut press = ours.pressing("Begin a job here");
    ours.say("/new").await;
    let begins = ours.last();
    assert!(labels(&begins)[0].starts_with("Corner Market"));

    let code = world.desk.invite_new_crew().await.unwrap().code;
    let mut theirs = world.chat(3003, "Olga");
    theirs.say(&format!("/start {}", code.reveal())).await;
    let none = theirs.say("/evaporator market").await;
    assert!(!none[0].text.contains("Corner Market"), "{none:?}");
    press["callback_query"]["from"]["id"] = json!(3003);
    press["callback_query"]["message"]["chat"]["id"] = json!(3003);
    let refused = theirs.delivers(&press).await;
    assert!(refused[0].text.contains("There is no such"), "{refused:?}");
    let mut stranger = world.chat(4004, "Nobody");
    let told = stranger.say("/evaporator market").await;
    assert!(told[0].text.contains("not in a crew yet"), "{told:?}");
    world.end().await;
}
