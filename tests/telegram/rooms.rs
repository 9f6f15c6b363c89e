//! A job that is run in a group: several people, one message, and updates in any order.

use std::collections::BTreeMap;

use fanwright::desk::ChannelAddress;
use fanwright::desk::id::JobId;
use fanwright::flow::model::Role;
use serde_json::{Value, json};

use super::{World, labels, png};
use crate::support::bot_api::{Fault, Sent, bot_message};
use crate::support::chat::Chat;
use crate::support::dice::Dice;
use crate::support::group_chat::GroupChat;

const GROUP: i64 = -4004;

/// Its number when it has become a large group.
const LARGE: i64 = -1_000_000_004_004;

/// A crew of four in a group; Toni stands at the evaporator.
struct Crew {
    world: World,
    group: GroupChat,
    sam: Chat,
    toni: Chat,
    tess: Chat,
    ann: Chat,
}

impl Crew {
    async fn at_work() -> Crew {
        let world = World::new().await;
        let sam = world.supervisor().await;
        let mut toni = world.joined(2002, "Toni", Role::Technician).await;
        let tess = world.joined(2003, "Tess", Role::Technician).await;
        let ann = world.joined(2004, "Ann", Role::Apprentice).await;
        toni.say("/new").await;
        toni.reply("Corner Market, EV-3, meat cooler left").await;
        let group = world.group_of(&sam, GROUP).await;
        Crew {
            world,
            group,
            sam,
            toni,
            tess,
            ann,
        }
    }

    /// The same with the job opened here.
    async fn opened() -> Crew {
        let crew = Crew::at_work().await;
        crew.group.says(&crew.toni, "/here").await;
        crew.until("Stand where you can see the fan.").await;
        crew
    }

    /// The message that shows how the job stands.
    fn status(&self) -> Sent {
        status(&self.world.api.sent(GROUP))
    }

    /// Waits until it shows this, and gives it.
    async fn until(&self, text: &str) -> Sent {
        let what = format!("the room shows “{text}”");
        let api = &self.world.api;
        api.until(&what, |api| status(&api.sent(GROUP)).text.contains(text))
            .await;
        self.status()
    }

    /// Waits until the desk knows the message: after a crash before that it is posted once more.
    async fn knows(&self, message: i32) {
        let desk = &self.world.desk;
        let [job] = desk.jobs_in_rooms().await.unwrap()[..] else {
            panic!("one job is run here")
        };
        while desk.room_screen(job).await.unwrap().unwrap().room.message != Some(message) {
            tokio::task::yield_now().await;
        }
    }

    /// The update of a press on the message as it is.
    fn pressing(&self, by: &Chat, label: &str) -> Value {
        let status = self.status();
        let button = status.buttons.iter().find(|(text, _)| text == label);
        let Some((_, data)) = button else {
            panic!("no “{label}” on {status:#?}");
        };
        self.group.pressing(by, &status, data)
    }

    /// Presses a button of the message; gives the small answer.
    async fn presses(&self, by: &Chat, label: &str) -> Option<String> {
        let update = self.pressing(by, label);
        self.group.delivers(by, &update).await;
        self.group.answer_to(&update)
    }

    /// The update of a reply to the message as it is.
    fn replying(&self, by: &Chat, content: Value) -> Value {
        let mut content = content;
        content["reply_to_message"] = bot_message(GROUP, &self.status());
        self.world
            .api
            .update("message", self.group.message(by, content))
    }

    /// Replies to the message; gives what came.
    async fn types(&self, by: &Chat, text: &str) -> Vec<Sent> {
        let update = self.replying(by, json!({ "text": text }));
        self.group.delivers(by, &update).await
    }

    async fn job(&self) -> JobId {
        let address = ChannelAddress::Telegram {
            chat: 2002,
            user: 2002,
        };
        let actor = self.world.desk.who_is(&address).await.unwrap().unwrap();
        let job = self.world.desk.job_at_hand(&actor).await.unwrap();
        job.unwrap()
    }

    /// What was asked and answered, and by whom, by the job's own record.
    async fn record(&self) -> BTreeMap<String, (String, String)> {
        let address = ChannelAddress::Telegram {
            chat: 1001,
            user: 1001,
        };
        let actor = self.world.desk.who_is(&address).await.unwrap().unwrap();
        let list = self.world.desk.checklist(&actor, self.job().await).await;
        let list = list.unwrap();
        let lines = list.sections.iter().flat_map(|section| &section.lines);
        let asked = lines.filter_map(|line| {
            let asked = line.asked.clone()?;
            Some((asked, (line.said.clone(), line.who.clone())))
        });
        asked.collect()
    }
}

