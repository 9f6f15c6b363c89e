//! What a silence, a pause and a change of people do to proofs and to a test under way.

use fanwright::record::entry::VoidReason;
use fanwright::walk::GO;
use fanwright::walk::input::Input;

use super::bench::{Bench, Person, crew};
use super::lockout::{
    DEAD, bench, lock, press, proved, say, step, test_dead, up_to_the_proof, voided,
};

/// What somebody may do first when they come back after a silence, each in its turn.
fn first_deeds(to: &Person) -> Vec<Vec<Input>> {
    vec![
        vec![Input::Pause, Input::Resume],
        vec![Input::CallSupervisor],
        vec![Input::Share],
        vec![Input::LeaveLockedOut, Input::KeepWorking],
        vec![Input::HandOver(Some(to.id)), Input::KeepJob],
        vec![Input::WantCheckIns],
    ]
}

#[test]
fn nothing_done_first_after_a_silence_makes_the_proof_current_again() {
    let [ann, tom, ..] = crew();
    for deeds in first_deeds(&tom) {
        let mut bench = proved(&ann);
        bench.pass(31 * 60);
        for deed in &deeds {
            bench.give(&ann, deed).unwrap();
        }
        if bench.state.watch == fanwright::walk::check_ins::Watch::Wanted {
            press(&mut bench, &ann, "every_10");
        }
        assert_eq!(step(&bench), "open_it", "after {deeds:?}");
        assert_eq!(voided(&bench), [VoidReason::LongPause], "after {deeds:?}");
    }
}

#[test]
fn nothing_done_beside_the_walk_keeps_a_proof_young() {
    let [ann, tom, ..] = crew();
    for pauses in [false, true] {
        let mut bench = proved(&ann);
        if pauses {
            bench.give(&ann, &Input::Pause).unwrap();
        }
        bench.pass(20 * 60);
        bench.give(&tom, &Input::CallSupervisor).unwrap();
        bench.pass(11 * 60);
        if pauses {
            bench.give(&ann, &Input::Resume).unwrap();
        } else {
            press(&mut bench, &ann, GO);
        }
        assert_eq!(step(&bench), "open_it");
        assert_eq!(voided(&bench), [VoidReason::LongPause]);
    }
}

/// A test of which the known source and the first point are measured.
fn half_proved(holder: &Person) -> Bench {
    let mut bench = bench(holder);
    up_to_the_proof(&mut bench, holder);
    lock(&mut bench, holder);
    go_on_half(&mut bench, holder);
    bench
}

fn go_on_half(bench: &mut Bench, person: &Person) {
    say(bench, person, "meter 4");
    press(bench, person, "cat_iii_600");
    press(bench, person, "whole");
    for text in ["the light circuit", "121 V", "0.2 V"] {
        say(bench, person, text);
    }
}

/// The test stands before its first part and says so, and nothing of it counts.
fn assert_begins_again(bench: &Bench, person: &Person, why: &str) {
    assert_eq!(step(bench), "prove_it", "{why}");
    assert!(bench.state.doing.proof.is_empty(), "{why}");
    let screen = bench.prompt(person);
    assert!(screen.say.contains("Which meter"), "{why}: {}", screen.say);
    let told = |text: &str| screen.notes.iter().any(|note| note.text.contains(text));
    assert!(told("The test was broken off"), "{why}: {:?}", screen.notes);
    assert!(told("part 1 of"), "{why}: {:?}", screen.notes);
}

#[test]
fn a_test_that_was_left_too_long_begins_again_from_its_first_part() {
    let [ann, _, _, sue] = crew();
    let mut bench = half_proved(&ann);
    bench.pass(31 * 60);
    let screen = bench.prompt(&ann);
    assert!(
        screen.say.contains("The test begins again"),
        "{}",
        screen.say
    );
    let mut other = bench.clone();
    say(&mut bench, &ann, "121 V");
    assert_begins_again(&bench, &ann, "after a reading that came too late");
    press(&mut other, &ann, GO);
    assert_begins_again(&other, &ann, "after the button");
    test_dead(&mut other, &ann, DEAD);
    assert_eq!(step(&other), "loosen");

    let mut bench = half_proved(&ann);
    bench.give(&ann, &Input::Pause).unwrap();
    bench.pass(31 * 60);
    bench.give(&ann, &Input::Resume).unwrap();
    assert_begins_again(&bench, &ann, "after a long pause");

    let mut bench = half_proved(&ann);
    bench.give(&ann, &Input::Stop).unwrap();
    say(&mut bench, &ann, "It smells.");
    bench.give(&sue, &Input::LiftStop).unwrap();
    assert_begins_again(&bench, &ann, "after a stop");

    let mut bench = half_proved(&ann);
    bench.give(&ann, &Input::LeaveLockedOut).unwrap();
    say(&mut bench, &ann, "Ann");
    say(&mut bench, &ann, "tomorrow");
    bench.give(&ann, &Input::Resume).unwrap();
    assert_begins_again(&bench, &ann, "after it was left");
}

#[test]
fn a_test_is_made_by_one_person_from_its_first_part_to_its_last() {
    let [ann, tom, ..] = crew();
    let mut bench = half_proved(&ann);
    bench.give(&tom, &Input::HangOwnLock).unwrap();
    bench.give(&ann, &Input::HandOver(Some(tom.id))).unwrap();
    bench.give(&tom, &Input::TakeOver).unwrap();
    assert_begins_again(&bench, &tom, "after a handover");

    go_on_half(&mut bench, &tom);
    bench.state.holder = ann.id;
    say(&mut bench, &ann, "121 V");
    assert_begins_again(&bench, &ann, "when another person answers");
    test_dead(&mut bench, &ann, DEAD);
    let provers: Vec<_> = bench
        .state
        .sources
        .values()
        .map(|it| it.proof.unwrap().by)
        .collect();
    assert!(provers.iter().all(|by| *by == ann.id));
}
