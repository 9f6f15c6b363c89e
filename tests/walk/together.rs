//! Plain steps as one list: what is on it, who gets it, and that each answer is still its own.

use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::{Act, Danger, Role};
use fanwright::record::entry::{Entry, What};
use fanwright::walk::context::Way;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Ask, Prompt};
use fanwright::walk::refusal::Refusal;
use proptest::prelude::*;

use super::bench::{Bench, EDITION, Person, crew};
use super::random::{self, Dice};

const FLOW: &str = "\
flow: list-it
title: List it
language: en
hands_off: true
outcomes: { done: Done }
facts:
  supply: { measures: voltage, show_in: V }
  amps: { measures: current, show_in: A }
  words: { text: 40 }
start: a
steps:
  a: { tell: Seen, say: Look at the door., then: b }
  b: { confirm: Swept, say: Sweep the floor., then: c }
  c: { tell: Read, say: Read the sign., then: volts }
  volts:
    measure: supply
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    expect: { from: 'volt(187)', to: 'volt(253)' }
    say: Volts?
    then: amps
  amps:
    measure: amps
    plausible: { from: 'amp(0)', to: 'amp(50)' }
    say: Amps?
    then: words
  words: { write: words, say: Words?, then: warned }
  warned: { confirm: Done, caution: It is hot., say: Open the lid., then: after }
  after: { tell: Go on, say: '{words}', then: end }
  end: { finish: done, say: Done. }
";

fn begun(holder: &Person) -> Bench {
    let mut sources = Sources::default();
    sources.files.insert("list-it.yaml".into(), FLOW.into());
    let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
    Bench::begin_with(library.edition(&"list-it".into()).unwrap(), holder)
}

fn experienced(roles: &[Role]) -> Person {
    Person {
        way: Way::DoThenConfirm,
        ..Person::new(2, roles)
    }
}

fn press(bench: &mut Bench, person: &Person, key: &str) -> Result<usize, Refusal> {
    let revision = bench.state.revision;
    let key = key.into();
    bench.give(person, &Input::Press { revision, key })
}

fn labels(prompt: &Prompt) -> Vec<&str> {
    match &prompt.ask {
        Ask::Press(buttons) => buttons.iter().map(|button| button.label.as_str()).collect(),
        _ => Vec::new(),
    }
}

fn step(bench: &Bench) -> String {
    bench.state.top().unwrap().step.to_string()
}

/// The answered steps with their answers, and the moves between.
fn walked(entries: &[Entry]) -> Vec<What> {
    let walked = entries.iter().map(|entry| entry.what.clone());
    walked
        .filter(|what| matches!(what, What::Answered { .. } | What::Went { .. }))
        .collect()
}

#[test]
fn a_list_is_shown_whole_and_one_press_answers_each_of_its_steps() {
    let person = experienced(&[Role::Technician]);
    let mut bench = begun(&person);
    let screen = bench.prompt(&person);
    assert_eq!(
        screen.say,
        "Do all of this, then answer in this order:\n1. Look at the door.\n2. Sweep the floor.\n\
         3. Read the sign.\n4. Volts?\n5. Amps?"
    );
    assert_eq!(labels(&screen), ["1 to 3 are done", "1: Seen"]);
    press(&mut bench, &person, "all_done").unwrap();
    assert_eq!(step(&bench), "volts");
    let mut one_by_one = begun(&person);
    for _ in 0..3 {
        press(&mut one_by_one, &person, "go").unwrap();
    }
    assert_eq!(walked(&bench.entries), walked(&one_by_one.entries));
    let told = |bench: &Bench| {
        let lists = bench.entries.iter();
        lists
            .filter(|entry| matches!(entry.what, What::AskedTogether { .. }))
            .count()
    };
    assert_eq!((told(&bench), told(&one_by_one)), (1, 1), "told once");
}

