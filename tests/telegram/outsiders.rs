//! Whoever is not of a crew changes nothing of it and learns nothing, whatever they send: every
//! kind of update, in every kind of group, by a stranger and by people of another crew.

use fanwright::channel::telegram::token::{
    AgainPress, Choice, CodeMark, CompetenceMark, FlowMark, LockOff, On, Plan, RolesPress,
    SharedPress, ShownPress, Token,
};
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::screen::{Closing, RowDecision};
use fanwright::desk::shared_flows::SharedMark;
use fanwright::desk::whereabouts::Near;
use fanwright::desk::{Actor, ChannelAddress};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::stream::StreamKind;
use fanwright::store::{Store, Table};
use serde_json::{Value, json};

use super::token_kinds::{actions, is_in_the_list};
use super::{World, png};
use crate::support::bot_api::{BotApi, Sent, bot_message};
use crate::support::chat::Chat;
use crate::support::group_chat::GroupChat;

const OURS: i64 = -4_001;
const THEIRS: i64 = -4_002;
const NOBODYS: i64 = -4_003;

/// What nobody outside the crew may ever read: its people, its places, the title of its flow.
const SECRETS: [&str; 5] = [
    "Samantha",
    "Toni",
    "Corner Market",
    "EV-3",
    "Crew's own look",
];

/// A crew with a job, a group and a posted flow, beside another crew with a group.
struct Scene {
    world: World,
    toni: Chat,
    olga: Chat,
    stranger: Chat,
    job: JobId,
    evaporator: EvaporatorId,
    crew: Actor,
    mark: SharedMark,
    revision: u64,
    /// The card of the posted flow, the question for its note, and the job that is run there.
    card: Sent,
    question: Sent,
    room: Sent,
}

fn posted() -> String {
    let text = include_str!("bench.yaml").replace("flow: look-at-the-fan", "flow: own-look");
    text.replace("title: Look at the fan", "title: Crew's own look")
}

impl Scene {
    async fn new() -> Scene {
        // They send more than any person could.
        let world = World::patient().await;
        let code = world
            .desk
            .first_supervisor_code()
            .await
            .unwrap()
            .unwrap()
            .code;
        let mut sam = world.chat(1_001, "Samantha");
        sam.say(&format!("/start {}", code.reveal())).await;
        let mut toni = world.joined(2_002, "Toni", Role::Technician).await;
        toni.say("/new").await;
        toni.reply("Corner Market, EV-3, meat cooler left").await;
        let group = world.group_of(&sam, OURS).await;
        let olga = world.of_another_crew().await;
        world.group_of(&olga, THEIRS).await;
        let stranger = world.chat(9_009, "Nobody");
        let document = document(&group);
        let content = json!({ "document": document, "caption": "/flow" });
        let card = group.sends(&sam, content).await.remove(0);
        let (mut asked, _) = group.presses(&sam, "Publish to the crew").await;
        let link = card.buttons[0].1.split_once("t-").unwrap().1;
        let address = ChannelAddress::Telegram {
            chat: toni.user,
            user: toni.user,
        };
        let crew = world.desk.who_is(&address).await.unwrap().unwrap();
        group.says(&toni, "/here").await;
        let room = |api: &BotApi| {
            let all = api.sent(OURS);
            all.into_iter()
                .rfind(|sent| sent.text.contains("Stand where you can see the fan."))
        };
        world
            .api
            .until("the job is run there", |api| room(api).is_some())
            .await;
        let room = room(&world.api).unwrap();
        let job = world.desk.job_at_hand(&crew).await.unwrap().unwrap();
        // Its picture follows, and that it was posted is noted.
        while world
            .desk
            .room(job)
            .await
            .unwrap()
            .unwrap()
            .pictured
            .is_none()
        {
            tokio::task::yield_now().await;
        }
        let screen = world.desk.screen(&crew, job).await.unwrap();
        let (evaporator, revision) = (screen.evaporator.id, screen.prompt.revision);
        Scene {
            mark: link.parse().unwrap(),
            card,
            question: asked.remove(0),
            room,
            revision,
            world,
            toni,
            olga,
            stranger,
            job,
            evaporator,
            crew,
        }
    }

