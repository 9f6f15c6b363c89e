//! A job in a freezer that is run in a group: check-ins, a list for the one who wants one, and
//! locks, all at once.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::clock::Clock;
use fanwright::desk::{ChannelAddress, Rules};
use fanwright::flow::model::Role;
use fanwright::store::Memory;
use jiff::{SignedDuration, Timestamp};
use serde_json::json;

use super::{World, labels, make_dead, parts_with};
use crate::desk::TestClock;
use crate::support::bot_api::{BotApi, Sent, bot_message};
use crate::support::chat::Chat;
use crate::support::group_chat::GroupChat;

const GROUP: i64 = -4_004;

const JOB: &str = "\
flow: cold-and-locked
title: Cold and locked
language: en
check_ins: 'box == \"freezer\"'
outcomes: { done: Done }
energy:
  fan: { kind: electrical, label: Fan circuit, proved_by: make-dead }
facts:
  box: { one_of: { freezer: A freezer, cooler: A cooler }, label: The box }
start: which
steps:
  which: { hands_off: true, choose: box, say: Which box is it?, then: door }
  door: { hands_off: true, tell: Seen, say: Look at the door., then: floor }
  floor: { hands_off: true, confirm: Swept, say: Sweep the floor., then: work }
  work: { touches: [fan], confirm: The blade is off, say: Take the blade off., then: unlock }
  unlock:
    hands_off: true
    sets: { fan: unlocked }
    confirm: My lock is off
    say: Take your lock off.
    then: switch_in
  switch_in:
    hands_off: true
    sets: { fan: closed }
    confirm: It is on
    say: Switch it on.
    then: end
  end: { finish: done, say: All is done. }
";

struct Story {
    world: World,
    clock: Arc<TestClock>,
    group: GroupChat,
    toni: Chat,
    tess: Chat,
    ann: Chat,
}

impl Story {
    async fn begins() -> Story {
        let memory = Memory::new();
        let flows = vec![
            ("cold-and-locked.yaml", JOB.to_owned()),
            ("make-dead.yaml", make_dead()),
        ];
        let mut parts = parts_with(&memory, Rules::default(), flows);
        let clock = Arc::new(TestClock(Mutex::new((Timestamp::now(), Duration::ZERO))));
        let told_by: Arc<dyn Clock> = clock.clone();
        parts.clock = told_by;
        let world = World::of(BotApi::start().await, memory, parts).await;
        let sam = world.supervisor().await;
        let mut toni = world.joined(2002, "Toni", Role::Technician).await;
        let tess = world.joined(2003, "Tess", Role::Technician).await;
        let ann = world.joined(2004, "Ann", Role::Apprentice).await;
        let group = world.group_of(&sam, GROUP).await;
        toni.say("/way do").await;
        toni.say("/new").await;
        toni.reply("Corner Market, EV-3, freezer back wall").await;
        group.says(&toni, "/here").await;
        Story {
            world,
            clock,
            group,
            toni,
            tess,
            ann,
        }
    }

    fn status(&self) -> Sent {
        status(&self.world.api)
    }

    /// Waits until the message of the room shows this.
    async fn shows(&self, text: &str) -> Sent {
        let what = format!("the room shows “{text}”");
        let shows = |api: &BotApi| status(api).text.contains(text);
        self.world.api.until(&what, shows).await;
        self.status()
    }

    /// Presses a button of the room; gives the small answer.
    async fn presses(&self, by: &Chat, label: &str) -> Option<String> {
        let status = self.status();
        let button = status.buttons.iter().find(|(text, _)| text == label);
        let Some((_, data)) = button else {
            panic!("no “{label}” on {status:#?}");
        };
        let press = self.group.pressing(by, &status, data);
        self.group.delivers(by, &press).await;
        self.group.answer_to(&press)
    }

    /// Replies to the room.
    async fn types(&self, by: &Chat, text: &str) -> Vec<Sent> {
        let to = bot_message(GROUP, &self.status());
        let content = json!({ "text": text, "reply_to_message": to });
        self.group.sends(by, content).await
    }

    async fn later(&self, minutes: i64) {
        {
            let mut both = self.clock.0.lock().unwrap();
            both.0 += SignedDuration::from_mins(minutes);
            both.1 += Duration::from_secs(60 * minutes.unsigned_abs());
        }
        self.world.desk.end_waits().await.unwrap();
    }

    async fn hears(&self, who: i64, words: &'static str) {
        let hears = |api: &BotApi| api.sent(who).iter().any(|sent| sent.text.contains(words));
        self.world.api.until(words, hears).await;
    }

    /// Who asked and answered what, by the job's record.
    async fn answered(&self, asked: &str) -> String {
        let address = ChannelAddress::Telegram {
            chat: 1001,
            user: 1001,
        };
        let sam = self.world.desk.who_is(&address).await.unwrap().unwrap();
        let all = Default::default();
        let jobs = self.world.desk.all_jobs(&sam, &all, (None, 10)).await;
        let job = jobs.unwrap().items[0].job;
        let list = self.world.desk.checklist(&sam, job).await.unwrap();
        let mut lines = list.sections.iter().flat_map(|section| &section.lines);
        let line = lines.find(|line| line.asked.as_deref() == Some(asked));
        line.unwrap_or_else(|| panic!("nobody answered “{asked}”"))
            .who
            .clone()
    }
}