fn status(all: &[Sent]) -> Sent {
    let shows = |sent: &&Sent| sent.text.contains("Screen ") || sent.text.contains("open to the");
    all.iter().rfind(shows).cloned().unwrap_or_default()
}

#[tokio::test]
async fn a_job_is_walked_in_the_group_and_one_message_shows_how_it_stands() {
    let crew = Crew::opened().await;
    let first = crew.status();
    assert!(first.text.contains("Corner Market · EV-3"), "{first:?}");
    assert!(first.text.contains("At the evaporator: Toni"));
    assert!(
        first
            .text
            .contains("Hands-on: only the person at the evaporator")
    );
    assert!(labels(&first).contains(&"Stop work"));
    assert!(!labels(&first).contains(&"Hand the job over"));

    // The warning is for who is there.
    let told = crew.presses(&crew.tess, "Go on").await.unwrap();
    assert!(
        told.starts_with("This step is hands-on. Only Toni,"),
        "{told}"
    );
    assert_eq!(crew.presses(&crew.toni, "Go on").await, None);
    let look = crew.until("Does the fan turn?").await;
    assert!(look.text.contains("anybody of it may answer this step"));
    assert_eq!(crew.presses(&crew.tess, "It turns").await, None);
    crew.until("What do you wear?").await;
    crew.presses(&crew.ann, "☐ Gloves").await;
    let ticked = crew.status();
    assert!(labels(&ticked).contains(&"☑ Gloves"), "{ticked:?}");
    crew.presses(&crew.sam, "That is all").await;
    let read = crew.until("What does the nameplate say?").await;
    assert!(read.text.contains("Answer as a reply to this message."));

    let told = crew.types(&crew.tess, "208 V").await;
    assert!(
        told[0]
            .text
            .starts_with("This step is hands-on. Only Toni,")
    );
    assert!(crew.types(&crew.toni, "208 V").await.is_empty());
    crew.until("Send a photo of the nameplate.").await;
    let photo = crew.replying(&crew.tess, crew.tess.photo_content(png()));
    let told = crew.group.delivers(&crew.tess, &photo).await;
    assert!(told[0].text.starts_with("Hands-on:"), "{told:?}");
    let photo = crew.replying(&crew.toni, crew.toni.photo_content(png()));
    crew.group.delivers(&crew.toni, &photo).await;
    crew.until("What did you see?").await;
    crew.types(&crew.ann, "Nothing odd").await;
    let over = crew.until("The fan turns. Nothing is to be done.").await;
    assert!(labels(&over).contains(&"Hand the job in"), "{over:?}");

    assert_eq!(over.id, first.id, "it was changed in place");
    let all = crew.world.api.sent(GROUP);
    let pictures: Vec<&Sent> = all.iter().filter(|sent| sent.picture.is_some()).collect();
    assert_eq!(
        pictures.len(),
        1,
        "one message for the picture of the one step that has one"
    );
    let record = crew.record().await;
    let who = |asked: &str| record[asked].1.clone();
    assert_eq!(who("Does the fan turn?"), "Tess");
    assert_eq!(who("What do you wear?"), "Sam");
    assert_eq!(who("What does the nameplate say?"), "Toni");
    assert_eq!(who("What did you see?"), "Ann");
    crew.world.end().await;
}

#[tokio::test]
async fn the_first_answer_counts_and_the_second_is_told_who_gave_which() {
    let crew = Crew::opened().await;
    crew.presses(&crew.toni, "Go on").await;
    crew.until("Does the fan turn?").await;
    let first = crew.pressing(&crew.tess, "It turns");
    let second = crew.pressing(&crew.ann, "It stands still");
    crew.group.delivers(&crew.tess, &first).await;
    crew.group.delivers(&crew.ann, &second).await;
    let told = crew.group.answer_to(&second).unwrap();
    assert!(told.starts_with("Tess was faster: “It turns”."), "{told}");
    crew.until("What do you wear?").await;
    crew.presses(&crew.ann, "That is all").await;
    crew.until("What does the nameplate say?").await;
    crew.types(&crew.toni, "208 V").await;
    crew.until("Send a photo of the nameplate.").await;
    let photo = crew.replying(&crew.toni, crew.toni.photo_content(png()));
    crew.group.delivers(&crew.toni, &photo).await;
    crew.until("What did you see?").await;
    let first = crew.replying(&crew.ann, json!({ "text": "A loose screw" }));
    let second = crew.replying(&crew.sam, json!({ "text": "Nothing" }));
    crew.group.delivers(&crew.ann, &first).await;
    let told = crew.group.delivers(&crew.sam, &second).await;
    assert!(told[0].text.starts_with("Ann was faster"), "{told:?}");
    assert_eq!(crew.record().await["What did you see?"].0, "A loose screw");
    crew.world.end().await;
}