    /// Everything that was ever written, and the tables that say who is who and what is where.
    async fn all_that_is_kept(&self) -> Vec<String> {
        let store = &self.world.memory;
        let mut all = Vec::new();
        for kind in StreamKind::ALL {
            let page = store.streams(kind, None, 1_000).await.unwrap();
            all.extend(page.items.iter().map(|it| format!("{it:?}")));
        }
        for table in [
            "address",
            "person",
            "reach",
            "at_hand",
            "group",
            "crew_groups",
            "shared",
            "shared_first",
            "shared_edition",
            "draft",
            "crew",
            "job",
            "evaporator",
            "invitation",
            "room",
            "topic",
            "way",
            "hours",
            "shown",
            "crew_zone",
        ] {
            let rows = store
                .scan(Table::named(table), Vec::new(), None, 1_000)
                .await
                .unwrap();
            all.extend(rows.items.iter().map(|row| format!("{table} {row:?}")));
        }
        let names = store.names().await.unwrap();
        all.extend(names.iter().map(|name| format!("{name:?}")));
        all
    }

    /// Every kind of button, about the crew's own things.
    fn tokens(&self) -> Vec<Token> {
        let on = On {
            job: self.job,
            revision: self.revision,
        };
        let plan = Plan {
            flow: FlowMark::of(&FlowName::from("look-at-the-fan")),
            training: false,
        };
        let person = self.crew.person;
        let choice = Choice { index: 0, check: 0 };
        let mut tokens = vec![
            Token::Choose(on, choice),
            Token::Toggle(on, 0, 0),
            Token::Ticked(on, 1),
            Token::Keep(on),
            Token::More(on, 0),
            Token::Close(on, Closing::Accept),
            Token::Close(on, Closing::SendBack),
            Token::Close(on, Closing::Row(RowDecision::Accept)),
            Token::Show(self.job),
            Token::Begin(self.evaporator, plan),
            Token::HandOver(on, None),
            Token::HandOver(on, Some(person)),
            Token::Roles(Some(person), RolesPress::Ask),
            Token::Again(on, AgainPress::Whole),
            Token::Try(self.evaporator, self.mark),
            Token::Here(self.job),
            Token::Photos(self.job),
            Token::LockOff(
                self.job,
                LockOff {
                    source: 7,
                    owner: person,
                    confirmed: 3,
                    revision: 0,
                },
            ),
            Token::Shown(Some(person), ShownPress::Ask),
            Token::Shown(Some(person), ShownPress::Sign(CompetenceMark(7))),
            Token::Evaporator(self.evaporator),
            Token::Withdraw(CodeMark([0; 16])),
            Token::Locate(
                self.evaporator,
                Near {
                    latitude: 1,
                    longitude: 2,
                },
            ),
        ];
        tokens.extend(actions().map(|action| Token::Do(on, action)));
        tokens.extend(SharedPress::ALL.map(|press| Token::Shared(press, self.mark)));
        tokens
    }

    /// Those that in a private chat would be about whoever presses them.
    fn own_tokens(&self) -> Vec<Token> {
        let plan = Plan {
            flow: FlowMark::of(&FlowName::from("look-at-the-fan")),
            training: true,
        };
        vec![
            Token::New(false),
            Token::Add(plan),
            Token::Which(plan),
            Token::Diagram(plan.flow),
        ]
    }

