//! The rules of lockout and of the walk, each on a job small enough to see whole.

use fanwright::flow::edition::Edition;
use fanwright::flow::library::{Library, Sources};
use fanwright::record::entry::{ProofFailure, VoidReason, What};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::refusal::Refusal;
use fanwright::walk::state::Mode;
use fanwright::walk::{AS_RECORDED, GO};

use super::bench::{Bench, Person, crew};

pub(super) fn edition() -> Edition {
    let mut sources = Sources::default();
    for (name, text) in [
        ("small.yaml", include_str!("small.yaml")),
        ("small_proof.yaml", include_str!("small_proof.yaml")),
    ] {
        sources.files.insert(name.to_owned(), text.to_owned());
    }
    Library::load(sources)
        .unwrap()
        .edition(&"small".into())
        .unwrap()
}

pub(super) fn bench(holder: &Person) -> Bench {
    Bench::begin_with(edition(), holder)
}

pub(super) fn press(bench: &mut Bench, person: &Person, key: &str) {
    let revision = bench.state.revision;
    bench
        .give(
            person,
            &Input::Press {
                revision,
                key: key.into(),
            },
        )
        .unwrap();
}

pub(super) fn say(bench: &mut Bench, person: &Person, text: &str) {
    bench.give(person, &Input::Text(text.to_owned())).unwrap();
}

pub(super) fn step(bench: &Bench) -> String {
    bench.state.top().unwrap().step.to_string()
}

/// Answers up to the touching step, which leads into the proof.
pub(super) fn up_to_the_proof(bench: &mut Bench, person: &Person) {
    press(bench, person, "plug");
    say(bench, person, "208 V");
    say(bench, person, "fine");
    assert_eq!(
        step(bench),
        "open_it",
        "a touching step leads through the proof first"
    );
}

pub(super) fn lock(bench: &mut Bench, person: &Person) {
    press(bench, person, GO);
    say(bench, person, "lock 7");
    bench.pass(300);
    press(bench, person, GO);
}

pub(super) fn test_dead(bench: &mut Bench, person: &Person, readings: [&str; 6]) {
    say(bench, person, "meter 4");
    press(bench, person, "cat_iii_600");
    press(bench, person, "whole");
    say(bench, person, "the light circuit");
    for reading in &readings[..3] {
        say(bench, person, reading);
    }
    say(bench, person, "a battery");
    for reading in &readings[3..] {
        say(bench, person, reading);
    }
}

pub(super) const DEAD: [&str; 6] = ["121 V", "0.2 V", "121 V", "9 V", "0.1 V", "9 V"];

pub(super) fn proved(holder: &Person) -> Bench {
    let mut bench = bench(holder);
    up_to_the_proof(&mut bench, holder);
    lock(&mut bench, holder);
    test_dead(&mut bench, holder, DEAD);
    assert_eq!(step(&bench), "loosen");
    bench
}

pub(super) fn voided(bench: &Bench) -> Vec<VoidReason> {
    let why = |what: &What| match what {
        What::ProofVoided { why, .. } => Some(*why),
        _ => None,
    };
    bench
        .entries
        .iter()
        .filter_map(|entry| why(&entry.what))
        .collect()
}

#[test]
fn a_proof_opens_the_touching_step() {
    let [ann, ..] = crew();
    let mut bench = proved(&ann);
    press(&mut bench, &ann, GO);
    assert_eq!(step(&bench), "electrician");
}

#[test]
fn a_meter_that_fails_at_the_second_live_check_voids_every_reading() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    up_to_the_proof(&mut bench, &ann);
    lock(&mut bench, &ann);
    say(&mut bench, &ann, "meter 4");
    press(&mut bench, &ann, "cat_iii_600");
    press(&mut bench, &ann, "whole");
    for text in ["the light circuit", "121 V", "0.2 V", "0.4 V"] {
        say(&mut bench, &ann, text);
    }
    assert!(matches!(
        bench.state.doing.failure,
        Some(ProofFailure::KnownSourceAfter { .. })
    ));
    assert!(
        bench.state.doing.proof.is_empty(),
        "the test begins again from its first part"
    );
    assert!(
        bench
            .state
            .sources
            .values()
            .all(|source| source.proof.is_none())
    );
}

