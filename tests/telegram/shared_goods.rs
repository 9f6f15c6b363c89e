//! A kit and a speed book that come from the group of another crew.

use fanwright::record::around::CrewWhat;
use fanwright::record::stream::Seq;
use fanwright::store::Store;
use serde_json::{Value, json};

use super::shared_flows::{Crew, actor, file, posts};

const THEIRS: i64 = -4_002;
const KIT: &str = include_str!("../../flows/demo/kit.yaml");
const BOOK: &str = include_str!("../../flows/demo/speed-book.yaml");

#[tokio::test]
async fn a_kit_and_a_speed_book_from_another_crew_keep_where_they_came_from() {
    let crew = Crew::new().await;
    let olga = crew.world.of_another_crew().await;
    let theirs = crew.world.group_of(&olga, THEIRS).await;
    for (text, which) in [(KIT, "kit"), (BOOK, "speed book")] {
        let own = posts(&crew.group, &crew.toni, text).await;
        assert!(!own[0].text.contains("another crew"), "{own:?}");
        let origin = json!({
            "type": "hidden_user", "date": 1_900_000_000, "sender_user_name": "A friend",
        });
        let content = json!({ "document": file(&theirs, text), "forward_origin": origin });
        let message = theirs.message(&olga, content);
        let answered = json!({ "text": "/flow", "reply_to_message": message });
        let card = theirs.sends(&olga, answered).await;
        let lines: Vec<&str> = card[0].text.lines().collect();
        assert_eq!(lines[2], "Taken over from another crew.", "{card:?}");
        assert!(!card[0].text.contains("Toni"), "{card:?}");
        let take = format!("Take it as the crew's {which}");
        let (told, _) = theirs.presses(&olga, &take).await;
        let told = &told[0].text;
        assert!(
            told.starts_with(&format!("This is the crew's {which}")),
            "{told}"
        );
    }
    let from = actor(&crew, &crew.sam).await.crew;
    let their_own = crew.world.desk.group_actor(THEIRS, olga.user).await;
    let stream = their_own.unwrap().unwrap().crew.stream();
    let entries = crew
        .world
        .memory
        .read(stream, Seq::FIRST, 99)
        .await
        .unwrap();
    let origins = entries.iter().filter_map(|entry| {
        let value: Value = serde_json::from_slice(&entry.bytes).unwrap();
        match serde_json::from_value::<CrewWhat>(value["what"].clone()).unwrap() {
            CrewWhat::KitSet { origin, .. } | CrewWhat::SpeedBookSet { origin, .. } => origin,
            _ => None,
        }
    });
    assert_eq!(origins.collect::<Vec<_>>(), [from.0, from.0]);
    crew.world.end().await;
}

#[test]
fn records_from_before_a_kit_had_an_origin_are_read() {
    let revision = "00".repeat(32);
    let old = json!({ "what": "kit_set", "revision": revision });
    let read: CrewWhat = serde_json::from_value(old.clone()).unwrap();
    assert!(matches!(read, CrewWhat::KitSet { origin: None, .. }));
    assert_eq!(serde_json::to_value(read).unwrap(), old);
}
