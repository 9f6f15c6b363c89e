//! Steps for people who have shown something: who answers them, and what the record says of it.

use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::record::entry::{SignOff, What};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::refusal::Refusal;
use jiff::Timestamp;

use super::bench::{Bench, Person, crew};

const FLOW: &str = "\
flow: test-it
title: Test it
language: en
hands_off: true
outcomes: { done: Done }
competences: { live_tests: Measuring on live parts, lifting: Lifting a coil }
start: look
steps:
  look: { needs_shown: live_tests, confirm: I looked, say: Look., then: lift }
  lift:
    by: [technician]
    needs_shown: [live_tests, lifting]
    confirm: It is lifted
    say: Lift.
    then: seal
  seal: { hold: electrician, needs_shown: lifting, release: Sealed, say: Seal., then: end }
  end: { finish: done, say: Done. }
";

fn begun(holder: &Person) -> Bench {
    let mut sources = Sources::default();
    sources.files.insert("test-it.yaml".into(), FLOW.into());
    let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
    Bench::begin_with(library.edition(&"test-it".into()).unwrap(), holder)
}

/// The supervisor signs that this person has shown it.
fn signed(person: &mut Person, competence: &str, until: Option<&str>) {
    person.shown.push(SignOff {
        competence: competence.into(),
        label: competence.to_owned(),
        person: person.id,
        by: crew()[3].id,
        at: "2026-01-05T08:00:00Z".parse().unwrap(),
        until: until.map(|until| until.parse().unwrap()),
    });
}

fn go(bench: &mut Bench, person: &Person) -> Result<usize, Refusal> {
    let revision = bench.state.revision;
    let key = fanwright::walk::GO.into();
    bench.give(person, &Input::Press { revision, key })
}

fn step(bench: &Bench) -> String {
    bench.state.top().unwrap().step.to_string()
}

/// On whose sign-offs the record stands, each with what it is for.
fn stood_on(bench: &Bench) -> Vec<(Person, Vec<String>)> {
    let people = crew();
    let told = bench.entries.iter().filter_map(|entry| match &entry.what {
        What::StoodOn { sign_offs, .. } => Some((entry.who.unwrap(), sign_offs)),
        _ => None,
    });
    told.map(|(who, sign_offs)| {
        let person = people.iter().find(|person| person.id == who).unwrap();
        let names = sign_offs.iter().map(|it| it.competence.to_string());
        (person.clone(), names.collect())
    })
    .collect()
}

#[test]
fn without_a_sign_off_the_screen_says_what_is_missing_and_takes_no_answer() {
    let [_, technician, ..] = crew();
    let mut bench = begun(&technician);
    let screen = bench.prompt(&technician);
    assert!(matches!(screen.ask, Ask::WaitFor { .. }), "{screen:?}");
    assert_eq!(screen.lacks, ["live_tests".into()]);
    let note = &screen.notes[0].text;
    assert!(
        note.contains("Measuring on live parts. You have not."),
        "{note}"
    );
    let refused = go(&mut bench, &technician).unwrap_err();
    assert!(matches!(refused, Refusal::NeedsShown(_)), "{refused:?}");
    assert!(refused.to_string().contains("Measuring on live parts"));
    assert_eq!(step(&bench), "look");
}

#[test]
fn a_sign_off_that_counts_lets_its_person_answer_and_stands_on_the_record() {
    let [_, mut technician, ..] = crew();
    signed(&mut technician, "live_tests", Some("2027-01-05T08:00:00Z"));
    let mut bench = begun(&technician);
    go(&mut bench, &technician).unwrap();
    assert_eq!(step(&bench), "lift");
    let told = stood_on(&bench);
    assert_eq!(told.len(), 1);
    assert_eq!(
        (told[0].0.id, &told[0].1[..]),
        (technician.id, &["live_tests".to_owned()][..])
    );
    let at = |what: &dyn Fn(&What) -> bool| {
        let mut entries = bench.entries.iter();
        entries.position(|entry| what(&entry.what)).unwrap()
    };
    let stood = at(&|what| matches!(what, What::StoodOn { .. }));
    let answered = at(&|what| matches!(what, What::Answered { .. }));
    assert!(stood < answered, "first what it stands on");
}