#[test]
fn readings_are_typed_a_line_each_and_taken_in_order_or_not_at_all() {
    let person = experienced(&[Role::Technician]);
    let mut bench = begun(&person);
    press(&mut bench, &person, "all_done").unwrap();
    let says = bench.prompt(&person).say;
    assert!(says.contains("You may type 1 to 3 at once"), "{says}");
    let text = |text: &str| Input::Text(text.to_owned());
    let wrong = bench.give(&person, &text("208 V\nplenty")).unwrap_err();
    let wrong = wrong.to_string();
    assert!(
        wrong.starts_with("Line 2: ") && wrong.ends_with("None of it was taken."),
        "{wrong}"
    );
    assert_eq!(step(&bench), "volts");
    bench.give(&person, &text("208 V\n\n4 A\n")).unwrap();
    assert_eq!(step(&bench), "words");
    // Alone on its list, words may have lines of their own.
    bench.give(&person, &text("one\ntwo")).unwrap();
    assert_eq!(step(&bench), "warned");
}

#[test]
fn a_reading_outside_its_range_is_asked_again_before_what_follows_it() {
    let person = experienced(&[Role::Technician]);
    let mut bench = begun(&person);
    press(&mut bench, &person, "all_done").unwrap();
    bench
        .give(&person, &Input::Text("120 V\n4 A".to_owned()))
        .unwrap();
    assert_eq!(step(&bench), "volts");
    let screen = bench.prompt(&person);
    assert_eq!(screen.say, "Volts?", "by itself now");
    assert!(
        screen
            .notes
            .iter()
            .any(|note| note.text.contains("Measure again"))
    );
}

#[test]
fn no_warning_is_on_a_list_and_none_comes_after_one() {
    let person = experienced(&[Role::Technician]);
    let mut bench = begun(&person);
    press(&mut bench, &person, "all_done").unwrap();
    bench
        .give(&person, &Input::Text("208 V\n4 A\nwell".to_owned()))
        .unwrap();
    let screen = bench.prompt(&person);
    assert_eq!(screen.say, "Open the lid.");
    assert_eq!(screen.caution.as_deref(), Some("It is hot."));
    assert!(press(&mut bench, &person, "all_done").is_err());
}

#[test]
fn apprentices_and_whoever_did_not_choose_it_get_one_step_at_a_time() {
    let apprentice = experienced(&[Role::Apprentice]);
    let both = experienced(&[Role::Apprentice, Role::Technician]);
    let [_, usual, ..] = crew();
    for person in [&apprentice, &both, &usual] {
        let mut bench = begun(person);
        assert_eq!(bench.prompt(person).say, "Look at the door.");
        let refused = press(&mut bench, person, "all_done").unwrap_err();
        assert_eq!(refused, Refusal::Stale);
    }
}

/// The steps of a shipped flow that a list names are plain.
fn is_plain(bench: &Bench, name: &fanwright::flow::name::StepName) -> bool {
    let call = bench.state.top().unwrap();
    let step = bench.edition.step(&call.flow, name).unwrap();
    let hazard = matches!(
        step.act,
        Act::ProveDead(_) | Act::Hold { .. } | Act::Run(_) | Act::Wait { .. } | Act::Finish { .. }
    );
    matches!(step.danger, Danger::HandsOff)
        && !hazard
        && step.sets.is_empty()
        && step.caution.is_none()
        && step.duty.is_none()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is pressed and typed on lists of the shipped flows: nothing but plain steps is on
    /// one, and the state stays a fold of the entries.
    #[test]
    fn lists_of_the_shipped_flows_hold_plain_steps_only(seed: u64) {
        let mut dice = Dice::new(seed);
        let person = experienced(&[Role::Technician, Role::Electrician, Role::Supervisor]);
        let mut bench = Bench::begin_with(EDITION.clone(), &person);
        for _ in 0..150 {
            let before = bench.state.clone();
            let from = bench.entries.len();
            let input = random::input(&mut dice, &bench.prompt(&person));
            bench.pass(20);
            let _ = bench.give(&person, &input);
            for entry in &bench.entries[from..] {
                if let What::AskedTogether { steps } = &entry.what {
                    prop_assert!(steps.len() >= 2);
                    let now = std::mem::replace(&mut bench.state, before.clone());
                    let plain = steps.iter().all(|name| is_plain(&bench, name));
                    bench.state = now;
                    prop_assert!(plain, "{steps:?}");
                }
            }
            let folded = fanwright::walk::State::fold(&bench.entries).unwrap();
            prop_assert_eq!(&folded, &bench.state);
        }
    }
}
