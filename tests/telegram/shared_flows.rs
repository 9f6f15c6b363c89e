//! Flows, kits and speed books that are posted in a group: looked at, tried, published, taken over.

use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::around::{CrewWhat, FlowOrigin};
use fanwright::record::stream::Seq;
use fanwright::store::Store;
use serde_json::{Value, json};

use super::{World, labels};
use crate::support::bot_api::Sent;
use crate::support::chat::Chat;
use crate::support::group_chat::GroupChat;

const GROUP: i64 = -4_001;
const THEIRS: i64 = -4_002;
const BENCH: &str = include_str!("bench.yaml");
const KIT: &str = include_str!("../../flows/demo/kit.yaml");
const BOOK: &str = include_str!("../../flows/demo/speed-book.yaml");

/// The one flow of the crew, with another sentence.
fn reworded() -> String {
    BENCH.replace("Does the fan turn?", "Listen first. Does the fan turn?")
}

/// The same flow under another name.
pub(super) fn second() -> String {
    let text = BENCH.replace("flow: look-at-the-fan", "flow: look-again");
    text.replace("title: Look at the fan", "title: Look again")
}

pub(super) fn file(group: &GroupChat, text: &str) -> Value {
    json!({
        "file_id": group.file(text.as_bytes().to_vec()), "file_unique_id": "f",
        "file_size": text.len(), "file_name": "holiday.jpg.exe", "mime_type": "text/plain",
    })
}

/// Posts a file for the bot and waits for what it says.
pub(super) async fn posts(group: &GroupChat, by: &Chat, text: &str) -> Vec<Sent> {
    let document = file(group, text);
    group
        .sends(by, json!({ "document": document, "caption": "/flow" }))
        .await
}

pub(super) struct Crew {
    pub(super) world: World,
    pub(super) sam: Chat,
    pub(super) toni: Chat,
    pub(super) group: GroupChat,
}

impl Crew {
    pub(super) async fn new() -> Crew {
        let world = World::new().await;
        let sam = world.supervisor().await;
        let toni = world.joined(2002, "Toni", Role::Technician).await;
        let group = world.group_of(&sam, GROUP).await;
        Crew {
            world,
            sam,
            toni,
            group,
        }
    }

    /// Publishes the card that came last in the group.
    async fn publishes(&self, group: &GroupChat, by: &Chat, note: &str) -> Vec<Sent> {
        let (asked, _) = group.presses(by, "Publish to the crew").await;
        assert!(
            asked[0]
                .text
                .starts_with("Reply to this with what is changed and why.")
        );
        group.replies(by, &asked[0], note).await
    }

    /// What the crew of this person published last.
    async fn last_published(&self, by: &Chat) -> CrewWhat {
        let actor = self.world.desk.group_actor(by.user, by.user).await.unwrap();
        assert_eq!(actor, None, "a private chat is no group");
        let address = fanwright::desk::ChannelAddress::Telegram {
            chat: by.user,
            user: by.user,
        };
        let actor = self.world.desk.who_is(&address).await.unwrap().unwrap();
        let store = &self.world.memory;
        let entries = store
            .read(actor.crew.stream(), Seq::FIRST, 99)
            .await
            .unwrap();
        let whats = entries.iter().map(|entry| {
            let value: Value = serde_json::from_slice(&entry.bytes).unwrap();
            serde_json::from_value::<CrewWhat>(value["what"].clone()).unwrap()
        });
        let mut published = whats.filter(|what| matches!(what, CrewWhat::FlowsPublished { .. }));
        published.next_back().unwrap()
    }
}

