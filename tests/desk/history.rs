//! What an earlier job left for the next one on the same evaporator.

use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::Actor;
use fanwright::desk::id::EvaporatorId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Outcome, Screen};
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::entry::{Entry, What};
use fanwright::record::stream::Seq;
use fanwright::store::{Memory, Store};
use fanwright::walk::input::Input;
use jiff::{SignedDuration, Timestamp};

use super::{Counted, TestClock, World, chat, desk_walking};

/// What is typed after the motor was chosen.
const TYPED: [&str; 4] = ["115 V", "2", "NQ-9", "3"];

fn world() -> World {
    let memory = Memory::new();
    let now: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
    let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
    let chance = Arc::new(Counted::default());
    let mut sources = Sources::default();
    let flow = include_str!("motor.yaml").to_owned();
    sources.files.insert("name-the-motor.yaml".to_owned(), flow);
    let store = Arc::new(memory.clone());
    let desk = desk_walking(sources, store, &clock, &chance, Default::default());
    World {
        desk,
        memory,
        clock,
        chance,
        inputs: AtomicU64::new(0),
    }
}

impl World {
    async fn begins_there(&self, by: &Actor, on: EvaporatorId, training: bool) -> Screen {
        let new = NewJob {
            evaporator: on,
            flow: FlowName::from("name-the-motor"),
            training,
        };
        let begun = self.desk.begin(self.key(), by, new).await.unwrap();
        begun.screen
    }

    /// Names a motor with a run capacitor and hands the job in.
    async fn names(&self, by: &Actor, on: EvaporatorId) -> Screen {
        let screen = self.begins_there(by, on, false).await;
        self.presses(by, &screen, "psc").await;
        for typed in TYPED {
            let input = Input::Text(typed.to_owned());
            self.does(by, screen.job, input).await;
        }
        self.does(by, screen.job, Input::HandIn).await.screen
    }

    async fn accepts(&self, by: &Actor, screen: &Screen) {
        let remark = String::new();
        let accepted = self.does(by, screen.job, Input::Accept { remark }).await;
        assert_eq!(accepted.outcome, Outcome::Advanced);
    }
}

fn notes(screen: &Screen) -> Vec<&str> {
    let notes = screen.prompt.notes.iter();
    notes.map(|note| note.text.as_str()).collect()
}

#[tokio::test]
async fn the_first_screen_says_what_happened_there_last() {
    let world = world();
    let sam = world.supervisor().await;
    let on = world.evaporator(&sam).await.id;
    let first = world.begins_there(&sam, on, false).await;
    assert_eq!(notes(&first), [""; 0], "nothing happened there before");
    let elsewhere = world.evaporator(&sam).await.id;
    world.after(SignedDuration::from_secs(1));
    world.names(&sam, on).await;
    world.after(SignedDuration::from_hours(24));
    let next = world.begins_there(&sam, on, false).await;
    assert_eq!(
        notes(&next),
        [
            "Last time here, by record: 2031-05-04, Name the motor: The motor is named. Motor: \
             With a run capacitor.",
            "Last recorded setting, of 2031-05-04: Setting set: 3.",
        ]
    );
    let second = world.presses(&sam, &next, "ec").await.screen;
    assert_eq!(notes(&second), [""; 0], "only the first screen says so");
    let other = world.begins_there(&sam, elsewhere, false).await;
    assert_eq!(notes(&other), [""; 0], "nor another evaporator's");
}

#[tokio::test]
async fn the_nameplate_is_asked_once_and_then_looked_at_again() {
    let world = world();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.evaporator(&sam).await.id;
    let handed_in = world.names(&tess, on).await;
    let next = world.begins_there(&tess, on, false).await;
    assert_eq!(next.prompt.keep, None, "nobody accepted that yet");
    world.accepts(&sam, &handed_in).await;

    world.after(SignedDuration::from_hours(24));
    let mut screen = world.begins_there(&tess, on, false).await;
    let job = screen.job;
    let mut kept = Vec::new();
    while let Some(keep) = screen.prompt.keep.clone() {
        kept.push(keep);
        screen = world.does(&tess, job, Input::Keep).await.screen;
    }
    assert_eq!(
        kept,
        [
            "I looked: still With a run capacitor",
            "I looked: still 115 V",
            "I looked: still 2",
            "I looked: still NQ-9",
        ],
        "the setting is not the nameplate"
    );
    let stored = world.memory.read(job.stream(), Seq::FIRST, 100).await;
    let entries: Vec<Entry> = stored
        .unwrap()
        .iter()
        .map(|stored| serde_json::from_slice(&stored.bytes).unwrap())
        .collect();
    let of = |wanted: fn(&What) -> bool| entries.iter().filter(|it| wanted(&it.what)).count();
    assert_eq!(of(|what| matches!(what, What::KnownBefore { .. })), 1);
    assert_eq!(of(|what| matches!(what, What::StillSo { .. })), 4);
    assert_eq!(of(|what| matches!(what, What::Answered { .. })), 4);
    let list = world.desk.checklist(&sam, job).await.unwrap();
    let text = serde_json::to_string(&list).unwrap();
    let said = "Looked again: still as recorded at 2031-05-04 08:00:00 UTC";
    assert_eq!(text.matches(said).count(), 4, "{text}");
    let state = fanwright::walk::State::fold(&entries).unwrap();
    assert_eq!(state.revision, screen.prompt.revision);
    assert_eq!(state.before.len(), 4, "the record says it all");
}

#[tokio::test]
async fn what_is_typed_instead_counts_and_is_what_the_next_job_is_offered() {
    let world = world();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.evaporator(&sam).await.id;
    let first = world.names(&tess, on).await;
    world.accepts(&sam, &first).await;
    let training = world.begins_there(&tess, on, true).await;
    assert_eq!(training.prompt.keep, None, "practice is practice");

    world.after(SignedDuration::from_hours(1));
    let screen = world.begins_there(&tess, on, false).await;
    let job = screen.job;
    let screen = world.presses(&tess, &screen, "ec").await.screen;
    assert!(
        notes(&screen).contains(&"As recorded on 2031-05-04: 115 V. Look again."),
        "{:?}",
        notes(&screen)
    );
    for typed in ["230 V", "2", "NQ-12", "4"] {
        let input = Input::Text(typed.to_owned());
        world.does(&tess, job, input).await;
    }
    let handed_in = world.does(&tess, job, Input::HandIn).await.screen;
    world.accepts(&sam, &handed_in).await;
    let third = world.begins_there(&tess, on, false).await;
    let keep = third.prompt.keep.as_deref();
    assert_eq!(keep, Some("I looked: still Electronic"));
    let kept = world.does(&tess, third.job, Input::Keep).await.screen;
    let keep = kept.prompt.keep.as_deref();
    assert_eq!(keep, Some("I looked: still 230 V"));
}

#[tokio::test]
async fn a_job_that_cannot_be_read_keeps_nobody_from_working_on_its_evaporator() {
    let world = world();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.evaporator(&sam).await.id;
    let first = world.names(&tess, on).await;
    world.accepts(&sam, &first).await;
    world.damage(first.job).await;
    let next = world.begins_there(&tess, on, false).await;
    assert!(!next.prompt.notes.is_empty(), "what the lists know is told");
}
