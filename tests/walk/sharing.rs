//! A job that is open to the crew: who may answer what, and that nobody else does.

use fanwright::flow::edition::Edition;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::record::entry::{ENTRY_FORMAT, Entry, SignOff, What};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::refusal::Refusal;
use fanwright::walk::share::{Answers, answers, is_hands_on};

use super::bench::{Bench, EDITION, Person, crew};
use super::random::{Dice, input};

fn edition() -> Edition {
    let mut sources = Sources::default();
    let text = include_str!("sharing.yaml").to_owned();
    sources.files.insert("shared-work.yaml".to_owned(), text);
    let library = Library::load(sources).unwrap_or_else(|problems| {
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{}", told.join("\n"))
    });
    library.edition(&"shared-work".into()).unwrap()
}

/// Who answers each step, in the order of the walk, and with what.
const STEPS: [(&str, &str, &str); 19] = [
    ("look", "anybody", "=turns"),
    ("count", "anybody", "3"),
    ("gauge", "holder", "3"),
    ("read", "holder", "208 V"),
    ("picture", "holder", "photo"),
    ("remark", "anybody", "a hum"),
    ("warn", "holder", "=go"),
    ("wait", "anybody", "=go"),
    ("tell_them", "holder", "=go"),
    ("skilled", "holder", "=go"),
    ("named", "electrician", "=go"),
    // For an electrician, and hands-on; so is the test that comes after it.
    ("warned", "beside", "=go"),
    ("rated", "anybody", "=cat_3"),
    ("worn", "anybody", "=worn"),
    ("live", "beside", "208 V"),
    ("open_it", "holder", "=go"),
    ("lock_it", "holder", "L 4"),
    // Nothing of it is hands-on, but the holder's lock hangs.
    ("locked", "holder", "no"),
    ("lock_off", "holder", "=go"),
];

fn given(bench: &Bench, answer: &str) -> Input {
    match (answer.strip_prefix('='), answer) {
        (Some(key), _) => Input::Press {
            revision: bench.state.revision,
            key: key.into(),
        },
        (None, "photo") => super::random::photo(),
        (None, text) => Input::Text(text.to_owned()),
    }
}

fn holder() -> Person {
    let mut toni = Person::new(2, &[Role::Technician]);
    let [_, _, _, sam] = crew();
    toni.shown.push(SignOff {
        competence: "meters".into(),
        label: "Measuring".to_owned(),
        person: toni.id,
        by: sam.id,
        at: "2026-01-05T08:00:00Z".parse().unwrap(),
        until: None,
    });
    toni
}

#[test]
fn each_step_is_answered_by_whoever_it_says_and_the_entry_names_them() {
    let (toni, helper) = (holder(), Person::new(7, &[Role::Technician]));
    let [_, _, eli, sam] = crew();
    let mut bench = Bench::begin_with(edition(), &toni);
    bench.give(&toni, &Input::Share).unwrap();
    for (step, who, answer) in STEPS {
        assert_eq!(bench.state.top().unwrap().step.as_str(), step);
        let told = answers(&bench.edition, &bench.state).unwrap();
        bench.pass(301);
        let input = given(&bench, answer);
        let by_helper = bench.clone().give(&helper, &input);
        let asks = bench.prompt(&helper).ask;
        let person = match who {
            "anybody" => {
                assert_eq!(told, Answers::Anybody, "{step}");
                assert!(by_helper.is_ok(), "{step}: {by_helper:?}");
                assert!(!matches!(asks, Ask::WaitFor { .. }), "{step}: {asks:?}");
                &helper
            }
            "holder" => {
                assert_eq!(told, Answers::Holder, "{step}");
                let is_hands_on = matches!(by_helper, Err(Refusal::HandsOn { .. }));
                assert!(is_hands_on, "{step}: {by_helper:?}");
                assert!(matches!(asks, Ask::WaitFor { .. }), "{step}: {asks:?}");
                &toni
            }
            "beside" => {
                assert_eq!(told, Answers::HolderAs(vec![Role::Electrician]), "{step}");
                for other in [by_helper, bench.clone().give(&eli, &input)] {
                    let is_hands_on = matches!(other, Err(Refusal::HandsOn { .. }));
                    assert!(is_hands_on, "{step}: {other:?}");
                }
                for other in [&helper, &eli] {
                    let asks = bench.prompt(other).ask;
                    assert!(
                        matches!(asks, Ask::WaitFor { roles } if roles.is_empty()),
                        "{step}"
                    );
                }
                let alone = bench.clone().give(&toni, &input);
                assert!(
                    matches!(alone, Err(Refusal::NeedsRole(_))),
                    "{step}: {alone:?}"
                );
                let beside = bench.prompt(&eli).actions.contains(&Action::StandBeside);
                assert!(beside, "{step}");
                bench.give(&eli, &Input::StandBeside).unwrap();
                &toni
            }
            _ => {
                assert_eq!(told, Answers::Roles(vec![Role::Electrician]), "{step}");
                assert!(by_helper.is_err(), "{step}: {by_helper:?}");
                &eli
            }
        };
        let notes = bench.prompt(&helper).notes;
        assert!(notes.iter().any(|note| note.text == told.words()), "{step}");
        let before = bench.entries.len();
        // Whoever came to stand beside made another screen of it.
        let input = given(&bench, answer);
        bench.give(person, &input).unwrap();
        assert!(
            bench.entries[before..]
                .iter()
                .all(|entry| entry.who == Some(person.id))
        );
    }
    let held = answers(&bench.edition, &bench.state).unwrap();
    assert_eq!(held, Answers::Roles(vec![Role::Supervisor]));
    bench.give(&sam, &given(&bench, "=go")).unwrap();
    assert!(!bench.state.is_open());
}