#[test]
fn a_live_point_is_never_a_pass() {
    let [ann, ..] = crew();
    for live in ["3.1 V", "12 V", "50 V", "208 V"] {
        let mut bench = bench(&ann);
        up_to_the_proof(&mut bench, &ann);
        lock(&mut bench, &ann);
        say(&mut bench, &ann, "meter 4");
        press(&mut bench, &ann, "cat_iii_600");
        press(&mut bench, &ann, "whole");
        for text in ["the light circuit", "121 V", live] {
            say(&mut bench, &ann, text);
        }
        assert_eq!(step(&bench), "is_live", "{live}");
        press(&mut bench, &ann, GO);
        assert!(
            matches!(bench.state.mode, Mode::Stopped { why: Some(_) }),
            "{live}"
        );
    }
}

#[test]
fn a_long_silence_voids_the_proof_and_leads_through_it_again() {
    let [ann, ..] = crew();
    let mut bench = proved(&ann);
    bench.pass(31 * 60);
    let prompt = bench.prompt(&ann);
    assert!(prompt.caution.unwrap().starts_with("Not current"));
    press(&mut bench, &ann, GO);
    assert_eq!(
        step(&bench),
        "open_it",
        "a late answer leads to the proof, not past it"
    );
    assert_eq!(voided(&bench), [VoidReason::LongPause]);
}

#[test]
fn a_long_pause_voids_the_proof_and_leads_through_it_again() {
    let [ann, ..] = crew();
    let mut bench = proved(&ann);
    bench.give(&ann, &Input::Pause).unwrap();
    bench.pass(31 * 60);
    bench.give(&ann, &Input::Resume).unwrap();
    assert_eq!(step(&bench), "open_it");
    assert!(voided(&bench).contains(&VoidReason::LongPause));
}

#[test]
fn a_handover_voids_the_proof_and_keeps_somebody_s_lock_on_throughout() {
    let [ann, tom, ..] = crew();
    let mut bench = proved(&ann);
    bench.give(&ann, &Input::HandOver(Some(tom.id))).unwrap();
    bench.give(&tom, &Input::TakeOver).unwrap();
    assert_eq!(step(&bench), "open_it");
    assert_eq!(voided(&bench), [VoidReason::Handover]);
    let early = bench.give(&ann, &Input::TakeOwnLockOff);
    assert!(matches!(early, Err(Refusal::LockRule(_))), "{early:?}");
    lock(&mut bench, &tom);
    test_dead(&mut bench, &tom, DEAD);
    assert_eq!(step(&bench), "loosen");
    assert_eq!(bench.state.sources["fan_circuit"].locks.len(), 2);
    bench.give(&ann, &Input::TakeOwnLockOff).unwrap();
    assert_eq!(bench.state.sources["fan_circuit"].locks.len(), 1);
    press(&mut bench, &tom, GO);
}

#[test]
fn the_primary_persons_lock_stays_while_another_hangs_so_nothing_is_switched_in() {
    let [ann, tom, eve, _] = crew();
    let mut bench = proved(&ann);
    bench.give(&ann, &Input::HandOver(None)).unwrap();
    bench.give(&tom, &Input::TakeOver).unwrap();
    lock(&mut bench, &tom);
    test_dead(&mut bench, &tom, DEAD);
    press(&mut bench, &tom, GO);
    press(&mut bench, &eve, GO);
    let unlocking = step(&bench);
    let revision = bench.state.revision;
    let key = GO.into();
    let early = bench.give(&tom, &Input::Press { revision, key });
    let told = early.unwrap_err().to_string();
    assert!(told.contains("1 other lock still hangs"), "Ann's: {told}");
    assert_eq!(step(&bench), unlocking);
    bench.give(&ann, &Input::TakeOwnLockOff).unwrap();
    press(&mut bench, &tom, GO);
    assert_eq!(step(&bench), "switch_in");
    assert!(!bench.state.has_locks());
    press(&mut bench, &tom, GO);
}

