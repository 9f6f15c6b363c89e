//! Quiet hours in a chat, and a reminder that comes by it.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::Rules;
use fanwright::desk::clock::Clock;
use fanwright::flow::model::Role;
use fanwright::store::Memory;
use jiff::{SignedDuration, Timestamp};

use super::{World, labels, parts};
use crate::desk::TestClock;
use crate::support::bot_api::BotApi;

#[tokio::test]
async fn quiet_hours_are_asked_for_and_chosen_by_a_command() {
    let world = World::new().await;
    world.supervisor().await;
    let mut chat = world.joined(2002, "Toni", Role::Technician).await;
    let told = chat.say("/quiet 21:00 6:30 America/Chicago").await;
    assert!(
        told[0]
            .text
            .contains("from 21:00 to 06:30 by the clock of America/Chicago"),
        "{told:?}"
    );
    let told = chat.say("/quiet").await;
    assert!(told[0].text.contains("from 21:00 to 06:30"), "{told:?}");
    assert!(
        told[0]
            .text
            .contains("Change it like this: /quiet 21:00 06:30")
    );
    let told = chat.say("/quiet nine to five").await;
    assert!(told[0].text.contains("no time zone “nine”"), "{told:?}");
    let told = chat.say("/quiet none").await;
    assert!(told[0].text.contains("You have no quiet hours"), "{told:?}");
    let mut stranger = world.chat(2003, "Mallory");
    let told = stranger.say("/quiet none").await;
    assert!(told[0].text.contains("not in a crew"), "{told:?}");
    world.end().await;
}

#[tokio::test]
async fn a_reminder_comes_with_a_button_that_shows_the_job() {
    let api = BotApi::start().await;
    let memory = Memory::new();
    let noon: Timestamp = "2031-05-04T12:00:00Z".parse().unwrap();
    let clock = Arc::new(TestClock(Mutex::new((noon, Duration::ZERO))));
    let mut parts = parts(&memory, Rules::default());
    parts.clock = Arc::clone(&clock) as Arc<dyn Clock>;
    let world = World::of(api, memory, parts).await;
    let supervisor = world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    toni.press("Stop work").await;
    toni.say("The drain is frozen").await;
    toni.press("Leave it, with an owner").await;
    toni.say("The night shift").await;
    toni.say("tomorrow").await;
    world.desk.remind().await.unwrap();
    let before = world.api.sent(supervisor.user).len();
    clock.0.lock().unwrap().0 += SignedDuration::from_hours(20);
    world.desk.remind().await.unwrap();
    world
        .api
        .until("the reminder comes", |api| {
            api.sent(2002)
                .iter()
                .any(|sent| sent.text.contains("Reminder:"))
        })
        .await;
    let reminder = toni.last();
    assert!(
        reminder
            .text
            .contains("is left locked out, since Sun 4 May, 12:00. Owner: The night"),
        "{reminder:?}"
    );
    assert_eq!(labels(&reminder), ["Look at the job"]);
    toni.press("Look at the job").await;
    assert!(toni.last().id > reminder.id, "the job is shown");
    assert!(!toni.last().text.contains("Reminder:"));
    assert_eq!(world.api.sent(supervisor.user).len(), before, "not yet");
    world.end().await;
}