#[tokio::test]
async fn a_posted_flow_gets_a_card_and_a_supervisor_publishes_it_with_a_note() {
    let crew = Crew::new().await;
    let (group, toni, sam) = (&crew.group, &crew.toni, &crew.sam);
    let card = posts(group, toni, &second()).await;
    assert_eq!(card.len(), 1, "{card:?}");
    assert!(card[0].picture.is_some(), "the diagram");
    assert!(
        card[0]
            .text
            .starts_with("Look again\n8 steps · posted by Toni\nEdition ")
    );
    assert!(
        card[0]
            .text
            .contains("Your crew has no flow of this name yet.")
    );
    assert_eq!(labels(&card[0]), ["Try it", "Publish to the crew"]);

    let (came, answer) = group.presses(toni, "Publish to the crew").await;
    assert_eq!(came, []);
    let refused = "Only a supervisor can make a posted file the crew's. Ask yours to do it.";
    assert_eq!(answer.as_deref(), Some(refused));
    let (asked, _) = group.presses(sam, "Publish to the crew").await;
    assert!(asked[0].text.contains("Look again\nEdition "));
    let told = group.replies(toni, &asked[0], "Because I say so").await;
    assert!(
        told[0]
            .text
            .starts_with("Only a supervisor can publish flows.")
    );
    let told = group.replies(sam, &asked[0], " ").await;
    assert!(
        told[0].text.contains("what you changed and why"),
        "{told:?}"
    );

    let told = group.replies(sam, &asked[0], "A second look").await;
    assert!(told[0].text.starts_with("Published: Look again."));
    let what = crew.last_published(sam).await;
    let CrewWhat::FlowsPublished {
        changed,
        note,
        origin,
        ..
    } = what
    else {
        panic!("{what:?}");
    };
    assert_eq!(
        changed,
        ["look-again.yaml"],
        "the file is called as the flow is"
    );
    assert_eq!((note.as_str(), origin), ("A second look", None));
    let again = group.replies(sam, &asked[0], "A second look").await;
    assert!(
        again[0].text.starts_with("Published: Look again."),
        "once is enough"
    );
    let card = posts(group, toni, &second()).await;
    assert!(card[0].text.contains("Your crew walks exactly this."));
    assert_eq!(labels(&card[0]), ["Try it", "Who uses it"]);
    crew.world.end().await;
}

#[tokio::test]
async fn what_changed_and_who_walks_it_is_told_from_the_card() {
    let mut crew = Crew::new().await;
    crew.toni.say("/new").await;
    crew.toni
        .reply("Corner Market, EV-3, meat cooler left")
        .await;
    let (group, toni, sam) = (&crew.group, &crew.toni, &crew.sam);
    let card = posts(group, sam, &reworded()).await;
    let text = &card[0].text;
    assert!(
        text.contains("1 thing differs from what your crew walks."),
        "{text}"
    );
    assert!(
        text.contains("· look-at-the-fan › look: words was: Does the fan turn?"),
        "{text}"
    );
    let all = [
        "Try it",
        "Publish to the crew",
        "What changed",
        "Who uses it",
    ];
    assert_eq!(labels(&card[0]), all);
    let (told, _) = group.presses(toni, "What changed").await;
    assert!(
        told[0]
            .text
            .contains("is: Listen first. Does the fan turn?"),
        "{told:?}"
    );
    let (told, _) = group.presses(toni, "Who uses it").await;
    assert!(
        told[0]
            .text
            .contains(", as new jobs walk it\n· Corner Market · EV-3"),
        "{told:?}"
    );
    assert!(told[0].text.ends_with("— Toni"), "{told:?}");

    crew.publishes(group, sam, "Ears before eyes").await;
    let told = group.says(toni, "/who").await;
    assert!(
        told[0].text.contains(", an earlier one\n· Corner Market"),
        "{told:?}"
    );
    let told = group.says(toni, "/who the fan").await;
    assert!(told[0].text.contains(", an earlier one"), "{told:?}");
    let told = group.says(toni, "/who compressor").await;
    assert!(
        told[0]
            .text
            .starts_with("No flow of your crew is called that.")
    );
    let step = crew.toni.say("/job").await;
    assert!(
        step[0].text.contains("Look at the fan · step 1"),
        "it stays where it was"
    );
    crew.world.end().await;
}

#[tokio::test]
async fn a_flow_with_errors_is_answered_with_what_is_wrong_and_no_card() {
    let crew = Crew::new().await;
    let wrong = reworded()
        .replace("then: gear", "then: gaer")
        .replace("then: plate", "then: plat");
    let told = posts(&crew.group, &crew.toni, &wrong).await;
    assert_eq!(told.len(), 1);
    let text = &told[0].text;
    assert!(text.starts_with("This flow cannot be used yet: the checker found 2 errors."));
    assert!(text.contains("❗ look-at-the-fan.yaml, line 27:"), "{text}");
    assert!(text.contains("Did you mean `gear`?"), "{text}");
    assert!(text.ends_with("Mend the file and post it again."));
    assert_eq!(told[0].buttons, []);
    let told = posts(&crew.group, &crew.toni, "flow: half\ntitle: [").await;
    assert!(
        told[0].text.starts_with("This flow cannot be used yet"),
        "{told:?}"
    );
    crew.world.end().await;
}