#[test]
fn another_person_s_lock_comes_off_only_by_the_supervisor_with_all_three_conditions() {
    let [ann, tom, _, sue] = crew();
    let mut bench = proved(&ann);
    let ask = |not_here, tried_to_reach, will_know| Input::TakeLockOff {
        source: "fan_circuit".into(),
        owner: ann.id,
        not_here,
        tried_to_reach,
        will_know,
    };
    assert!(matches!(
        bench.give(&tom, &ask(true, true, true)),
        Err(Refusal::NeedsRole(_))
    ));
    for (a, b, c) in [
        (false, true, true),
        (true, false, true),
        (true, true, false),
    ] {
        assert!(matches!(
            bench.give(&sue, &ask(a, b, c)),
            Err(Refusal::LockRule(_))
        ));
    }
    bench.give(&sue, &ask(true, true, true)).unwrap();
    assert!(bench.state.sources["fan_circuit"].locks.is_empty());
    assert!(bench.state.sources["fan_circuit"].proof.is_none());
}

#[test]
fn a_hold_point_opens_only_for_its_role() {
    let [ann, tom, eve, _] = crew();
    let mut bench = proved(&ann);
    press(&mut bench, &ann, GO);
    let revision = bench.state.revision;
    for person in [&ann, &tom] {
        let tried = bench.give(
            person,
            &Input::Press {
                revision,
                key: GO.into(),
            },
        );
        assert!(matches!(tried, Err(Refusal::NeedsRole(_))));
    }
    assert!(matches!(bench.prompt(&ann).ask, Ask::WaitFor { .. }));
    press(&mut bench, &eve, GO);
    assert_eq!(step(&bench), "take_lock_off");
}

#[test]
fn switching_in_voids_the_proof_of_the_circuit_and_of_what_it_feeds() {
    let [ann, _, eve, _] = crew();
    let mut bench = proved(&ann);
    press(&mut bench, &ann, GO);
    press(&mut bench, &eve, GO);
    press(&mut bench, &ann, GO);
    press(&mut bench, &ann, GO);
    assert!(
        bench
            .state
            .sources
            .values()
            .all(|source| source.proof.is_none())
    );
}

#[test]
fn an_apprentice_answers_a_qualified_step_only_with_somebody_beside() {
    let [ann, tom, eve, _] = crew();
    let mut bench = proved(&ann);
    press(&mut bench, &ann, GO);
    press(&mut bench, &eve, GO);
    press(&mut bench, &ann, GO);
    press(&mut bench, &ann, GO);
    assert_eq!(step(&bench), "qualified");
    let revision = bench.state.revision;
    let alone = bench.give(
        &ann,
        &Input::Press {
            revision,
            key: GO.into(),
        },
    );
    assert!(matches!(alone, Err(Refusal::NeedsRole(_))));
    assert!(matches!(
        bench.give(&ann, &Input::StandBeside),
        Err(Refusal::NeedsRole(_))
    ));
    assert!(bench.prompt(&tom).actions.contains(&Action::StandBeside));
    bench.give(&tom, &Input::StandBeside).unwrap();
    press(&mut bench, &ann, GO);
    let beside = bench
        .entries
        .iter()
        .rev()
        .find_map(|entry| match &entry.what {
            What::Answered { beside, .. } => *beside,
            _ => None,
        });
    assert_eq!(beside, Some(tom.id));
}

#[test]
fn going_back_over_a_lock_asks_for_the_present_state() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    up_to_the_proof(&mut bench, &ann);
    press(&mut bench, &ann, GO);
    say(&mut bench, &ann, "lock 7");
    bench.give(&ann, &Input::Back).unwrap();
    assert!(bench.state.ask_state);
    assert!(bench.state.has_locks(), "going back takes no lock off");
    let words = bench.give(&ann, &Input::Text("lock 8".into()));
    assert!(matches!(words, Err(Refusal::WrongShape(_))));
    press(&mut bench, &ann, AS_RECORDED);
    assert_eq!(step(&bench), "lock_it");
}