    /// Every kind of message that people send in groups.
    fn messages(&self, group: &GroupChat, by: &Chat) -> Vec<(&'static str, Value)> {
        let card = bot_message(group.id, &self.card);
        let question = bot_message(group.id, &self.question);
        let room = bot_message(group.id, &self.room);
        let forwarded = json!({
            "type": "user", "date": 1_900_000_000,
            "sender_user": {
                "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot",
            },
        });
        let mut sent_on = group.message(by, json!({ "text": self.card.text }));
        sent_on["forward_origin"] = forwarded.clone();
        let file = json!({ "document": document(group) });
        let mut posted = file.clone();
        posted["caption"] = json!("/flow");
        let text = |text: &str| json!({ "text": text });
        let reply = |text: &str, to: &Value| json!({ "text": text, "reply_to_message": to });
        let mut photo = by.photo_content(png());
        photo["reply_to_message"] = room.clone();
        vec![
            ("talk", text("Has anybody seen the ladder?")),
            ("a mention", text("Where is EV-3, @bench_bot?")),
            ("/unbind", text("/unbind")),
            ("/flow", text("/flow")),
            ("/who", text("/who")),
            ("/who with words", text("/who fan")),
            ("/here", text("/here")),
            ("/help", text("/help@bench_bot")),
            ("/hurt", text("/hurt")),
            ("a private command", text("/people@bench_bot")),
            ("an unknown command", text("/launch@bench_bot")),
            ("a reply to the card", reply("208 V", &card)),
            ("a note", reply("I say so", &question)),
            ("an answer in the room", reply("208 V", &room)),
            ("a photo", photo),
            ("a file for the bot", posted),
            ("a file", file),
            (
                "a file answered with /flow",
                reply(
                    "/flow",
                    &group.message(by, json!({ "document": document(group) })),
                ),
            ),
            (
                "a card that was sent on",
                json!({ "text": self.card.text, "forward_origin": forwarded }),
            ),
            ("a card answered with /flow", reply("/flow", &sent_on)),
            (
                "a sticker",
                json!({ "reply_to_message": card, "location": { "latitude": 1.0, "longitude": 2.0 } }),
            ),
            (
                "a pinned message",
                json!({ "pinned_message": bot_message(group.id, &self.card) }),
            ),
        ]
    }
}

fn document(group: &GroupChat) -> Value {
    let text = posted();
    json!({
        "file_id": group.file(text.as_bytes().to_vec()), "file_unique_id": "f",
        "file_size": text.len(), "file_name": "own.yaml", "mime_type": "text/plain",
    })
}

/// The first thing that is kept otherwise than before, in short.
async fn changed(scene: &Scene, before: &[String]) -> String {
    let now = scene.all_that_is_kept().await;
    let mut differ = now.iter().filter(|it| !before.contains(it));
    let gone = before.iter().filter(|it| !now.contains(it));
    let first = differ.next().or_else(|| gone.into_iter().next());
    first.map_or(String::new(), |it| it.chars().take(300).collect())
}

/// The secrets in what came.
fn told(came: &[Sent]) -> Vec<String> {
    let all: Vec<String> = came.iter().map(|sent| format!("{sent:?}")).collect();
    all.into_iter()
        .filter(|text| SECRETS.iter().any(|secret| text.contains(secret)))
        .collect()
}

#[tokio::test]
async fn no_message_of_an_outsider_changes_anything_or_is_answered_with_a_name() {
    let scene = Scene::new().await;
    let kept = scene.all_that_is_kept().await;
    for (chat, by) in outsiders(&scene) {
        let group = GroupChat::new(&scene.world.api, chat);
        for (what, content) in scene.messages(&group, by) {
            let case = format!("{what} by {} in {chat}", by.name);
            let came = group.sends(by, content).await;
            assert_eq!(told(&came), Vec::<String>::new(), "{case}");
            assert_eq!(changed(&scene, &kept).await, "", "{case}");
        }
        let edited = group.message(by, json!({ "text": "/unbind", "edit_date": 1_900_000_001 }));
        let update = scene.world.api.update("edited_message", edited);
        assert_eq!(group.delivers(by, &update).await, [], "edited");
    }
    assert_eq!(changed(&scene, &kept).await, "");
    // The same question by somebody of the crew is answered with names.
    let group = GroupChat::new(&scene.world.api, OURS);
    let came = group.says(&scene.toni, "/who").await;
    assert_ne!(told(&came), Vec::<String>::new());
    scene.world.end().await;
}

/// In which groups nothing is theirs: the crew's for the others, the others' for the crew, and
/// that of nobody for all.
fn outsiders(scene: &Scene) -> [(i64, &Chat); 7] {
    [
        (OURS, &scene.stranger),
        (OURS, &scene.olga),
        (THEIRS, &scene.stranger),
        (THEIRS, &scene.toni),
        (NOBODYS, &scene.stranger),
        (NOBODYS, &scene.toni),
        (NOBODYS, &scene.olga),
    ]
}