#[test]
fn a_sign_off_that_has_ended_counts_no_more() {
    let [_, mut technician, ..] = crew();
    signed(&mut technician, "live_tests", Some("2026-03-02T08:10:00Z"));
    let mut bench = begun(&technician);
    let end: Timestamp = "2026-03-02T08:10:00Z".parse().unwrap();
    bench.now = end;
    assert!(go(&mut bench, &technician).is_err(), "not at the end");
    bench.now = end - jiff::SignedDuration::from_secs(1);
    go(&mut bench, &technician).unwrap();
}

#[test]
fn whoever_has_shown_it_stands_beside_from_their_own_account() {
    let [mut apprentice, mut technician, mut electrician, supervisor] = crew();
    let mut bench = begun(&apprentice);
    for person in [&technician, &electrician, &supervisor] {
        let refused = bench.give(person, &Input::StandBeside).unwrap_err();
        assert!(matches!(refused, Refusal::NeedsShown(_)), "{refused:?}");
        assert!(!bench.prompt(person).actions.contains(&Action::StandBeside));
    }
    signed(&mut electrician, "live_tests", None);
    assert!(
        bench
            .prompt(&electrician)
            .actions
            .contains(&Action::StandBeside)
    );
    bench.give(&electrician, &Input::StandBeside).unwrap();
    go(&mut bench, &apprentice).unwrap();
    let told = stood_on(&bench);
    assert_eq!(
        told[0].0.id, electrician.id,
        "it stands on whoever stood beside"
    );
    // The next step wants a role and two things shown: one who has less is no help.
    assert!(bench.give(&electrician, &Input::StandBeside).is_err());
    signed(&mut technician, "live_tests", None);
    assert!(bench.give(&technician, &Input::StandBeside).is_err());
    signed(&mut technician, "lifting", None);
    // The apprentice has shown both, but has not the role.
    signed(&mut apprentice, "live_tests", None);
    signed(&mut apprentice, "lifting", None);
    assert!(matches!(
        go(&mut bench, &apprentice),
        Err(Refusal::NeedsRole(_))
    ));
    bench.give(&technician, &Input::StandBeside).unwrap();
    go(&mut bench, &apprentice).unwrap();
    assert_eq!(step(&bench), "seal");
}

#[test]
fn an_apprentice_who_has_shown_it_stands_beside_nobody() {
    let [mut apprentice, technician, ..] = crew();
    signed(&mut apprentice, "live_tests", None);
    let mut bench = begun(&technician);
    let refused = bench.give(&apprentice, &Input::StandBeside).unwrap_err();
    assert!(matches!(refused, Refusal::NeedsRole(_)), "{refused:?}");
}

#[test]
fn a_hold_is_released_only_by_its_role_with_what_it_needs() {
    let [_, mut technician, mut electrician, _] = crew();
    for competence in ["live_tests", "lifting"] {
        signed(&mut technician, competence, None);
    }
    let mut bench = begun(&technician);
    go(&mut bench, &technician).unwrap();
    go(&mut bench, &technician).unwrap();
    assert_eq!(step(&bench), "seal");
    assert!(matches!(
        go(&mut bench, &electrician),
        Err(Refusal::NeedsShown(_))
    ));
    let beside = bench.give(&technician, &Input::StandBeside);
    assert!(beside.is_err(), "nobody stands beside at a hold");
    signed(&mut electrician, "lifting", None);
    assert!(matches!(bench.prompt(&electrician).ask, Ask::Press(_)));
    go(&mut bench, &electrician).unwrap();
    let released = |what: &What| {
        matches!(
            what,
            What::Released {
                role: Role::Electrician,
                ..
            }
        )
    };
    assert!(bench.entries.iter().any(|entry| released(&entry.what)));
    assert_eq!(stood_on(&bench).last().unwrap().0.id, electrician.id);
}