#[tokio::test]
async fn a_posted_flow_is_tried_privately_as_a_training_walk() {
    let mut crew = Crew::new().await;
    crew.toni.say("/new").await;
    crew.toni
        .reply("Corner Market, EV-3, meat cooler left")
        .await;
    let card = posts(&crew.group, &crew.sam, &reworded()).await;
    let link = &card[0].buttons[0].1;
    let start = link.strip_prefix("https://t.me/bench_bot?start=").unwrap();
    assert!(start.len() <= 64);
    let asked = crew.toni.say(&format!("/start {start}")).await;
    assert!(
        asked[0]
            .text
            .starts_with("Look at the fan\n\nA TRAINING walk"),
        "{asked:?}"
    );
    let begun = crew
        .toni
        .press("Corner Market · EV-3 · meat cooler left")
        .await;
    assert!(begun[0].text.contains("TRAINING"), "{begun:?}");
    let next = crew.toni.press("Go on").await;
    assert!(next[0].text.contains("Listen first."), "{next:?}");
    let library = crew
        .world
        .desk
        .library(&actor(&crew, &crew.toni).await)
        .await
        .unwrap();
    let flow = &library.flows()[&FlowName::from("look-at-the-fan")];
    let still = flow
        .steps
        .values()
        .any(|step| step.say.source == "Does the fan turn?");
    assert!(still, "nothing is published by it");

    let mut olga = crew.world.of_another_crew().await;
    let told = olga.say(&format!("/start {start}")).await;
    let nowhere = olga.say(&format!("/start t-{}", "0".repeat(32))).await;
    assert_eq!(told[0].text, nowhere[0].text, "as if it were not there");
    let mut stranger = crew.world.chat(9_009, "Nobody");
    let told = stranger.say(&format!("/start {start}")).await;
    assert!(told[0].text.contains("You are not in a crew yet."));
    crew.world.end().await;
}

pub(super) async fn actor(crew: &Crew, of: &Chat) -> fanwright::desk::Actor {
    let actor = crew.world.desk.group_actor(GROUP, of.user).await;
    actor.unwrap().unwrap()
}

#[tokio::test]
async fn a_flow_from_another_crew_is_taken_over_with_where_it_came_from() {
    for by_card in [false, true] {
        let crew = Crew::new().await;
        let olga = crew.world.of_another_crew().await;
        let theirs = crew.world.group_of(&olga, THEIRS).await;
        let card = posts(&crew.group, &crew.toni, &second()).await;
        let (_, edition) = card[0].text.split_once("Edition ").unwrap();
        let edition = &edition[..16];
        crew.publishes(&crew.group, &crew.sam, "A second look")
            .await;

        let forwarded = if by_card {
            let origin = json!({
                "type": "user", "date": 1_900_000_000,
                "sender_user": {
                    "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot",
                },
            });
            json!({ "text": card[0].text, "forward_origin": origin })
        } else {
            let origin = json!({
                "type": "hidden_user", "date": 1_900_000_000, "sender_user_name": "A friend",
            });
            json!({ "document": file(&theirs, &second()), "forward_origin": origin })
        };
        let message = theirs.message(&olga, forwarded);
        let answered = json!({ "text": "/flow", "reply_to_message": message });
        let card = theirs.sends(&olga, answered).await;
        let text = &card[0].text;
        let from = format!("Taken over from another crew's edition {edition}.");
        assert!(text.contains(&from), "{text}");
        assert!(text.contains("posted by Olga"), "{text}");
        assert!(!text.contains("Toni") && !text.contains("Sam"), "{text}");

        let told = crew.publishes(&theirs, &olga, "From our friends").await;
        assert!(told[0].text.starts_with("Published: Look again."));
        let what = crew.last_published(&olga).await;
        let CrewWhat::FlowsPublished { origin, .. } = what else {
            panic!("{what:?}");
        };
        let FlowOrigin {
            crew: from,
            edition: of,
        } = origin.unwrap();
        assert_eq!(from, actor(&crew, &crew.sam).await.crew.0);
        assert!(of.starts_with(edition));
        let theirs = crew
            .world
            .desk
            .group_actor(THEIRS, olga.user)
            .await
            .unwrap()
            .unwrap();
        let publications = crew.world.desk.publications(&theirs).await.unwrap();
        assert!(
            publications[0]
                .from_edition
                .as_ref()
                .unwrap()
                .starts_with(edition)
        );
        crew.world.end().await;
    }
}

