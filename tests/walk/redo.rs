//! Steps that were sent back, done again in their own place under the same rules.

use fanwright::flow::model::Act;
use fanwright::record::entry::{ENTRY_FORMAT, Entry, PhotoRef, StepRef, VoidReason, What};
use fanwright::walk::State;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask, Prompt};
use fanwright::walk::state::{Mode, Review};
use proptest::prelude::*;

use super::bench::{Bench, Person, crew};
use super::lockout;
use super::random::{self, Dice};
use super::rules;

/// More answers than this and a careful person goes round in circles.
const ANSWERS_MAX: usize = 200;

fn everybody() -> [Person; 4] {
    crew()
}

fn at(flow: &str, step: &str) -> StepRef {
    StepRef {
        flow: flow.into(),
        instance: 1,
        step: step.into(),
    }
}

fn here(bench: &Bench) -> String {
    let call = bench.state.top().unwrap();
    format!("{}/{}", call.flow, call.step)
}

/// What a careful person answers here; other texts than the first time where `again`.
fn sensible(bench: &Bench, prompt: &Prompt, again: bool) -> Input {
    let revision = prompt.revision;
    match &prompt.ask {
        Ask::Press(buttons) => {
            let last = buttons.last().unwrap();
            let first = buttons.first().unwrap();
            let proving = matches!(act(bench), Some(Act::ProveDead(_)));
            let button = if proving || bench.state.ask_state {
                last
            } else {
                first
            };
            Input::Press {
                revision,
                key: button.key.clone(),
            }
        }
        Ask::Tick { options, .. } => Input::Tick {
            revision,
            keys: options.iter().map(|option| option.key.clone()).collect(),
        },
        Ask::Reading { example, .. } if example.is_empty() => {
            let known = prompt.say.contains("known source");
            Input::Text(if known { "121 V" } else { "0.1 V" }.to_owned())
        }
        Ask::Reading { .. } => Input::Text("208 V".to_owned()),
        Ask::Words { .. } => Input::Text(if again { "better" } else { "fine" }.to_owned()),
        Ask::Photo { .. } => Input::Photo(PhotoRef {
            stored: "00".to_owned(),
            original: "00".to_owned(),
            taken: None,
            looks: None,
        }),
        Ask::Wait { until } => Input::WaitOver { until: *until },
        Ask::WaitFor { .. } | Ask::Nothing => panic!("nothing to answer: {prompt:?}"),
    }
}

fn act(bench: &Bench) -> Option<Act> {
    let call = bench.state.top()?;
    Some(bench.edition.step(&call.flow, &call.step)?.act.clone())
}

/// One answer of whoever may give it.
fn answer(bench: &mut Bench, again: bool) {
    bench.pass(20);
    if let Some(until) = bench.state.next_deadline() {
        bench.now = bench.now.max(until);
    }
    let people = everybody();
    let holder = people
        .iter()
        .find(|one| one.id == bench.state.holder)
        .unwrap();
    let mut asked = vec![holder];
    asked.extend(people.iter().filter(|one| one.id != holder.id));
    let may = |one: &&&Person| {
        let ask = bench.prompt(one).ask;
        !matches!(ask, Ask::WaitFor { .. } | Ask::Nothing)
    };
    let person = (*asked.iter().find(may).unwrap()).clone();
    let prompt = bench.prompt(&person);
    rules::assert_all(&prompt, &bench.state);
    random::assert_protected(&bench.edition, &bench.state, holder);
    let input = sensible(bench, &prompt, again);
    bench
        .give(&person, &input)
        .unwrap_or_else(|refusal| panic!("{}: {input:?}: {refusal}", here(bench)));
}

/// Walks to the end and says which steps were shown.
fn to_the_end(bench: &mut Bench, again: bool) -> Vec<String> {
    let mut shown = Vec::new();
    for _ in 0..ANSWERS_MAX {
        if !bench.state.is_open() {
            return shown;
        }
        if shown.last() != Some(&here(bench)) {
            shown.push(here(bench));
        }
        answer(bench, again);
    }
    panic!("no end: {shown:#?}");
}

