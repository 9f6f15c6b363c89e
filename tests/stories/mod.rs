//! Whole jobs as stories: who is there, what they find, what goes wrong on the way.
//!
//! A story says only what is particular about it; everything else is answered as
//! `tests/stories/common.yaml` says, the way a careful person would. The conversation that comes
//! out is kept as readable text under `tests/dialogues` and compared exactly;
//! `UPDATE_GOLDEN=1` writes it anew.
//!
//! Every story is told four times: at the desk itself, in terminals, on pages and in chats. A
//! channel decides nothing, so all four leave the same record.

mod first_page;
mod golden;
mod script;
mod stage;
mod told;
mod way;

use fanwright::walk::State;
use script::{Event, Script};
use serde_json::{Value, json};
use stage::Stage;
use way::Way;

pub(crate) use way::chats::on as screen_of;

/// More moves than this mean that a story goes round in circles.
const MOVES_MAX: usize = 700;

async fn play<W: Way>(name: &str) -> Stage<W> {
    let script = Script::read(name);
    let mut stage = Stage::set(&script).await;
    for _ in 0..MOVES_MAX {
        let place = stage.place().await;
        if let Some(event) = stage.event(&script, &place) {
            stage.happens(&event).await;
            if let Event::End = event {
                return stage;
            }
            continue;
        }
        if stage.is_over().await {
            return stage;
        }
        stage.answer(&script, &place).await;
    }
    panic!(
        "{name}: no end after {MOVES_MAX} moves\n{}",
        stage.told.text()
    );
}

/// Plays a story, compares its conversation with the kept one and gives its record.
async fn told_as_kept<W: Way>(name: &str) -> Vec<Value> {
    let stage = Box::pin(play::<W>(name)).await;
    let script = Script::read(name);
    assert_eq!(
        stage.outcome().await,
        script.ends,
        "{name}\n{}",
        stage.told.tail()
    );
    stage.record_holds().await;
    println!("{name}: {} screens", stage.told.screens());
    golden::compare(&format!("tests/dialogues/{name}.txt"), stage.told.text());
    let record = stage.record().await;
    stage.close().await;
    record
}

/// Plays a story in another way and finds the same conversation and the same record.
async fn the_same<W: Way>(name: &str, record: &[Value]) {
    let other = told_as_kept::<W>(name).await;
    for (at, (kept, other)) in record.iter().zip(&other).enumerate() {
        assert_eq!(kept, other, "{name}: entry {} by {}", at + 1, W::CHANNEL);
    }
    assert_eq!(record.len(), other.len(), "{name} by {}", W::CHANNEL);
}

macro_rules! stories {
    ($($name:ident),* $(,)?) => {
        /// Every story, by the name of its file.
        const STORIES: &[&str] = &[$(stringify!($name)),*];

        $(
            #[tokio::test]
            async fn $name() {
                let name = stringify!($name);
                let record = told_as_kept::<way::desk::AtTheDesk>(name).await;
                the_same::<way::terminal::InTerminals>(name, &record).await;
                the_same::<way::pages::OnPages>(name, &record).await;
                the_same::<way::chats::InChats>(name, &record).await;
            }
        )*
    };
}

stories! {
    plug,
    cut_lead,
    capacitor,
    meant_to_be_off,
    no_voltage_upstream,
    iced_coil,
    second_live_check_fails,
    handover_in_lockout,
    stop_and_left_locked,
    sent_back,
    sent_back_hands_in,
}

/// Finds each of these in the record, one after the other, in this order.
fn come_in_order(record: &[Value], wanted: &[(&str, Value)]) {
    let mut rest = record.iter();
    for (called, holds) in wanted {
        let fits = |entry: &&Value| {
            let what = &entry["what"];
            let mut keys = holds.as_object().unwrap().iter();
            what["what"] == *called && keys.all(|(key, value)| what[key] == *value)
        };
        assert!(
            rest.any(|entry| fits(&entry)),
            "{called} {holds} is missing or too early"
        );
    }
}

#[tokio::test]
async fn a_step_with_hands_in_sent_back_leads_through_lock_and_proof_back_to_service() {
    let stage = Box::pin(play::<way::desk::AtTheDesk>("sent_back_hands_in")).await;
    let record = stage.record().await;
    let is = |entry: &Value, what: &str| entry["what"]["what"] == what;
    let sent_back = record.iter().position(|entry| is(entry, "sent_back"));
    let again = &record[sent_back.unwrap()..];
    come_in_order(
        again,
        &[
            ("entered", json!({ "flow": "make-safe", "reproof": true })),
            ("source_set", json!({ "setting": "opened" })),
            ("source_set", json!({ "setting": "locked" })),
            ("proved", json!({})),
            ("answered", json!({ "step": "strain_relief" })),
            ("entered", json!({ "flow": "put-back-in-service" })),
            ("source_set", json!({ "setting": "unlocked" })),
            ("source_set", json!({ "setting": "closed" })),
            ("entered", json!({ "flow": "prove-it" })),
            ("finished", json!({ "outcome": "replaced" })),
            ("handed_in", json!({})),
        ],
    );
    let state = State::fold(&stage.entries().await).unwrap();
    assert!(!state.has_locks(), "nothing stays locked");
    stage.close().await;
}

#[test]
fn no_dialogue_is_kept_for_a_story_that_is_gone() {
    for entry in std::fs::read_dir("tests/dialogues").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(
            STORIES.contains(&name.as_str()),
            "{} belongs to no story",
            path.display()
        );
    }
}