#[tokio::test]
async fn a_kit_and_a_speed_book_are_shown_and_taken_by_a_supervisor() {
    let crew = Crew::new().await;
    let (group, toni, sam) = (&crew.group, &crew.toni, &crew.sam);
    let card = posts(group, toni, KIT).await;
    let text = &card[0].text;
    assert!(text.starts_with("Northwind Quay cold rooms, van 2\n4 assemblies · posted by Toni"));
    assert!(text.contains("New: ec-a-small, "), "{text}");
    let (came, answer) = group.presses(toni, "Take it as the crew's kit").await;
    assert_eq!(came, []);
    assert!(answer.unwrap().starts_with("Only a supervisor can"));
    let (told, _) = group.presses(sam, "Take it as the crew's kit").await;
    assert!(
        told[0]
            .text
            .starts_with("This is the crew's kit from now on.")
    );
    let fewer = KIT.replace("EC-A small, invented", "EC-A tiny, invented");
    let card = posts(group, toni, &fewer).await;
    assert!(card[0].text.contains("Changed: ec-a-small"), "{card:?}");
    let other = KIT.replace("on_truck: 3", "on_truck: 7");
    posts(group, toni, &other).await;
    let (told, _) = group.presses(sam, "Take it as the crew's kit").await;
    assert!(
        told[0]
            .text
            .starts_with("This is the crew's kit from now on.")
    );
    // The card of before was made beside another kit.
    let stale = &card[0].buttons[0].1;
    let press = group.pressing(sam, &card[0], stale);
    assert_eq!(group.delivers(sam, &press).await, []);
    let answer = group.answer_to(&press).unwrap();
    assert!(
        answer.starts_with("Something else took its place"),
        "{answer}"
    );

    posts(group, toni, BOOK).await;
    group.presses(sam, "Take it as the crew's speed book").await;
    let card = posts(group, toni, BOOK).await;
    assert!(
        card[0].text.contains("This is your crew's speed book."),
        "{card:?}"
    );
    assert_eq!(card[0].buttons, []);
    let told = posts(group, toni, "kit: x\nassemblies: 3\n").await;
    assert!(
        told[0].text.starts_with("This file cannot be used yet."),
        "{told:?}"
    );
    crew.world.end().await;
}

#[tokio::test]
async fn a_file_that_is_for_nobody_or_none_of_ours_gets_no_card() {
    let crew = Crew::new().await;
    let (group, toni) = (&crew.group, &crew.toni);
    let quiet = json!({ "document": file(group, "a shopping list") });
    assert_eq!(
        group.sends(toni, quiet).await,
        [],
        "people post files to each other"
    );
    let told = posts(group, toni, "a shopping list").await;
    assert!(
        told[0]
            .text
            .starts_with("That is no flow, kit or speed book")
    );
    let ours = json!({ "document": file(group, &second()) });
    let card = group.sends(toni, ours).await;
    assert!(
        card[0].text.starts_with("Look again"),
        "it arrived, so it is looked at"
    );
    let mut large = file(group, &second());
    large["file_size"] = json!(300_000);
    let told = group
        .sends(toni, json!({ "document": large, "caption": "/flow" }))
        .await;
    assert!(told[0].text.contains("may have 256 KiB"), "{told:?}");
    // The platform may be told a smaller size than there is.
    let told = posts(group, toni, &format!("flow: x\n#{}", "x".repeat(300_000))).await;
    assert!(told[0].text.contains("may have 256 KiB"), "{told:?}");
    let told = group.says(toni, "/flow").await;
    assert_eq!(labels(&told[0]), ["Look at the fan"]);
    let (shown, _) = group.presses(toni, "Look at the fan").await;
    assert!(shown[0].picture.is_some() || shown[0].file.is_some());
    crew.world.end().await;
}
