//! Finding something of one's own crew from any chat, and the links that lead to it.

use serde_json::{Value, json};

use super::World;
use crate::support::chat::Chat;

/// What the bot answers to somebody who types its name and these words.
async fn seeks(world: &World, by: &Chat, words: &str, offset: &str) -> Value {
    let before = world.api.calls("answerinlinequery").len();
    let query = json!({
        "id": format!("seek-{before}"), "from": by.from(), "query": words, "offset": offset,
        "chat_type": "group",
    });
    world.api.deliver(&world.api.update("inline_query", query));
    world
        .api
        .until("an answer", |api| {
            api.calls("answerinlinequery").len() > before
        })
        .await;
    world.api.calls("answerinlinequery").remove(before)
}

fn titles(answer: &Value) -> Vec<(&str, &str)> {
    let results = answer["results"].as_array().unwrap().iter();
    results
        .map(|it| {
            (
                it["title"].as_str().unwrap(),
                it["description"].as_str().unwrap(),
            )
        })
        .collect()
}

fn link(answer: &Value, at: usize) -> &str {
    let button = &answer["results"][at]["reply_markup"]["inline_keyboard"][0][0];
    let link = button["url"].as_str().unwrap();
    link.strip_prefix("https://t.me/bench_bot?start=").unwrap()
}

#[tokio::test]
async fn a_person_of_a_crew_finds_jobs_evaporators_and_flows_of_it() {
    let world = World::new().await;
    let mut toni = world.at_work().await;
    let answer = seeks(&world, &toni, "", "").await;
    let line = "Corner Market · EV-3 · meat cooler left";
    assert_eq!(
        titles(&answer),
        [
            (line, "Job: Look at the fan"),
            (line, "Evaporator"),
            ("Look at the fan", "Flow, as a diagram"),
        ]
    );
    assert_eq!(
        (&answer["is_personal"], &answer["cache_time"]),
        (&json!(true), &json!(0))
    );
    assert_eq!(answer["button"], Value::Null);
    assert!(
        !answer.to_string().contains("Toni"),
        "no names leave the crew"
    );
    let found = seeks(&world, &toni, "ev-3 MARKET", "").await;
    assert_eq!(titles(&found).len(), 2);
    assert_eq!(titles(&seeks(&world, &toni, "harbor", "").await), []);

    let shown = toni.say(&format!("/start {}", link(&answer, 0))).await;
    assert!(
        shown[0].text.contains("Look at the fan · step 1"),
        "{shown:?}"
    );
    let asked = toni.say(&format!("/start {}", link(&answer, 1))).await;
    assert!(asked[0].text.starts_with(line), "{asked:?}");
    let drawn = toni.say(&format!("/start {}", link(&answer, 2))).await;
    assert!(drawn[0].picture.is_some(), "{drawn:?}");

    let mut olga = world.of_another_crew().await;
    assert_eq!(
        titles(&seeks(&world, &olga, "", "").await),
        [("Look at the fan", "Flow, as a diagram")]
    );
    for (at, nowhere) in [
        (0, format!("j-{}", "0".repeat(32))),
        (1, format!("e-{}", "0".repeat(32))),
    ] {
        let theirs = olga.say(&format!("/start {}", link(&answer, at))).await;
        let none = olga.say(&format!("/start {nowhere}")).await;
        assert_eq!(theirs[0].text, none[0].text, "as if it were not there");
    }
    world.end().await;
}

#[tokio::test]
async fn a_stranger_finds_nothing_but_the_way_in() {
    let world = World::new().await;
    world.at_work().await;
    let mut stranger = world.chat(9_009, "Nobody");
    let answer = seeks(&world, &stranger, "corner", "").await;
    assert_eq!(titles(&answer), []);
    assert_eq!(
        answer["button"],
        json!({ "text": "Join a crew", "start_parameter": "join" })
    );
    let told = stranger.say("/start join").await;
    assert!(
        told[0].text.contains("You are not in a crew yet."),
        "{told:?}"
    );
    world.end().await;
}

#[tokio::test]
async fn a_long_list_goes_on_where_it_was_left() {
    let world = World::new().await;
    let sam = world.supervisor().await;
    let address = fanwright::desk::ChannelAddress::Telegram {
        chat: sam.user,
        user: sam.user,
    };
    let actor = world.desk.who_is(&address).await.unwrap().unwrap();
    for number in 0..60 {
        let new = fanwright::desk::evaporators::NewEvaporator {
            site: "Harbor cold store".to_owned(),
            tag: format!("EV-{number}"),
            hangs: String::new(),
        };
        let key = fanwright::store::InputKey(format!("test:{number}"));
        world.desk.add_evaporator(key, &actor, new).await.unwrap();
    }
    let first = seeks(&world, &sam, "harbor", "").await;
    assert_eq!(
        (titles(&first).len(), &first["next_offset"]),
        (50, &json!("50"))
    );
    let rest = seeks(&world, &sam, "harbor", "50").await;
    assert_eq!(
        (titles(&rest).len(), &rest["next_offset"]),
        (10, &Value::Null)
    );
    let both = titles(&first).into_iter().chain(titles(&rest));
    let both: std::collections::BTreeSet<_> = both.collect();
    assert_eq!(both.len(), 60, "nothing twice");
    world.end().await;
}
