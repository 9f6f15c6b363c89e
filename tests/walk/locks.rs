//! Whose lock comes off by whose hand, and who reviews whose job: 29 CFR 1910.147(e)(3), (f)(4)
//! and, for the idea that nobody inspects their own work, (c)(6).

use fanwright::flow::model::Setting;
use fanwright::flow::name::SourceName;
use fanwright::record::entry::{Channel, ENTRY_FORMAT, Entry, What};
use fanwright::walk;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Action;
use fanwright::walk::refusal::Refusal;

use super::bench::{Bench, Person, crew};

fn fan_circuit() -> SourceName {
    SourceName::from("fan_circuit")
}

/// A job in the technician's hands, with the technician's lock on the fan circuit.
fn locked() -> (Bench, [Person; 4]) {
    let people = crew();
    let mut bench = Bench::begin(&people[1]);
    for setting in [Setting::Opened, Setting::Locked] {
        happened(&mut bench, &people[1], setting);
    }
    (bench, people)
}

/// Writes down that `person` set the fan circuit so.
fn happened(bench: &mut Bench, person: &Person, setting: Setting) {
    let entry = Entry {
        v: ENTRY_FORMAT,
        at: bench.now,
        who: Some(person.id),
        channel: Channel::Terminal,
        what: What::SourceSet {
            source: fan_circuit(),
            setting,
        },
    };
    walk::apply(&mut bench.state, &entry);
    bench.entries.push(entry);
}

fn taken_off(owner: &Person, conditions: [bool; 3]) -> Input {
    let [not_here, tried_to_reach, will_know] = conditions;
    Input::TakeLockOff {
        source: fan_circuit(),
        owner: owner.id,
        not_here,
        tried_to_reach,
        will_know,
    }
}

#[test]
fn another_persons_lock_comes_off_only_by_a_supervisor_and_all_three_conditions() {
    let (mut bench, people) = locked();
    let [apprentice, technician, electrician, supervisor] = &people;
    for person in [apprentice, technician, electrician] {
        let refused = bench.give(person, &taken_off(technician, [true; 3]));
        assert!(matches!(refused, Err(Refusal::NeedsRole(_))), "{refused:?}");
    }
    for missing in 0..3 {
        let mut conditions = [true; 3];
        conditions[missing] = false;
        let refused = bench.give(supervisor, &taken_off(technician, conditions));
        assert!(matches!(refused, Err(Refusal::LockRule(_))), "{refused:?}");
    }
    assert!(
        bench.state.sources[&fan_circuit()]
            .locks
            .contains(&technician.id)
    );
    bench
        .give(supervisor, &taken_off(technician, [true; 3]))
        .unwrap();
    assert!(bench.state.sources[&fan_circuit()].locks.is_empty());
}

#[test]
fn after_a_handover_the_old_lock_stays_until_the_new_one_hangs() {
    let (mut bench, people) = locked();
    let [_, outgoing, incoming, _] = &people;
    let own = bench.give(outgoing, &Input::TakeOwnLockOff);
    assert!(
        matches!(own, Err(Refusal::LockRule(_))),
        "the holder's own step"
    );
    bench
        .give(outgoing, &Input::HandOver(Some(incoming.id)))
        .unwrap();
    bench.give(incoming, &Input::TakeOver).unwrap();
    let early = bench.give(outgoing, &Input::TakeOwnLockOff);
    assert!(matches!(early, Err(Refusal::LockRule(_))), "{early:?}");
    happened(&mut bench, incoming, Setting::Locked);
    bench.give(outgoing, &Input::TakeOwnLockOff).unwrap();
    let locks = &bench.state.sources[&fan_circuit()].locks;
    assert!(locks.contains(&incoming.id) && !locks.contains(&outgoing.id));
    assert!(
        bench.state.sources[&fan_circuit()].proof.is_none(),
        "tested anew"
    );
}

#[test]
fn nobody_reviews_a_job_that_they_worked_on() {
    let people = crew();
    let both = Person::new(
        9,
        &[
            fanwright::flow::model::Role::Technician,
            fanwright::flow::model::Role::Supervisor,
        ],
    );
    let mut bench = Bench::begin(&both);
    let accept = Input::Accept {
        remark: String::new(),
    };
    let told = bench.give(&both, &accept).unwrap_err().to_string();
    assert!(told.contains("own job"), "{told}");
    let other = bench.give(&people[3], &accept).unwrap_err().to_string();
    assert!(other.contains("not waiting for review"), "{other}");
}

#[test]
fn a_left_job_that_was_handed_in_is_handed_in_again_after_it_was_walked_on() {
    let (mut bench, people) = locked();
    let [_, holder, _, supervisor] = &people;
    let leave = |bench: &mut Bench| {
        bench.give(holder, &Input::LeaveLockedOut).unwrap();
        for text in ["Ann, telephone 555 0100", "Friday"] {
            bench.give(holder, &Input::Text(text.to_owned())).unwrap();
        }
    };
    leave(&mut bench);
    bench.give(holder, &Input::HandIn).unwrap();
    bench.give(holder, &Input::Resume).unwrap();
    let accept = Input::Accept {
        remark: String::new(),
    };
    let told = bench.give(supervisor, &accept).unwrap_err().to_string();
    assert!(told.contains("not waiting for review"), "{told}");
    leave(&mut bench);
    assert!(bench.prompt(holder).actions.contains(&Action::HandIn));
    assert_eq!(bench.give(holder, &Input::HandIn), Ok(1));
    bench.give(supervisor, &accept).unwrap();
}

#[test]
fn a_job_that_is_left_with_an_owner_is_not_on_offer_any_more() {
    let (mut bench, people) = locked();
    let [_, holder, next, _] = &people;
    bench.give(holder, &Input::HandOver(Some(next.id))).unwrap();
    bench.give(holder, &Input::LeaveLockedOut).unwrap();
    for text in ["Ann, telephone 555 0100", "Friday"] {
        bench.give(holder, &Input::Text(text.to_owned())).unwrap();
    }
    assert_eq!(bench.state.offer, None);
    let late = bench.give(next, &Input::TakeOver);
    assert!(matches!(late, Err(Refusal::NotNow(_))), "{late:?}");
}