fn status(api: &BotApi) -> Sent {
    let all = api.sent(GROUP);
    let shows = |sent: &&Sent| sent.text.contains("Screen ");
    all.iter().rfind(shows).cloned().unwrap_or_default()
}

/// Opens the job in a private chat.
async fn looks(chat: &mut Chat) {
    let list = chat.say("/jobs").await;
    let button = labels(&list[0]);
    let at = button.iter().find(|label| label.contains("EV-3"));
    let at = (*at.unwrap_or_else(|| panic!("{list:?}"))).to_owned();
    chat.press(&at).await;
}

#[tokio::test]
async fn check_ins_a_list_and_locks_go_together_in_a_group() {
    let mut story = Story::begins().await;
    // Anybody says which box it is; how often to ask is for the one inside.
    story.shows("Which box is it?").await;
    story.presses(&story.tess, "A freezer").await;
    story.shows("How often am I to ask").await;
    let told = story.presses(&story.tess, "Every 10 minutes").await;
    assert!(told.unwrap().contains("Toni"), "it is Toni who is inside");
    story.presses(&story.toni, "Every 10 minutes").await;

    // The group reads one step at a time; Toni wanted the list, and answers it in his own chat.
    let room = story.shows("Look at the door.").await;
    assert!(!room.text.contains("Sweep the floor."), "{room:?}");
    assert!(room.text.contains("Check-ins every 10 min."), "{room:?}");
    let own = story.toni.say("/job").await;
    assert!(
        own[0]
            .text
            .contains("1. Look at the door.\n2. Sweep the floor.")
    );
    story.toni.press("1 to 2 are done").await;
    story.shows("Open it.").await;

    // Locks are for the hands that are there.
    let told = story.presses(&story.tess, "It is open").await.unwrap();
    assert!(
        told.starts_with("This step is hands-on. Only Toni,"),
        "{told}"
    );
    assert_eq!(story.presses(&story.toni, "It is open").await, None);
    story.shows("Lock it.").await;
    story.presses(&story.toni, "My lock hangs").await;
    let room = story.shows("Test it.").await;
    looks(&mut story.ann).await;
    story.ann.press("My lock is on too").await;
    assert!(!room.text.contains("You are"), "it speaks to all: {room:?}");

    story.nothing_is_heard().await;

    // The proof, by replies; only Toni's count.
    let told = story.types(&story.tess, "meter 4").await;
    assert!(
        told[0].text.starts_with("This step is hands-on."),
        "{told:?}"
    );
    story.proves().await;
    story.shows("Take the blade off.").await;
    story.presses(&story.toni, "The blade is off").await;
    let room = story.shows("Take your lock off.").await;
    assert!(!room.text.contains("You are"), "it speaks to all: {room:?}");
    let told = story.presses(&story.toni, "My lock is off").await.unwrap();
    assert!(told.contains("1 other lock still hangs"), "{told}");
    looks(&mut story.ann).await;
    story.ann.press("Take my lock off").await;
    story.shows("Take your lock off.").await;
    assert_eq!(story.off_and_on().await, None);
    story.shows("All is done.").await;
    assert_eq!(story.answered("Which box is it?").await, "Tess");
    for asked in [
        "Look at the door.",
        "Sweep the floor.",
        "Take the blade off.",
    ] {
        assert_eq!(story.answered(asked).await, "Toni");
    }
    story.world.end().await;
}

impl Story {
    /// Nothing is heard of Toni: first he is asked, then the group reads that it is serious.
    async fn nothing_is_heard(&self) {
        self.later(10).await;
        self.hears(2002, "Are you all right at Corner Market").await;
        let room = self.shows("The person inside is being asked.").await;
        assert!(!room.text.contains("Are you all right"), "{room:?}");
        self.later(3).await;
        self.hears(2002, "ANSWER NOW").await;
        self.later(3).await;
        let room = self.shows("No sign of life since").await;
        assert_eq!(labels(&room)[0], "I reached them: all right");
        self.hears(1001, "No sign of life from Toni").await;
        assert_eq!(
            self.presses(&self.tess, "I reached them: all right").await,
            None
        );
        let room = self.shows("Check-ins every 10 min.").await;
        assert!(!room.text.contains("No sign of life"), "{room:?}");
    }

    async fn proves(&self) {
        for answer in [
            "meter 4",
            "=CAT III 600 V",
            "=Whole and clean",
            "the light circuit",
            "121 V",
            "0.2 V",
            "121 V",
        ] {
            let before = self.status().text;
            match answer.strip_prefix('=') {
                Some(label) => drop(self.presses(&self.toni, label).await),
                None => drop(self.types(&self.toni, answer).await),
            }
            let moved = |api: &BotApi| status(api).text != before;
            self.world.api.until("the room goes on", moved).await;
        }
    }

    /// Toni's lock comes off and the fan goes on; gives the last small answer.
    async fn off_and_on(&self) -> Option<String> {
        self.presses(&self.toni, "My lock is off").await;
        self.shows("Switch it on.").await;
        self.presses(&self.toni, "It is on").await
    }
}