#[tokio::test]
async fn nobody_outside_the_crew_changes_anything_or_learns_a_name() {
    let crew = Crew::at_work().await;
    let olga = crew.world.of_another_crew().await;
    let mallory = crew.world.chat(9009, "Mallory");
    for stranger in [&olga, &mallory] {
        let told = crew.group.says(stranger, "/here").await;
        assert!(
            told[0]
                .text
                .starts_with("Only people of the crew whose group")
        );
    }
    crew.group.says(&crew.toni, "/here").await;
    let before = crew.until("Stand where you can see the fan.").await;
    for stranger in [&olga, &mallory] {
        for label in labels(&before) {
            let told = crew.presses(stranger, label).await.unwrap();
            assert!(
                told.starts_with("Only people of the crew whose group"),
                "{told}"
            );
        }
        let told = crew.types(stranger, "208 V").await;
        assert!(
            told[0]
                .text
                .starts_with("Only people of the crew whose group"),
            "{told:?}"
        );
    }
    crew.presses(&crew.toni, "Go on").await;
    let after = crew.until("Does the fan turn?").await;
    assert_eq!(after.id, before.id);
    let all = crew.world.api.sent(GROUP);
    let names = |sent: &&Sent| {
        ["Toni", "Tess", "Sam", "Ann"]
            .iter()
            .any(|n| sent.text.contains(n))
    };
    assert_eq!(
        all.iter().filter(names).count(),
        1,
        "only the message itself names Toni"
    );
    crew.world.end().await;
}

#[tokio::test]
async fn a_room_survives_a_restart_and_a_deleted_message_is_made_anew() {
    let opened = Crew::opened().await;
    let first = opened.status();
    opened.knows(first.id).await;
    let world = opened.world.crash().await;
    let crew = Crew { world, ..opened };
    crew.presses(&crew.toni, "Go on").await;
    let look = crew.until("Does the fan turn?").await;
    assert_eq!(look.id, first.id, "the same message goes on");
    crew.world.api.delete(GROUP, look.id);
    let update = crew
        .group
        .pressing(&crew.tess, &look, &data(&look, "It turns"));
    crew.group.delivers(&crew.tess, &update).await;
    let anew = crew.until("What do you wear?").await;
    assert!(anew.id > look.id);
    crew.presses(&crew.ann, "That is all").await;
    let read = crew.until("What does the nameplate say?").await;
    assert_eq!(read.id, anew.id);
    // Asked for again, it stands below everything, and the one above has no buttons.
    crew.group.says(&crew.ann, "/here").await;
    let api = &crew.world.api;
    api.until("it stands below", |api| {
        status(&api.sent(GROUP)).id > read.id
    })
    .await;
    api.until("the one above is done with", |api| {
        let all = api.sent(GROUP);
        let above = all.iter().find(|sent| sent.id == read.id).unwrap();
        above.buttons.is_empty()
    })
    .await;
    crew.world.end().await;
}

fn data(sent: &Sent, label: &str) -> String {
    let found = sent.buttons.iter().find(|(text, _)| text == label);
    found.unwrap().1.clone()
}

#[tokio::test]
async fn a_supervisor_opens_the_job_of_somebody_else_and_closes_it() {
    let crew = Crew::at_work().await;
    let told = crew.group.says(&crew.tess, "/here").await;
    assert!(
        told[0].text.starts_with("You have no job at hand"),
        "{told:?}"
    );
    let asked = crew.group.says(&crew.sam, "/here").await;
    let label = labels(&asked[0])[0].to_owned();
    assert!(
        label.contains("Corner Market") && label.contains("Toni"),
        "{label}"
    );
    crew.group.presses(&crew.sam, &label).await;
    crew.until("Stand where you can see the fan.").await;
    crew.presses(&crew.toni, "Go on").await;
    crew.until("Does the fan turn?").await;
    crew.presses(&crew.tess, "More").await;
    let told = crew
        .presses(&crew.tess, "Let the crew answer no more")
        .await
        .unwrap();
    assert!(told.contains("Toni's hands"), "{told}");
    crew.presses(&crew.sam, "Let the crew answer no more").await;
    let closed = crew.until("not open to the crew here any more").await;
    assert!(closed.buttons.is_empty());
    let stale = crew
        .group
        .pressing(&crew.tess, &closed, &first_button(&asked[0]));
    crew.group.delivers(&crew.tess, &stale).await;
    let told = crew.group.answer_to(&stale).unwrap();
    assert!(told.contains("hands"), "{told}");
    crew.world.end().await;
}

