//! A crew that is kept by chat alone.

use fanwright::flow::model::Role;

use super::{World, labels};

#[tokio::test]
async fn a_founder_invites_by_chat_and_the_newcomer_joins_by_the_link() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    let asked = supervisor.say("/invite").await;
    assert_eq!(
        labels(&asked[0]),
        [
            "☐ Apprentice",
            "☑ Technician",
            "☐ Licensed electrician",
            "☐ Supervisor",
            "Make a one-time code"
        ]
    );
    supervisor.press("☑ Technician").await;
    let emptied = supervisor.last();
    assert!(
        !labels(&emptied).contains(&"Make a one-time code"),
        "nobody joins without a role"
    );
    supervisor.press("☐ Apprentice").await;
    supervisor.press("☐ Licensed electrician").await;
    let told = supervisor.press("Make a one-time code").await;
    let text = &told[0].text;
    assert!(
        text.contains("joins as an apprentice and a licensed electrician"),
        "{text}"
    );
    let link = text
        .split_whitespace()
        .find_map(|word| word.strip_prefix("https://t.me/bench_bot?start="))
        .unwrap();
    // Opening such a link makes the phone send this.
    let mut newcomer = world.chat(2002, "Nico");
    let welcome = newcomer.say(&format!("/start {link}")).await;
    assert!(
        welcome[0]
            .text
            .contains("an apprentice and a licensed electrician"),
        "{welcome:?}"
    );
    let mut late = world.chat(2003, "Mallory");
    let refused = late.say(&format!("/start {link}")).await;
    assert!(refused[0].text.contains("does not work"), "{refused:?}");
    world.end().await;
}

#[tokio::test]
async fn a_founder_sets_roles_by_chat_their_own_too() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    world.joined(2002, "Toni", Role::Technician).await;
    let list = supervisor.say("/people").await;
    assert!(
        list[0]
            .text
            .contains("Sam, a supervisor\nToni, a technician")
    );
    assert_eq!(labels(&list[0]), ["Invite somebody", "Sam", "Toni"]);
    supervisor.press("Sam").await;
    supervisor.press("☐ Technician").await;
    let told = supervisor.press("Give these roles").await;
    assert_eq!(told[0].text, "Sam is now a technician and a supervisor.");
    supervisor.press("Toni").await;
    supervisor.press("☑ Technician").await;
    let told = supervisor.press("Take Toni off the crew").await;
    assert!(told[0].text.contains("Toni is off the crew"), "{told:?}");
    let list = supervisor.say("/people").await;
    assert!(!list[0].text.contains("Toni"), "{list:?}");
    world.end().await;
}

#[tokio::test]
async fn a_crew_keeps_its_last_supervisor() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    supervisor.say("/people").await;
    supervisor.press("Sam").await;
    supervisor.press("☐ Technician").await;
    supervisor.press("☑ Supervisor").await;
    let refused = supervisor.press("Give these roles").await;
    assert!(
        refused[0].text.contains("A crew needs a supervisor"),
        "{refused:?}"
    );
    world.end().await;
}

#[tokio::test]
async fn others_see_the_crew_and_change_nothing() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    let mut chat = world.joined(2002, "Toni", Role::Technician).await;
    let list = chat.say("/people").await;
    assert!(list[0].text.contains("Sam, a supervisor"), "{list:?}");
    assert!(list[0].buttons.is_empty(), "{list:?}");
    let refused = chat.say("/invite").await;
    assert!(refused[0].text.contains("Only a supervisor"), "{refused:?}");
    // A button that was made for another person is no way around it.
    supervisor.say("/invite").await;
    let theirs = supervisor.find("Make a one-time code").unwrap().1;
    chat.say("/new").await;
    chat.reply("Corner Market").await;
    let mut press = chat.pressing("Go on");
    press["callback_query"]["data"] = serde_json::json!(theirs);
    let refused = chat.delivers(&press).await;
    assert!(refused[0].text.contains("Only a supervisor"), "{refused:?}");
    let help = chat.say("/help").await;
    for command in ["/people", "/invite"] {
        assert!(help[0].text.contains(command), "{help:?}");
    }
    let registered = world.api.calls("setmycommands");
    let registered = registered[0]["commands"].to_string();
    assert!(registered.contains("people") && registered.contains("invite"));
    world.end().await;
}

#[tokio::test]
async fn an_open_code_is_withdrawn_by_its_button_once() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    supervisor.say("/invite").await;
    let told = supervisor.press("Make a one-time code").await;
    let text = told[0].text.clone();
    let link = text
        .split_whitespace()
        .find_map(|word| word.strip_prefix("https://t.me/bench_bot?start="))
        .unwrap();
    supervisor.say("/invite").await;
    supervisor.press("☐ Apprentice").await;
    supervisor.press("Make a one-time code").await;
    let list = supervisor.say("/people").await;
    assert_eq!(
        labels(&list[0]),
        [
            "Invite somebody",
            "Withdraw the code for a technician",
            "Withdraw the code for an apprentice and a technician",
            "Sam"
        ]
    );
    let told = supervisor.press("Withdraw the code for a technician").await;
    assert!(told[0].text.starts_with("Withdrawn"), "{told:?}");
    let twice = supervisor.press("Withdraw the code for a technician").await;
    assert!(twice[0].text.contains("not open any more"), "{twice:?}");
    let mut late = world.chat(2003, "Mallory");
    let refused = late.say(&format!("/start {link}")).await;
    assert!(refused[0].text.contains("does not work"), "{refused:?}");
    let list = supervisor.say("/people").await;
    assert_eq!(labels(&list[0]).len(), 3, "the other code is still open");
    world.end().await;
}

#[tokio::test]
async fn an_old_screen_gives_back_no_role_that_was_taken_meanwhile() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    world.joined(2002, "Toni", Role::Electrician).await;
    supervisor.say("/people").await;
    let old = supervisor.press("Toni").await[0].id;
    supervisor.press("Toni").await;
    supervisor.press("☐ Technician").await;
    supervisor.press("☑ Licensed electrician").await;
    supervisor.press("Give these roles").await;
    let late = supervisor.pressing_on(old, "Give these roles");
    let refused = supervisor.delivers(&late).await;
    assert!(
        refused[0].text.contains("The roles of Toni changed"),
        "{refused:?}"
    );
    let list = supervisor.say("/people").await;
    assert!(list[0].text.contains("Toni, a technician"), "{list:?}");
    world.end().await;
}
