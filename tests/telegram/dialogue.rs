//! Conversations as they should go.

use std::sync::Arc;

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use jiff::Timestamp;
use serde_json::json;

use super::{World, labels, png};
use crate::support::bot_api::bot_message;
use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

#[tokio::test]
async fn a_code_joins_and_a_stranger_learns_nothing() {
    let world = World::new().await;
    let mut stranger = world.chat(5, "Mallory");
    for text in ["/start", "/job", "/jobs", "/new", "208 V"] {
        let answer = stranger.say(text).await;
        assert!(
            answer[0].text.contains("Ask your supervisor for a code"),
            "{answer:?}"
        );
    }
    let answer = stranger.say("/start 0000000000000000").await;
    assert!(answer[0].text.contains("does not work"), "{answer:?}");
    let supervisor = world.supervisor().await;
    let welcome = supervisor.last();
    assert!(welcome.text.contains("Welcome, Sam"), "{welcome:?}");
    assert!(welcome.text.contains("a supervisor"), "{welcome:?}");
    world.end().await;
}

#[tokio::test]
async fn an_open_door_lets_anybody_in_without_a_code() {
    let rules = Rules {
        open_door: Some([Role::Apprentice].into()),
        ..Rules::default()
    };
    let world = World::with(rules).await;
    let mut chat = world.chat(6, "  ");
    let answer = chat.say("hello").await;
    assert!(answer[0].text.contains("Send /start to join"));
    let answer = chat.say("/start").await;
    assert!(answer[0].text.contains("Welcome, Newcomer"), "{answer:?}");
    world.end().await;
}

#[tokio::test]
async fn a_job_goes_from_its_beginning_to_its_end() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let first = chat.last();
    assert!(first.picture.is_some_and(|bytes| bytes > 500), "{first:?}");
    let text = &first.text;
    let at = |part: &str| {
        text.find(part)
            .unwrap_or_else(|| panic!("no {part} in {text}"))
    };
    assert!(at("Look at the fan · step 1") < at("⚠️ The floor may be wet & slick."));
    assert!(at("The floor may be wet") < at("Stand where you can see the fan."));
    assert!(
        first
            .html
            .contains("<b>⚠️ The floor may be wet &amp; slick.</b>")
    );
    assert!(labels(&first).contains(&"Stop work"));
    let why = chat.press("Why?").await;
    assert_eq!(why[0].text, "Somebody else may switch it on.");
    chat.press("Go on").await;
    chat.press("It stands still").await;
    assert!(chat.last().text.contains("What do you wear?"));
    chat.tick(&["Gloves", "Shoes that grip"], "That is all")
        .await;
    assert!(
        chat.last().text.contains("Type the reading"),
        "{:?}",
        chat.last()
    );
    let refused = chat.say("cold").await;
    assert!(refused[0].text.contains("What does the nameplate say?"));
    chat.say("208 V").await;
    assert!(chat.last().text.contains("Send a photo: The nameplate."));
    let words = chat.say("here it is").await;
    assert!(words[0].text.contains("Send a photo of the nameplate."));
    chat.photo(png()).await;
    assert!(chat.last().text.contains("What did you see?"));
    chat.say("Blade free").await;
    let end = chat.last();
    assert!(end.text.contains("The fan stands still."), "{end:?}");
    chat.press("Hand the job in").await;
    let job = chat.say("/job").await;
    assert!(job[0].text.contains("handed in"), "{job:?}");
    let presses = world.api.calls("answercallbackquery").len();
    assert_eq!(presses, 7, "every press is answered");
    world.end().await;
}

#[tokio::test]
async fn a_handed_in_job_is_reviewed_in_the_chat() {
    let world = World::new().await;
    let mut supervisor = world.chat(1001, "Sam");
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("208 V").await;
    chat.photo(png()).await;
    chat.say("All well").await;
    chat.press("Hand the job in").await;
    let api = world.api.clone();
    api.until("the supervisor hears", |api| {
        api.sent(1001)
            .iter()
            .any(|sent| sent.text.contains("handed"))
    })
    .await;
    let list = supervisor.say("/jobs").await;
    let review = labels(&list[0])[0].to_owned();
    assert!(review.starts_with("Review: Corner Market"), "{review}");
    supervisor.press(&review).await;
    supervisor.press("Send it back").await;
    supervisor.press("My remark says it").await;
    supervisor.reply("The photo shows another plate.").await;
    api.until("the technician hears", |api| {
        api.sent(2002)
            .iter()
            .any(|sent| sent.text.contains("The photo shows another plate."))
    })
    .await;
    world.end().await;
}

#[tokio::test]
async fn single_steps_are_sent_back_in_the_chat_and_done_again_there() {
    let world = World::new().await;
    let mut supervisor = world.chat(1001, "Sam");
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    chat.press("That is all").await;
    chat.say("208 V").await;
    chat.photo(png()).await;
    chat.say("All well").await;
    chat.press("Hand the job in").await;
    let list = supervisor.say("/jobs").await;
    let review = labels(&list[0])[0].to_owned();
    supervisor.press(&review).await;
    supervisor.press("Send it back").await;
    let steps = supervisor.press("Look at the fan, 6 steps").await;
    assert_eq!(labels(&steps[0])[5], "☐ Remark");
    supervisor.press("☐ Remark").await;
    supervisor.press("These again, with a remark").await;
    supervisor.reply("Say which fan.").await;
    let api = world.api.clone();
    api.until("the technician hears", |api| {
        let told = "back, one step to be done again: Say which fan.";
        api.sent(2002).iter().any(|sent| sent.text.contains(told))
    })
    .await;
    let asked = api.sent(1001).into_iter().rev().find(|it| it.wants_reply);
    let asked = bot_message(1001, &asked.unwrap());
    let again = chat.press("Go on with the job").await;
    assert!(
        again[0].text.contains("This is the one step sent back."),
        "{again:?}"
    );
    let done = chat.say("The left one, all well").await;
    assert!(
        done[0].text.contains("How it ended: The fan turns."),
        "{done:?}"
    );
    // A reply to the question of before is not about the job as it is handed in now.
    chat.press("Hand the job in").await;
    let content = json!({ "text": "And the other?", "reply_to_message": asked });
    let late = supervisor.message(content);
    let refused = supervisor.sends("message", late).await;
    assert!(refused[0].text.contains("was faster"), "{refused:?}");
    let list = supervisor.say("/jobs").await;
    assert!(labels(&list[0])[0].starts_with("Review: "), "{list:?}");
    world.end().await;
}