#[test]
fn what_hangs_at_the_panel_is_asked_before_how_often_to_check_in() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    up_to_the_proof(&mut bench, &ann);
    press(&mut bench, &ann, GO);
    say(&mut bench, &ann, "lock 7");
    bench.give(&ann, &Input::Back).unwrap();
    bench.give(&ann, &Input::WantCheckIns).unwrap();
    assert!(bench.prompt(&ann).say.contains("Look at the panel now."));
    press(&mut bench, &ann, AS_RECORDED);
    assert!(bench.prompt(&ann).say.contains("How often"));
    press(&mut bench, &ann, "every_10");
    assert_eq!(step(&bench), "lock_it");
}

#[test]
fn going_back_over_a_proof_voids_it() {
    let [ann, ..] = crew();
    let mut bench = proved(&ann);
    bench.give(&ann, &Input::Back).unwrap();
    assert_eq!(voided(&bench), [VoidReason::SteppedBack]);
    assert_eq!(step(&bench), "prove_it");
}

#[test]
fn a_changed_answer_leaves_later_ones_to_be_confirmed() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    press(&mut bench, &ann, "plug");
    say(&mut bench, &ann, "208 V");
    bench.give(&ann, &Input::Back).unwrap();
    bench.give(&ann, &Input::Back).unwrap();
    press(&mut bench, &ann, "cut");
    let supply = &bench.state.room().unwrap().facts["supply"];
    assert!(!supply.confirmed, "kept, but missing to expressions");
    assert!(
        bench
            .prompt(&ann)
            .notes
            .iter()
            .any(|note| note.text.contains("208 V"))
    );
    say(&mut bench, &ann, "210 V");
    assert!(bench.state.room().unwrap().facts["supply"].confirmed);
}

#[test]
fn an_unexpected_reading_is_asked_for_once_more_and_both_are_kept() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    press(&mut bench, &ann, "plug");
    say(&mut bench, &ann, "120 V");
    assert_eq!(step(&bench), "measure_supply");
    say(&mut bench, &ann, "121 V");
    assert_eq!(step(&bench), "write_remark");
    let kept = |what: &What| matches!(what, What::ReadAgain { .. });
    assert_eq!(
        bench
            .entries
            .iter()
            .filter(|entry| kept(&entry.what))
            .count(),
        1
    );
}

#[test]
fn a_safety_wait_begins_again_when_time_is_not_sure() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    up_to_the_proof(&mut bench, &ann);
    press(&mut bench, &ann, GO);
    say(&mut bench, &ann, "lock 7");
    bench.pass(290);
    bench.give(&ann, &Input::ClockUncertain).unwrap();
    bench.pass(20);
    let revision = bench.state.revision;
    let early = bench.give(
        &ann,
        &Input::Press {
            revision,
            key: GO.into(),
        },
    );
    assert!(matches!(early, Err(Refusal::TooEarly { .. })), "{early:?}");
    bench.pass(290);
    press(&mut bench, &ann, GO);
}

#[test]
fn a_stale_or_doubled_press_changes_nothing() {
    let [ann, ..] = crew();
    let mut bench = bench(&ann);
    let revision = bench.state.revision;
    press(&mut bench, &ann, "plug");
    let again = bench.give(
        &ann,
        &Input::Press {
            revision,
            key: "cut".into(),
        },
    );
    assert_eq!(again, Err(Refusal::Stale));
}

#[test]
fn only_the_holder_answers_and_only_other_supervisors_review() {
    let [ann, tom, eve, sue] = crew();
    let mut bench = proved(&ann);
    let revision = bench.state.revision;
    let other = bench.give(
        &tom,
        &Input::Press {
            revision,
            key: GO.into(),
        },
    );
    assert!(matches!(other, Err(Refusal::NotYours { .. })));
    press(&mut bench, &ann, GO);
    press(&mut bench, &eve, GO);
    press(&mut bench, &ann, GO);
    press(&mut bench, &ann, GO);
    bench.give(&tom, &Input::StandBeside).unwrap();
    press(&mut bench, &ann, GO);
    assert!(matches!(bench.state.mode, Mode::Finished { .. }));
    let accept = Input::Accept {
        remark: String::new(),
    };
    assert!(bench.give(&sue, &accept).is_err(), "not handed in yet");
    bench.give(&ann, &Input::HandIn).unwrap();
    assert!(matches!(
        bench.give(&ann, &accept),
        Err(Refusal::NeedsRole(_))
    ));
    bench.give(&sue, &accept).unwrap();
}
