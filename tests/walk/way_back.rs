//! Handovers and steps back on the way back to service: no lock is passed over, and none is stuck.

use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Setting;
use fanwright::record::entry::What;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Action;
use fanwright::walk::refusal::Refusal;
use fanwright::walk::{AS_RECORDED, GO};

use super::bench::{Bench, EDITION, Person, crew};
use super::lockout::{press, proved, say, step};
use super::waits::happens;

/// Whether this person may take their lock off by a button of their own.
fn may_unlock(bench: &Bench, person: &Person) -> bool {
    bench
        .prompt(person)
        .actions
        .contains(&Action::TakeOwnLockOff)
}

fn hand_over(bench: &mut Bench, from: &Person, to: &Person) {
    bench.give(from, &Input::HandOver(Some(to.id))).unwrap();
    bench.give(to, &Input::TakeOver).unwrap();
}

/// A job handed over at the step that takes the lock off, while the outgoing lock hangs alone.
fn handed_over_late(ann: &Person, tom: &Person, eve: &Person) -> Bench {
    let mut bench = proved(ann);
    press(&mut bench, ann, GO);
    press(&mut bench, eve, GO);
    assert_eq!(step(&bench), "take_lock_off");
    hand_over(&mut bench, ann, tom);
    bench
}

#[test]
fn a_lock_that_hangs_is_not_passed_over_after_a_handover() {
    let [ann, tom, eve, _] = crew();
    let mut bench = handed_over_late(&ann, &tom, &eve);
    assert_eq!(step(&bench), "take_lock_off", "Ann's lock hangs");
    let revision = bench.state.revision;
    let key = GO.into();
    let by_tom = bench.give(&tom, &Input::Press { revision, key });
    assert!(matches!(by_tom, Err(Refusal::LockRule(_))), "{by_tom:?}");
    let notes = bench.prompt(&tom).notes;
    assert!(
        notes
            .iter()
            .any(|note| note.text.contains("none here is yours")),
        "{notes:?}"
    );
    assert!(may_unlock(&bench, &ann));
    bench.give(&ann, &Input::TakeOwnLockOff).unwrap();
    assert!(!bench.state.has_locks());
    assert_eq!(step(&bench), "switch_in", "nothing is left to take off");
    press(&mut bench, &tom, GO);
    assert_eq!(step(&bench), "qualified");
}

#[test]
fn a_lock_of_somebody_who_is_away_comes_off_before_the_walk_goes_on() {
    let [ann, tom, eve, sue] = crew();
    let mut bench = handed_over_late(&ann, &tom, &eve);
    let by_supervisor = Input::TakeLockOff {
        source: "fan_circuit".into(),
        owner: ann.id,
        not_here: true,
        tried_to_reach: true,
        will_know: true,
    };
    bench.give(&sue, &by_supervisor).unwrap();
    assert_eq!(step(&bench), "switch_in");
}

/// The technician's job, with their lock on the fan circuit, at a step of the way back.
fn on_the_way_back(at: &str, tom: &Person) -> Bench {
    let mut bench = Bench::begin(tom);
    let flow = EDITION.flow(&"put-back-in-service".into()).unwrap();
    let own = flow.energy.keys().map(|name| (name.clone(), name.clone()));
    let entered = What::Entered {
        flow: flow.name.clone(),
        instance: 1,
        reproof: false,
        facts: Default::default(),
        sources: own.collect(),
    };
    happens(&mut bench, tom, entered);
    for setting in [Setting::Opened, Setting::Locked] {
        let source = "fan_circuit".into();
        happens(&mut bench, tom, What::SourceSet { source, setting });
    }
    happens(&mut bench, tom, What::Went { step: at.into() });
    bench
}

#[test]
fn on_the_way_back_a_lock_comes_off_once_people_are_clear_and_nobody_reaches_in_any_more() {
    let [_, tom, eve, _] = crew();
    for (at, may) in [
        ("count_tools_in", false),
        ("photo_guard", false),
        ("count_people", false),
        ("move_people", false),
        ("read_the_locks", true),
        ("other_locks", true),
        ("fan_lock_off", true),
    ] {
        let mut bench = on_the_way_back(at, &tom);
        hand_over(&mut bench, &tom, &eve);
        assert_eq!(may_unlock(&bench, &tom), may, "{at}");
        let taken = bench.give(&tom, &Input::TakeOwnLockOff);
        assert_eq!(taken.is_ok(), may, "{at}: {taken:?}");
        assert_eq!(bench.state.has_locks(), !may, "{at}");
    }
}

#[test]
fn after_a_handover_on_the_way_back_the_people_are_told_only_when_no_lock_hangs() {
    let [_, tom, eve, _] = crew();
    let mut bench = on_the_way_back("count_people", &tom);
    hand_over(&mut bench, &tom, &eve);
    say(&mut bench, &eve, "0");
    press(&mut bench, &eve, "only_mine");
    assert_eq!(
        step(&bench),
        "fan_lock_off",
        "the technician's lock still hangs"
    );
    bench.give(&tom, &Input::TakeOwnLockOff).unwrap();
    assert_eq!(step(&bench), "tell_the_people");
    assert!(!bench.state.has_locks());
}

const HEATED: &str = "\
flow: heated
title: Heated
language: en
outcomes: { done: Done }
energy:
  heaters: { kind: electrical, label: Heaters, exists_when: 'defrost == \"electric\"' }
facts: { defrost: { one_of: { electric: Electric, air: Air } } }
start: which
steps:
  which: { hands_off: true, choose: defrost, say: Which?, then: open_it }
  open_it: { hands_off: true, sets: { heaters: opened }, confirm: Open, say: Open., then: lock_it }
  lock_it: { hands_off: true, sets: { heaters: locked }, confirm: On, say: Lock., then: look }
  look: { hands_off: true, tell: Go on, say: Look., then: lock_off }
  lock_off: { hands_off: true, sets: { heaters: unlocked }, confirm: Off, say: O., then: close_it }
  close_it: { hands_off: true, sets: { heaters: closed }, confirm: On, say: Close., then: end }
  end: { finish: done, say: Done. }
";

#[test]
fn a_lock_on_what_turned_out_to_be_absent_is_taken_off_and_the_circuit_switched_on() {
    let [_, tom, ..] = crew();
    let mut sources = Sources::default();
    sources.files.insert("heated.yaml".into(), HEATED.into());
    let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
    let mut bench = Bench::begin_with(library.edition(&"heated".into()).unwrap(), &tom);
    press(&mut bench, &tom, "electric");
    press(&mut bench, &tom, GO);
    press(&mut bench, &tom, GO);
    for _ in 0..3 {
        bench.give(&tom, &Input::Back).unwrap();
        if bench.state.ask_state {
            press(&mut bench, &tom, AS_RECORDED);
        }
    }
    assert_eq!(step(&bench), "which");
    press(&mut bench, &tom, "air");
    assert_eq!(step(&bench), "look");
    bench.give(&tom, &Input::Pause).unwrap();
    let notes = bench.prompt(&tom).notes;
    assert!(
        notes.iter().any(|note| note.text.contains("Heaters: ")),
        "{notes:?}"
    );
    bench.give(&tom, &Input::Resume).unwrap();
    press(&mut bench, &tom, GO);
    assert_eq!(
        step(&bench),
        "lock_off",
        "the lock hangs, whatever it hangs on"
    );
    press(&mut bench, &tom, GO);
    assert!(!bench.state.has_locks());
    assert_eq!(step(&bench), "close_it");
    press(&mut bench, &tom, GO);
    assert!(!bench.state.is_open());
}