/// The small job, walked to its end, handed in and sent back with these steps.
fn sent_back(steps: &[StepRef]) -> Bench {
    let [_, tom, _, sue] = everybody();
    let mut bench = Bench::begin_with(lockout::edition(), &tom);
    to_the_end(&mut bench, false);
    bench.give(&tom, &Input::HandIn).unwrap();
    let input = Input::SendBack {
        remark: "Say which lead.".to_owned(),
        steps: steps.to_vec(),
    };
    bench.give(&sue, &input).unwrap();
    bench
}

fn take_up(bench: &mut Bench) {
    let [_, tom, ..] = everybody();
    bench.pass(7_200);
    bench.give(&tom, &Input::Resume).unwrap();
}

fn notes(bench: &Bench) -> Vec<String> {
    let [_, tom, ..] = everybody();
    let notes = bench.prompt(&tom).notes;
    notes.into_iter().map(|note| note.text).collect()
}

#[test]
fn a_text_sent_back_is_written_again_and_the_rest_stands() {
    let mut bench = sent_back(&[at("small", "write_remark")]);
    let before = bench.state.clone();
    let told = notes(&bench);
    assert!(
        told.contains(&"Sent back: Say which lead.".to_owned()),
        "{told:?}"
    );
    assert!(
        told.contains(&"To be done again: A small job: remark.".to_owned()),
        "{told:?}"
    );
    take_up(&mut bench);
    assert_eq!(here(&bench), "small/write_remark");
    assert_eq!(
        notes(&bench)[..2],
        [
            "Sent back: Say which lead.",
            "This is the one step sent back."
        ]
    );
    answer(&mut bench, true);
    assert_eq!(bench.state.mode, before.mode);
    assert_eq!(
        bench.state.walked(),
        before.walked(),
        "everything else stands"
    );
    let amended = bench.entries.iter().any(|entry| {
        matches!(&entry.what, What::Answered { step, amends: true, .. }
            if step.as_str() == "write_remark")
    });
    assert!(amended, "another text is an amendment");
    let [_, tom, ..] = everybody();
    bench.give(&tom, &Input::HandIn).unwrap();
    assert_eq!(bench.state.review, Review::HandedIn);
}

#[test]
fn two_steps_come_one_after_the_other_in_the_order_of_the_walk() {
    let mut bench = sent_back(&[at("small", "qualified"), at("small", "measure_supply")]);
    take_up(&mut bench);
    assert_eq!(here(&bench), "small/measure_supply");
    assert_eq!(notes(&bench)[1], "This is step 1 of the 2 sent back.");
    answer(&mut bench, true);
    assert_eq!(here(&bench), "small/qualified");
    assert_eq!(notes(&bench)[1], "This is step 2 of the 2 sent back.");
    answer(&mut bench, true);
    assert!(matches!(bench.state.mode, Mode::Finished { .. }));
    let voided = bench.entries.iter().filter(|entry| {
        matches!(
            entry.what,
            What::ProofVoided {
                why: VoidReason::LongPause,
                ..
            }
        )
    });
    assert_eq!(
        voided.count(),
        0,
        "switched in again, no proof was left to void"
    );
}

#[test]
fn a_touching_step_is_done_behind_a_new_proof_and_the_fan_goes_back_in_service() {
    let mut bench = sent_back(&[at("small", "loosen")]);
    take_up(&mut bench);
    assert_eq!(here(&bench), "small-proof/open_it");
    assert_eq!(
        notes(&bench)[1],
        "The proof comes first, then the one step sent back."
    );
    let shown = to_the_end(&mut bench, true);
    assert_eq!(
        shown,
        [
            "small-proof/open_it",
            "small-proof/lock_it",
            "small-proof/wait_it",
            "small-proof/prove_it",
            "small/loosen",
            "small/electrician",
            "small/take_lock_off",
            "small/switch_in",
            "small/qualified",
        ]
    );
    assert!(!bench.state.has_locks());
}

#[test]
fn a_rung_of_the_ladder_is_never_done_by_itself() {
    // A lock on a circuit that is switched on would be no lockout: its flow begins anew.
    let mut bench = sent_back(&[at("small-proof", "lock_it")]);
    take_up(&mut bench);
    assert_eq!(here(&bench), "small-proof/open_it");
    let shown = to_the_end(&mut bench, true);
    assert!(shown.contains(&"small/qualified".to_owned()), "{shown:?}");
}

