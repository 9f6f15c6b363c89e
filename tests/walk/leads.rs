//! Work on line-voltage leads, and standing beside somebody whose hands are in: each under their
//! own lock and proof.

use fanwright::flow::library::{Library, Sources};
use fanwright::record::entry::What;
use fanwright::walk::GO;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::refusal::Refusal;

use super::bench::{Bench, Person, crew};
use super::lockout::{DEAD, lock, press, step, test_dead};

const FLOW: &str = "\
flow: wire-it
title: Wire it
language: en
pause_limit: 30 min
outcomes: { done: Done }
energy:
  fan_circuit: { kind: electrical, label: Fan circuit, proved_by: small-proof }
  stored_charge: { kind: charge, label: Stored charge, fed_by: fan_circuit, proved_by: small-proof }
start: START
steps:
  cut_it:
    touches: [fan_circuit, stored_charge]
    by: [electrician]
    leads: cut
    confirm: It is cut
    say: Cut the lead.
    then: control_wires
  control_wires:
    touches: [fan_circuit, stored_charge]
    by: [technician, electrician]
    confirm: They match
    say: Connect the control wires.
    then: lock_off
  lock_off: { hands_off: true, sets: { fan_circuit: unlocked }, confirm: Off, say: Off., then: end }
  end: { finish: done, say: Done. }
";

/// A job that stands at this step, proved behind the holder's lock.
fn proved_at(start: &str, holder: &Person) -> Bench {
    let mut sources = Sources::default();
    for (name, text) in [
        ("wire-it.yaml", FLOW.replace("START", start)),
        (
            "small-proof.yaml",
            include_str!("small_proof.yaml").to_owned(),
        ),
    ] {
        sources.files.insert(name.to_owned(), text);
    }
    let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
    let mut bench = Bench::begin_with(library.edition(&"wire-it".into()).unwrap(), holder);
    lock(&mut bench, holder);
    test_dead(&mut bench, holder, DEAD);
    assert_eq!(step(&bench), start);
    bench
}

fn go(bench: &mut Bench, person: &Person) -> Result<usize, Refusal> {
    let (revision, key) = (bench.state.revision, GO.into());
    bench.give(person, &Input::Press { revision, key })
}

fn may_stand_beside(bench: &Bench, person: &Person) -> bool {
    bench.prompt(person).actions.contains(&Action::StandBeside)
}

#[test]
fn leads_are_cut_by_whoever_has_the_job_and_by_nobody_on_anothers_account() {
    let [ann, _, eve, _] = crew();
    let mut bench = proved_at("cut_it", &ann);
    for own_lock in [false, true] {
        if own_lock {
            bench.give(&eve, &Input::HangOwnLock).unwrap();
        }
        assert!(!may_stand_beside(&bench, &eve));
        let beside = bench.give(&eve, &Input::StandBeside).unwrap_err();
        assert!(beside.to_string().contains("Take the job over"), "{beside}");
        assert!(matches!(go(&mut bench, &ann), Err(Refusal::NeedsRole(_))));
        assert!(go(&mut bench, &eve).is_err(), "the job is not in her hands");
    }
    let screen = bench.prompt(&ann);
    assert!(
        matches!(screen.ask, Ask::WaitFor { .. }),
        "{:?}",
        screen.ask
    );
    let mut notes = screen.notes.iter();
    assert!(
        notes.any(|note| note.text.contains("Hand the job over")),
        "{screen:?}"
    );

    bench.give(&ann, &Input::HandOver(Some(eve.id))).unwrap();
    bench.give(&eve, &Input::TakeOver).unwrap();
    assert_eq!(step(&bench), "open_it", "she proves for herself");
    lock(&mut bench, &eve);
    test_dead(&mut bench, &eve, DEAD);
    go(&mut bench, &eve).unwrap();
    assert_eq!(step(&bench), "control_wires");
    let by_eve = |what: &What| matches!(what, What::Answered { beside: None, .. });
    let cut = bench
        .entries
        .iter()
        .rfind(|entry| matches!(entry.what, What::Answered { .. }));
    assert!(cut.is_some_and(|cut| cut.who == Some(eve.id) && by_eve(&cut.what)));
}

#[test]
fn whoever_stands_beside_somebody_with_hands_in_has_their_own_lock_on() {
    let [ann, tom, ..] = crew();
    let mut bench = proved_at("control_wires", &ann);
    assert!(!may_stand_beside(&bench, &tom));
    let beside = bench.give(&tom, &Input::StandBeside);
    assert!(matches!(beside, Err(Refusal::LockRule(_))), "{beside:?}");
    bench.give(&tom, &Input::HangOwnLock).unwrap();
    assert!(may_stand_beside(&bench, &tom));
    bench.give(&tom, &Input::StandBeside).unwrap();
    bench.give(&tom, &Input::TakeOwnLockOff).unwrap();
    let without = go(&mut bench, &ann).unwrap_err();
    assert!(
        without.to_string().contains("stands beside you"),
        "{without}"
    );
    bench.give(&tom, &Input::HangOwnLock).unwrap();
    press(&mut bench, &ann, GO);
    assert_eq!(step(&bench), "lock_off");
}