#[tokio::test]
async fn training_is_marked_and_evaporators_are_chosen_again() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let list = chat.say("/training").await;
    assert!(list[0].text.contains("TRAINING"));
    assert_eq!(
        labels(&list[0]),
        [
            "Corner Market · EV-3 · meat cooler left",
            "Another evaporator"
        ]
    );
    let begun = chat.press("Corner Market · EV-3 · meat cooler left").await;
    assert!(begun[0].text.contains("TRAINING"), "{begun:?}");
    let jobs = chat.say("/jobs").await;
    assert_eq!(jobs[0].buttons.len(), 2);
    let found = chat.say("/new nowhere").await;
    assert_eq!(labels(&found[0]), ["Another evaporator"]);
    chat.press("Another evaporator").await;
    let refused = chat.reply(", no site").await;
    assert!(refused[0].text.contains("needs a site"), "{refused:?}");
    chat.reply("Harbor Depot").await;
    assert!(chat.last().text.contains("Added: Harbor Depot."));
    world.end().await;
}

#[tokio::test]
async fn help_in_an_emergency_comes_first_and_without_a_crew() {
    let world = World::new().await;
    let mut stranger = world.chat(9, "Mallory");
    let answer = stranger.say("/hurt").await;
    assert!(answer[0].text.starts_with("Get out of the box."));
    let mut chat = world.at_work().await;
    let answer = chat.press("Someone is hurt / gas alarm").await;
    assert!(
        answer[0].text.starts_with("Get out of the box."),
        "{answer:?}"
    );
    world
        .api
        .until("the supervisor hears of it", |api| api.sent(1001).len() > 1)
        .await;
    world.end().await;
}

#[tokio::test]
async fn ticks_survive_a_restart_and_quick_presses() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.press("Go on").await;
    chat.press("It turns").await;
    // Both presses come from the same buttons, before the first change is seen.
    let first = chat.pressing("☐ Gloves");
    let second = chat.pressing("☐ Eye protection");
    world.api.deliver(&first);
    chat.delivers(&second).await;
    let api = world.api.clone();
    api.until("both are ticked", |api| {
        let last = api.sent(2002).pop().unwrap();
        let ticked = last
            .buttons
            .iter()
            .filter(|(label, _)| label.starts_with('☑'));
        ticked.count() == 2
    })
    .await;
    let asked = chat.last().id;
    let world = world.crash().await;
    api.until("the step comes again", |api| {
        let last = api.sent(2002).pop().unwrap();
        last.text.contains("Here you were")
    })
    .await;
    // The buttons of the earlier message carry what was ticked.
    for label in ["☐ Shoes that grip", "☑ Gloves"] {
        let press = chat.pressing_on(asked, label);
        chat.delivers(&press).await;
    }
    let sent = api.sent(2002);
    let asked = sent.iter().find(|sent| sent.id == asked).unwrap();
    assert!(labels(asked).contains(&"☑ Shoes that grip"), "{asked:?}");
    assert!(labels(asked).contains(&"☑ Eye protection"), "{asked:?}");
    assert!(labels(asked).contains(&"☐ Gloves"), "{asked:?}");
    let done = chat.pressing_on(asked.id, "That is all");
    chat.delivers(&done).await;
    chat.press("Back one step").await;
    let before = chat.last().text;
    assert!(
        before.contains("Eye protection, Shoes that grip"),
        "{before}"
    );
    world.end().await;
}

#[tokio::test]
async fn a_founder_in_a_chat_gets_to_the_page_where_roles_are_set() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    let answer = supervisor.say("/page").await;
    let text = &answer[0].text;
    assert!(text.contains("sets roles, their own too"), "{text}");
    let is_code =
        |word: &&str| word.len() == 16 && word.bytes().all(|byte| byte.is_ascii_alphanumeric());
    let code = text.split_whitespace().find(is_code).unwrap();
    let server = PagesServer::at(world.desk.clone(), Arc::new(Timestamp::now)).await;
    let mut page = Page::joined(&server.base, code, "").await;
    page.open("/people").await;
    let person = page
        .source
        .split("name=\"person\" value=\"")
        .nth(1)
        .unwrap();
    let person = person.split('"').next().unwrap().to_owned();
    let token = page.source.split("name=\"token\" value=\"").nth(1).unwrap();
    let token = token.split('"').next().unwrap().to_owned();
    let form = [
        ("token", token.as_str()),
        ("person", &person),
        ("shown", "supervisor"),
        ("role", "supervisor"),
        ("role", "technician"),
    ];
    let request = page.client.post(format!("{}/people/roles", server.base));
    page.go(request.form(&form), "/people/roles").await;
    assert!(page.shows("technician, supervisor"), "{}", page.text);
    world.end().await;
}