#[test]
fn there_is_no_way_around_what_was_sent_back() {
    let [_, tom, _, sue] = everybody();
    let mut bench = sent_back(&[at("small", "write_remark")]);
    let refused = bench.give(&tom, &Input::HandIn).unwrap_err().to_string();
    assert!(
        refused.starts_with("Steps of this job were sent back."),
        "{refused}"
    );
    assert!(!bench.prompt(&tom).actions.contains(&Action::HandIn));
    take_up(&mut bench);
    let refused = bench.give(&tom, &Input::Back).unwrap_err().to_string();
    assert!(refused.starts_with("Only the steps"), "{refused}");
    assert!(!bench.prompt(&tom).actions.contains(&Action::Back));
    assert!(bench.give(&sue, &Input::Resume).is_err());
}

#[test]
fn a_job_left_with_an_owner_is_left_again_after_its_steps() {
    let [_, tom, _, sue] = everybody();
    let mut bench = Bench::begin_with(lockout::edition(), &tom);
    while here(&bench) != "small-proof/open_it" {
        answer(&mut bench, false);
    }
    for input in [
        Input::LeaveLockedOut,
        Input::Text("Sue".to_owned()),
        Input::Text("Monday".to_owned()),
        Input::HandIn,
    ] {
        bench.give(&tom, &input).unwrap();
    }
    let before = bench.state.clone();
    let input = Input::SendBack {
        remark: "Which lead?".to_owned(),
        steps: vec![at("small", "write_remark")],
    };
    bench.give(&sue, &input).unwrap();
    take_up(&mut bench);
    assert_eq!(here(&bench), "small/write_remark");
    answer(&mut bench, true);
    assert_eq!(bench.state.mode, before.mode);
    assert_eq!(bench.state.stack, before.stack);
    bench.give(&tom, &Input::HandIn).unwrap();
}

#[test]
fn only_steps_that_were_walked_are_sent_back() {
    let [_, tom, _, sue] = everybody();
    let mut bench = Bench::begin_with(lockout::edition(), &tom);
    to_the_end(&mut bench, false);
    bench.give(&tom, &Input::HandIn).unwrap();
    for step in [at("small-proof", "is_live"), at("small", "nothing")] {
        let input = Input::SendBack {
            remark: "Again.".to_owned(),
            steps: vec![step],
        };
        let refused = bench.give(&sue, &input).unwrap_err().to_string();
        assert!(
            refused.starts_with("One of these steps was not walked"),
            "{refused}"
        );
    }
}

#[test]
fn a_record_of_format_2_is_sent_back_without_steps() {
    let old = r#"{"v":2,"at":"2026-03-02T09:00:00Z","who":"00000000-0000-0000-0000-000000000004",
        "channel":"browser","what":{"what":"sent_back","remark":"Which fan?"}}"#;
    let read: Entry = serde_json::from_str(old).unwrap();
    assert_eq!(
        read.what,
        What::SentBack {
            remark: "Which fan?".to_owned(),
            steps: Vec::new()
        }
    );
    let written = serde_json::to_string(&read.what).unwrap();
    assert_eq!(written, r#"{"what":"sent_back","remark":"Which fan?"}"#);
    const { assert!(ENTRY_FORMAT >= 3) };
}

/// Random steps are sent back again and again; people do random things in between.
fn random_redo(seed: u64, rounds: usize) -> Bench {
    let mut dice = Dice::new(seed);
    let [_, tom, _, sue] = everybody();
    let mut bench = Bench::begin_with(lockout::edition(), &tom);
    to_the_end(&mut bench, false);
    for _ in 0..rounds {
        bench.give(&tom, &Input::HandIn).unwrap();
        let walked = bench.state.walked();
        let steps = walked
            .iter()
            .filter(|_| dice.roll(4) == 0)
            .cloned()
            .collect();
        let input = Input::SendBack {
            remark: "Again.".to_owned(),
            steps,
        };
        bench.give(&sue, &input).unwrap();
        bench.pass([60, 4_000][dice.roll(2)]);
        let _ = bench.give(&tom, &Input::Resume);
        for _ in 0..dice.roll(12) {
            if !bench.state.is_open() {
                break;
            }
            bench.pass([5, 60, 2_000][dice.roll(3)]);
            let prompt = bench.prompt(&tom);
            rules::assert_all(&prompt, &bench.state);
            let before = bench.state.clone();
            let first_new = bench.entries.len();
            if bench.give(&tom, &random::input(&mut dice, &prompt)).is_ok() {
                let new = &bench.entries[first_new..];
                let has = |wanted: fn(&What) -> bool| new.iter().any(|one| wanted(&one.what));
                if has(|what| matches!(what, What::Answered { .. }))
                    && !has(|what| matches!(what, What::ProofVoided { .. }))
                {
                    random::assert_protected(&bench.edition, &before, &tom);
                }
            }
        }
        calm_down(&mut bench, (&tom, &sue));
    }
    bench
}

