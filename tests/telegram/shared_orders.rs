//! Publishing from a card while updates come shuffled and twice.

use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use serde_json::json;

use super::shared_flows::{Crew, actor, file, posts, second};
use crate::support::bot_api::bot_message;
use crate::support::chat::Chat;

/// Two supervisors publish, others press and post, each of it twice and in any order: the flow is
/// published once.
#[tokio::test]
async fn however_the_updates_come_a_flow_is_published_once() {
    for seed in 0..6_u64 {
        let crew = Crew::new().await;
        let lee = crew.world.joined(2_005, "Lee", Role::Supervisor).await;
        let (group, toni, sam) = (&crew.group, &crew.toni, &crew.sam);
        let card = posts(group, toni, &second()).await.remove(0);
        let (asked, _) = group.presses(sam, "Publish to the crew").await;
        let question = bot_message(group.id, &asked[0]);
        let api = &crew.world.api;
        let note = |by: &Chat, text: &str| {
            let content = json!({ "text": text, "reply_to_message": question });
            api.update("message", group.message(by, content))
        };
        let post = |by: &Chat| {
            let content = json!({ "document": file(group, &second()), "caption": "/flow" });
            api.update("message", group.message(by, content))
        };
        let carries = |label: &str| {
            let button = card.buttons.iter().find(|(text, _)| text == label);
            button.unwrap().1.clone()
        };
        let take = carries("Publish to the crew");
        let mut updates = vec![
            note(sam, "A second look"),
            note(&lee, "Look again, says Lee"),
            note(toni, "I may not"),
            post(toni),
            post(&lee),
            group.pressing(toni, &card, &take),
            group.pressing(&lee, &card, &take),
            api.update("message", group.message(toni, json!({ "text": "/who" }))),
        ];
        let mut state = seed;
        for at in (1..updates.len()).rev() {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(99);
            updates.swap(at, (state >> 33) as usize % (at + 1));
        }
        for update in &updates {
            api.deliver(update);
        }
        for update in updates.iter().rev().step_by(2) {
            api.deliver_again(update);
        }
        // What comes after all of them comes when they are done.
        group.says(toni, "/help").await;
        let actor = actor(&crew, sam).await;
        let published = crew.world.desk.publications(&actor).await.unwrap();
        assert_eq!(published.len(), 1, "seed {seed}");
        assert_eq!(published[0].changed, ["look-again.yaml"]);
        let who = &published[0].who.as_ref().unwrap().name;
        assert!(["Sam", "Lee"].contains(&who.as_str()), "seed {seed}: {who}");
        let library = crew.world.desk.library(&actor).await.unwrap();
        assert!(library.flows().contains_key(&FlowName::from("look-again")));
        crew.world.end().await;
    }
}