#[tokio::test]
async fn no_button_pressed_by_an_outsider_does_anything() {
    let scene = Scene::new().await;
    let kept = scene.all_that_is_kept().await;
    for (chat, by) in outsiders(&scene) {
        let group = GroupChat::new(&scene.world.api, chat);
        for token in scene.tokens().into_iter().chain(scene.own_tokens()) {
            assert!(is_in_the_list(token));
            let case = format!("{token:?} by {} in {chat}", by.name);
            let press = group.pressing(by, &scene.room, &token.encode());
            let came = group.delivers(by, &press).await;
            assert_eq!(told(&came), Vec::<String>::new(), "{case}");
            let answer = group.answer_to(&press).unwrap_or_default();
            assert!(
                !SECRETS.iter().any(|secret| answer.contains(secret)),
                "{case}: {answer}"
            );
            assert_eq!(changed(&scene, &kept).await, "", "{case}");
        }
    }
    scene.world.end().await;
}

#[tokio::test]
async fn a_button_or_link_of_a_crew_leads_nobody_else_anywhere_privately() {
    let mut scene = Scene::new().await;
    let kept = scene.all_that_is_kept().await;
    let olga = scene.world.desk.group_actor(THEIRS, scene.olga.user).await;
    let olga = olga.unwrap().unwrap();
    let tokens = scene.tokens();
    let links = [
        format!("j-{}", scene.job.0.simple()),
        format!("e-{}", scene.evaporator),
        format!("t-{}", scene.mark),
    ];
    let sent = Sent {
        id: 4_000,
        text: "A button that somebody made up".to_owned(),
        ..Sent::default()
    };
    for at in [0, 1] {
        let by = [&mut scene.olga, &mut scene.stranger];
        let [other, stranger] = by;
        let by = if at == 0 { other } else { stranger };
        for token in &tokens {
            let query = json!({
                "id": format!("made-up-{}-{}", by.user, by.api.message_number()),
                "from": by.from(), "chat_instance": "p", "data": token.encode(),
                "message": bot_message(by.user, &sent),
            });
            let press = by.api.update("callback_query", query);
            let came = by.delivers(&press).await;
            assert_eq!(
                told(&came),
                Vec::<String>::new(),
                "{token:?} by {}",
                by.name
            );
            let answers = by.api.answers();
            let (_, answer) = answers.last().unwrap();
            let answer = answer.clone().unwrap_or_default();
            assert!(
                !SECRETS.iter().any(|secret| answer.contains(secret)),
                "{token:?}: {answer}"
            );
        }
        for link in &links {
            let came = by.say(&format!("/start {link}")).await;
            assert_eq!(told(&came), Vec::<String>::new(), "{link} by {}", by.name);
        }
    }
    let changed = changed(&scene, &kept).await;
    // Whoever asks for the roles of somebody looks at the people of their own crew.
    let looked = format!("StreamId {{ kind: Person, id: {}", olga.person.0);
    assert!(changed.is_empty() || changed.contains(&looked), "{changed}");
    scene.world.end().await;
}

#[tokio::test]
async fn updates_that_are_about_nobody_do_nothing() {
    let scene = Scene::new().await;
    let kept = scene.all_that_is_kept().await;
    let group = GroupChat::new(&scene.world.api, OURS);
    let by = &scene.stranger;
    let message = group.message(by, json!({ "text": "/unbind" }));
    let mut in_channel = message.clone();
    in_channel["chat"] = json!({ "id": -1_009, "type": "channel", "title": "News" });
    let mut by_channel = message.clone();
    by_channel["sender_chat"] = in_channel["chat"].clone();
    let mut by_bot = message.clone();
    by_bot["from"]["is_bot"] = json!(true);
    let member = |who: &Value, status: &str| json!({ "user": who, "status": status });
    let blocked = json!({
        "chat": { "id": by.user, "type": "private", "first_name": "Nobody" },
        "from": by.from(), "date": 1_900_000_000,
        "old_chat_member": member(&by.from(), "member"),
        "new_chat_member": member(&by.from(), "left"),
    });
    for (kind, content) in [
        ("channel_post", in_channel.clone()),
        ("message", in_channel),
        ("message", by_channel),
        ("message", by_bot),
        ("my_chat_member", blocked),
        ("poll", json!({ "id": "1" })),
        ("something_new", json!({ "of": "tomorrow" })),
    ] {
        let update = scene.world.api.update(kind, content);
        assert_eq!(group.delivers(by, &update).await, [], "{kind}");
    }
    assert_eq!(changed(&scene, &kept).await, "");
    scene.world.end().await;
}