/// Whatever was going on, careful people bring the job to its end.
fn calm_down(bench: &mut Bench, (tom, sue): (&Person, &Person)) {
    for _ in 0..ANSWERS_MAX {
        let holder = bench.state.holder;
        assert_eq!(holder, tom.id);
        if bench.state.offer.is_some() {
            bench.give(tom, &Input::KeepJob).unwrap();
        }
        let open = bench.state.is_open();
        match bench.state.mode.clone() {
            Mode::Walking => answer(bench, true),
            Mode::Paused => drop(bench.give(tom, &Input::Resume).unwrap()),
            Mode::Stopped { .. } => drop(bench.give(sue, &Input::LiftStop).unwrap()),
            Mode::Leaving { .. } => drop(bench.give(tom, &Input::KeepWorking).unwrap()),
            Mode::Left { .. } => drop(bench.give(tom, &Input::Resume).unwrap()),
            Mode::Finished { .. } => {}
        }
        if !open && bench.give(tom, &Input::HandIn).is_ok() {
            // Handed in by way of trial: it is sent back without steps for the next round.
            let input = Input::SendBack {
                remark: "Next.".to_owned(),
                steps: Vec::new(),
            };
            bench.give(sue, &input).unwrap();
            return;
        }
        if !open && matches!(bench.state.mode, Mode::Finished { .. }) {
            let _ = bench.give(tom, &Input::Resume);
        }
    }
    panic!(
        "no way to the end from {}: {:?}",
        here(bench),
        bench.prompt(tom)
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn random_sending_back_keeps_every_rule_and_always_ends(seed: u64) {
        let bench = random_redo(seed, 4);
        prop_assert_eq!(State::fold(&bench.entries).unwrap(), bench.state);
    }
}

#[test]
fn nobody_steps_back_before_the_ladder_that_is_climbed_again() {
    let [_, tom, ..] = everybody();
    let mut bench = sent_back(&[at("small-proof", "prove_it")]);
    take_up(&mut bench);
    let foot = here(&bench);
    let refused = bench.give(&tom, &Input::Back).unwrap_err().to_string();
    assert!(refused.starts_with("Only the steps that were sent back"));
    answer(&mut bench, true);
    bench.give(&tom, &Input::Back).unwrap();
    assert_eq!(here(&bench), foot);
}

#[test]
fn sending_back_that_once_left_people_stuck_goes_on() {
    for seed in [27, 276, 340, 2_237] {
        random_redo(seed, 4);
    }
}

#[test]
fn every_single_step_can_be_sent_back_and_done_again() {
    let [_, tom, ..] = everybody();
    let mut bench = Bench::begin_with(lockout::edition(), &tom);
    to_the_end(&mut bench, false);
    for step in bench.state.walked() {
        let mut bench = sent_back(std::slice::from_ref(&step));
        take_up(&mut bench);
        let shown = to_the_end(&mut bench, true);
        // A lock that does not hang any more cannot come off once more.
        if step.step.as_str() != "take_lock_off" {
            let wanted = format!("{}/{}", step.flow, step.step);
            assert!(shown.contains(&wanted), "{wanted} is not in {shown:?}");
        }
        assert!(matches!(bench.state.mode, Mode::Finished { .. }));
        assert!(!bench.state.has_locks());
        bench.give(&tom, &Input::HandIn).unwrap();
    }
}
