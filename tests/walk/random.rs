//! Random people, random answers: the engine never panics, always shows a way on, keeps its
//! state a fold of its entries, and lets nobody past a touching step without proof and lock.

use fanwright::flow::edition::Edition;
use fanwright::flow::model::{Act, Danger, SourceKind};
use fanwright::flow::name::ChoiceKey;
use fanwright::record::entry::{PhotoRef, What};
use fanwright::walk::State;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Ask, Prompt};
use fanwright::walk::refusal::Refusal;
use proptest::prelude::*;

use super::bench::{Bench, EDITION, Person, crew};
use super::rules;
pub(crate) use crate::support::dice::Dice;

const TEXTS: &[&str] = &[
    "208 V",
    "0.2",
    "0",
    "120",
    "5",
    "9 V",
    "1550 rpm",
    "1/15 hp",
    "12 in",
    "-10F",
    "35 F",
    "3",
    "300 cfm",
    "0.12",
    "6 fpi",
    "meter 4",
    "next Monday",
    "🙂",
    "NaN",
    "1e999",
    "",
    "0,5 A",
    "IP55",
    "50 W",
    "20 ohm",
    "7.5 uF",
    "22 deg",
    "100000000000 V",
];

pub(crate) fn input(dice: &mut Dice, prompt: &Prompt) -> Input {
    let revision = if dice.roll(20) == 0 {
        prompt.revision.wrapping_sub(1)
    } else {
        prompt.revision
    };
    let sensible = dice.roll(10) < 8;
    if sensible {
        match &prompt.ask {
            Ask::Press(buttons) if !buttons.is_empty() => {
                let key = buttons[dice.roll(buttons.len())].key.clone();
                return Input::Press { revision, key };
            }
            Ask::Tick { options, .. } => {
                let keys = options.iter().filter(|_| dice.roll(2) == 0);
                return Input::Tick {
                    revision,
                    keys: keys.map(|b| b.key.clone()).collect(),
                };
            }
            Ask::Photo { .. } => return photo(),
            Ask::Reading { example, .. } if dice.roll(3) > 0 => {
                return Input::Text(example.clone());
            }
            _ => return Input::Text(TEXTS[dice.roll(TEXTS.len())].to_owned()),
        }
    }
    if !prompt.actions.is_empty() && dice.roll(2) == 0 {
        let action = prompt.actions[dice.roll(prompt.actions.len())];
        if let Some(input) = action.input() {
            return input;
        }
    }
    match dice.roll(8) {
        0 => Input::Press {
            revision,
            key: ChoiceKey::from("nonsense"),
        },
        1 => Input::Tick {
            revision,
            keys: vec![ChoiceKey::from("go")],
        },
        2 => photo(),
        3 => Input::Keep,
        4 => Input::Back,
        5 => Input::Resume,
        6 => Input::ClockUncertain,
        _ => Input::Text(TEXTS[dice.roll(TEXTS.len())].to_owned()),
    }
}

pub(super) fn photo() -> Input {
    Input::Photo(PhotoRef {
        stored: "ab".into(),
        original: "cd".into(),
        taken: None,
        looks: None,
    })
}

/// Whether hands would go in at the step at hand without proof or own lock.
pub(super) fn assert_protected(edition: &Edition, state: &State, person: &Person) {
    let Some(call) = state.top() else { return };
    let Some(step) = edition.step(&call.flow, &call.step) else {
        return;
    };
    let Danger::Touches(sources) = &step.danger else {
        return;
    };
    for local in sources {
        let name = state.root_source(&local.it);
        let source = &state.sources[&name];
        let condition = edition.root_flow().unwrap().energy[&name]
            .exists_when
            .as_ref();
        let absent = condition.is_some_and(|c| c.holds(&state.root_facts()) == Ok(false));
        if absent {
            continue;
        }
        assert!(
            source.proof.is_some(),
            "{}/{}: {name} is not proved",
            call.flow,
            call.step
        );
        if source.declared.kind == SourceKind::Electrical {
            assert!(
                source.locks.contains(&person.id),
                "{}/{}: no own lock",
                call.flow,
                call.step
            );
        }
    }
}

/// Whoever reads one of these would answer the other alike.
fn assert_same_question(before: &Prompt, after: &Prompt) {
    let asked = |of: &Prompt| (of.title.clone(), of.step, of.say.clone(), of.ask.clone());
    assert_eq!(asked(before), asked(after));
}

/// Walks `moves` random moves from `seed`.
fn walk(seed: u64, moves: usize) -> Bench {
    let mut dice = Dice::new(seed);
    let people = crew();
    let mut bench = Bench::begin(&people[dice.roll(2)]);
    for _ in 0..moves {
        bench.pass([1, 5, 60, 400, 4000][dice.roll(5)]);
        let holder = people
            .iter()
            .find(|person| person.id == bench.state.holder)
            .unwrap();
        let person = if dice.roll(5) > 0 {
            holder
        } else {
            &people[dice.roll(4)]
        };
        let prompt = bench.prompt(person);
        rules::assert_all(&prompt, &bench.state);
        let before = bench.state.clone();
        match bench.give(person, &input(&mut dice, &prompt)) {
            Ok(_) => {
                if person.id == before.holder && bench.state.asked_since == before.asked_since {
                    assert_same_question(&prompt, &bench.prompt(person));
                }
                // An answer to a touching step was given behind proof and own lock.
                let answered = bench.entries[before.revision as usize..]
                    .iter()
                    .any(|entry| matches!(entry.what, What::Answered { .. }));
                let voided = bench.entries[before.revision as usize..]
                    .iter()
                    .any(|entry| matches!(entry.what, What::ProofVoided { .. }));
                if answered && !voided {
                    assert_protected(&EDITION, &before, person);
                }
            }
            Err(refusal) => {
                assert_eq!(before, bench.state);
                let told = refusal.to_string();
                assert!(told.ends_with('.') || told.ends_with('”'), "{told}");
            }
        }
        if let Some(until) = bench.state.next_deadline() {
            if dice.roll(2) == 0 {
                bench.now = bench.now.max(until);
            }
            drop(bench.give(person, &Input::WaitOver { until }));
        }
    }
    bench
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn random_walks_keep_every_rule(seed: u64) {
        let bench = walk(seed, 400);
        prop_assert_eq!(State::fold(&bench.entries).unwrap(), bench.state);
    }
}

#[test]
fn random_walks_reach_most_steps() {
    let mut met = std::collections::BTreeSet::new();
    for seed in 0..40 {
        for entry in walk(seed, 300).entries {
            if let What::Went { step } = entry.what {
                met.insert(step);
            }
        }
    }
    let human = |act: &Act| !matches!(act, Act::Run(_) | Act::Finish { .. });
    let steps: usize = ["dead-fan", "arrive", "make-safe"]
        .iter()
        .map(|flow| EDITION.flow(&(*flow).into()).unwrap())
        .map(|flow| flow.steps.values().filter(|step| human(&step.act)).count())
        .sum();
    println!("random walks met {} steps", met.len());
    assert!(met.len() * 2 > steps, "{} of at least {steps}", met.len());
}

#[test]
fn a_refusal_says_what_to_do() {
    let refusals = [
        Refusal::Stale,
        Refusal::CameBefore,
        Refusal::NoWayBack,
        Refusal::TooEarly { seconds_left: 12 },
        Refusal::NeedsRole(vec![]),
    ];
    for refusal in refusals {
        assert!(refusal.to_string().ends_with('.'));
    }
}