#[test]
fn a_job_is_opened_and_closed_by_its_holder_or_a_supervisor() {
    let (toni, helper) = (holder(), Person::new(7, &[Role::Technician]));
    let [_, _, _, sam] = crew();
    let mut bench = Bench::begin_with(edition(), &toni);
    let look = given(&bench, "=turns");
    let closed = bench.give(&helper, &look);
    assert!(
        matches!(closed, Err(Refusal::NotYours { .. })),
        "{closed:?}"
    );
    let refused = bench.give(&helper, &Input::Share);
    assert!(
        matches!(refused, Err(Refusal::NotYours { .. })),
        "{refused:?}"
    );
    assert_eq!(bench.give(&sam, &Input::Share), Ok(1));
    assert_eq!(
        bench.give(&toni, &Input::Share),
        Ok(0),
        "it is open already"
    );
    let offers = |bench: &Bench, person| bench.prompt(person).actions.contains(&Action::EndSharing);
    assert!(offers(&bench, &toni) && offers(&bench, &sam) && !offers(&bench, &helper));
    assert!(bench.give(&helper, &Input::EndSharing).is_err());
    assert_eq!(bench.give(&toni, &Input::EndSharing), Ok(1));
    assert!(answers(&bench.edition, &bench.state).is_none());
    let look = given(&bench, "=turns");
    assert!(bench.give(&helper, &look).is_err());
    bench.give(&toni, &look).unwrap();
}

#[test]
fn whatever_people_do_only_the_holder_answers_what_is_hands_on() {
    let people = crew();
    let mut by_others = 0;
    for seed in 0..40 {
        let mut dice = Dice::new(seed);
        let mut bench = Bench::begin(&people[1]);
        bench.give(&people[1], &Input::Share).unwrap();
        for _ in 0..400 {
            let person = &people[dice.roll(people.len())];
            let step = here(&bench);
            let (holder, has_lock) = (bench.state.holder, holder_is_locked_on(&bench));
            let input = input(&mut dice, &bench.prompt(person));
            // Whose job it is stays as it is here; other tests hand it over.
            if matches!(
                input,
                Input::HandOver(_) | Input::TakeOver | Input::EndSharing
            ) {
                continue;
            }
            bench.pass(10);
            let before = bench.entries.len();
            let done = bench.give(person, &input);
            let is_answer = |entry: &Entry| {
                matches!(
                    entry.what,
                    What::Answered { .. } | What::ReadAgain { .. } | What::ProofPart { .. }
                )
            };
            let answered = bench.entries[before..].iter().any(is_answer);
            if done.is_ok() && answered && person.id != holder {
                let (is_hands_on, by) = step.unwrap();
                let in_role = by.iter().any(|role| person.roles.contains(role));
                assert!(!is_hands_on && (in_role || (by.is_empty() && !has_lock)));
                by_others += 1;
            }
        }
    }
    assert!(by_others > 100, "only {by_others} answers came from others");
}

fn here(bench: &Bench) -> Option<(bool, Vec<Role>)> {
    let call = bench.state.top()?;
    let flow = bench.edition.flow(&call.flow)?;
    let step = flow.step(&call.step)?;
    Some((is_hands_on(flow, step), step.by.clone()))
}

fn holder_is_locked_on(bench: &Bench) -> bool {
    let mut sources = bench.state.sources.values();
    sources.any(|source| source.locks.contains(&bench.state.holder))
}

#[test]
fn in_the_shipped_flows_others_can_help_and_every_dangerous_step_is_hands_on() {
    let (mut open, mut hands_on) = (0, 0);
    for flow in EDITION.flows() {
        for step in flow.steps.values() {
            match is_hands_on(flow, step) {
                true => hands_on += 1,
                false => open += 1,
            }
            let is_dangerous = !step.sets.is_empty()
                || !matches!(step.danger, fanwright::flow::model::Danger::HandsOff);
            assert!(!is_dangerous || is_hands_on(flow, step), "{}", step.name);
        }
    }
    assert!(
        open > 20 && hands_on > 100,
        "{open} open, {hands_on} hands-on"
    );
}

#[test]
fn records_from_before_jobs_could_be_open_still_fold() {
    const { assert!(ENTRY_FORMAT >= 4) };
    let old = r#"{"v":3,"at":"2031-05-04T08:00:00Z","who":"00000000-0000-0000-0000-000000000002",
        "channel":"telegram","what":{"what":"paused"}}"#;
    let old: Entry = serde_json::from_str(old).unwrap();
    let mut bench = Bench::begin(&crew()[1]);
    fanwright::walk::apply(&mut bench.state, &old);
    assert!(!bench.state.shared);
    let new = old_with(&old, What::Shared);
    assert!(new.contains(r#""what":{"what":"shared"}"#), "{new}");
    fanwright::walk::apply(&mut bench.state, &serde_json::from_str(&new).unwrap());
    assert!(bench.state.shared);
}

fn old_with(entry: &Entry, what: What) -> String {
    let entry = Entry {
        v: ENTRY_FORMAT,
        what,
        ..entry.clone()
    };
    serde_json::to_string(&entry).unwrap()
}