#[tokio::test]
async fn a_room_goes_on_where_its_topic_is_gone_and_where_its_group_has_another_number() {
    let crew = Crew::at_work().await;
    let topic = crew.group.in_topic(Some(55));
    let api = &crew.world.api;
    let gone = "Bad Request: message thread not found";
    api.fail_next("sendMessage", Fault::Refused(gone));
    // The mark's answer would meet the fault, so that nothing waits for one here.
    let here = topic.message(&crew.toni, json!({ "text": "/here" }));
    api.deliver(&api.update("message", here));
    let shown = crew.until("Stand where you can see the fan.").await;
    assert_eq!(shown.topic, None);

    api.fail_next("sendMessage", Fault::Moved(LARGE));
    let asked = crew.group.message(&crew.sam, json!({ "text": "/help" }));
    api.deliver(&api.update("message", asked));
    api.until("the answer follows the group", |api| {
        let all = api.sent(LARGE);
        all.iter()
            .any(|sent| sent.text.contains("the group of your crew"))
    })
    .await;
    let moved = json!({ "migrate_to_chat_id": LARGE });
    let moved = crew.group.message(&crew.sam, moved);
    api.deliver(&api.update("message", moved));
    api.until("the room is in the new group", |api| {
        status(&api.sent(LARGE))
            .text
            .contains("At the evaporator: Toni")
    })
    .await;
    crew.world.end().await;
}

fn first_button(sent: &Sent) -> String {
    sent.buttons[0].1.clone()
}

fn shuffle<T>(all: &mut [T], dice: &mut Dice) {
    for at in (1..all.len()).rev() {
        all.swap(at, dice.roll(at + 1));
    }
}

/// Everybody answers every screen at once; their updates come shuffled, some twice, some late.
/// Gives what was answered in the end.
async fn in_some_order(seed: u64) -> BTreeMap<String, String> {
    let crew = Crew::opened().await;
    let mut dice = Dice::new(seed);
    let mut late: Vec<Value> = Vec::new();
    for (asked, answer, next) in [
        ("Stand where you can see", "=Go on", "Does the fan turn?"),
        ("Does the fan turn?", "=It turns", "What do you wear?"),
        (
            "What do you wear?",
            "=That is all",
            "What does the nameplate",
        ),
        ("What does the nameplate", "208 V", "Send a photo"),
        ("Send a photo", "photo", "What did you see?"),
        ("What did you see?", "A hum", "The fan turns."),
    ] {
        crew.until(asked).await;
        let mut updates = Vec::new();
        for by in [&crew.toni, &crew.tess, &crew.ann, &crew.sam] {
            let update = match (answer.strip_prefix('='), answer) {
                (Some(label), _) => crew.pressing(by, label),
                (None, "photo") => crew.replying(by, by.photo_content(png())),
                (None, text) => crew.replying(by, json!({ "text": text })),
            };
            updates.push((by.name.as_str(), update));
        }
        shuffle(&mut updates, &mut dice);
        let api = &crew.world.api;
        for update in late.drain(..) {
            api.deliver_again(&update);
        }
        for (by, update) in updates {
            // Toni may answer everything, so his own is never the one that stays away.
            if by != "Toni" && dice.roll(3) == 0 {
                late.push(update);
                continue;
            }
            api.deliver_again(&update);
            if dice.roll(3) == 0 {
                api.deliver_again(&update);
            }
        }
        crew.until(next).await;
    }
    for update in late {
        crew.world.api.deliver_again(&update);
    }
    crew.group.says(&crew.sam, "/help").await;
    let record = crew.record().await;
    crew.world.end().await;
    let answers = record.into_iter();
    answers.map(|(asked, (said, _))| (asked, said)).collect()
}

#[tokio::test]
async fn in_whatever_order_updates_come_the_job_ends_the_same() {
    let first = in_some_order(1).await;
    assert_eq!(first["What did you see?"], "A hum");
    for seed in 2..6 {
        assert_eq!(in_some_order(seed).await, first, "seed {seed}");
    }
}
