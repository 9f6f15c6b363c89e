//! Every order of events on small jobs: up to three people and three circuits, and everything
//! that may be done about locks, proofs and whose job it is, in every order there is.
//!
//! The search is complete for the small job: what a state has collected besides (times, numbers
//! of walks, lines above the question) has no say in what may follow, so states that differ only
//! in that are one. Steps back are followed one at a time. With one circuit everything is done
//! that a screen offers; with more, what stands still beside the locks is left out: [`Course`].
//! With three people and three circuits that is every order of handovers to whoever takes them, of
//! locks that others hang beside the primary person's, of every lock coming off by its owner or by
//! a supervisor, and of every answer: some 31,000 states that differ, each with everything that
//! anybody may try in it.

use std::collections::{BTreeSet, HashSet, VecDeque};

use fanwright::flow::model::{Role, Setting};
use fanwright::flow::name::{ChoiceKey, FlowName, SourceName};
use fanwright::record::entry::{Entry, What};
use fanwright::record::person::PersonId;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use fanwright::walk::state::{Mode, SourceState, State};

use super::bench::{Bench, Person};
use super::small_job::edition;

/// So many answered steps are remembered, so that one may be gone back over.
const BACK_MAX: usize = 1;

/// What is done besides answering, handing over and taking locks off.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Course {
    /// Stopping, pausing and leaving, too, and a proof that is broken off at each of its parts.
    Whole,
    /// Stepping back; a proof is made in one go. Stopping, pausing and leaving change no lock, as
    /// the whole course shows.
    Locks,
    /// Nothing: handovers to whoever takes them, and locks that come off.
    Handovers,
}

/// A silence longer than any flow allows, seconds.
const LONG: i64 = 24 * 60 * 60;

/// Everything that decides what may follow; the same for a state and for the one in which the two
/// people of the same roles, the second and the third, have changed places.
fn key(state: &State) -> String {
    let second = PersonId(uuid::Uuid::from_u128(2));
    let third = PersonId(uuid::Uuid::from_u128(3));
    let changed = |person: PersonId| match person {
        one if one == second => third,
        one if one == third => second,
        other => other,
    };
    key_of(state, &|person| person).min(key_of(state, &changed))
}

/// The same with other names for the people.
fn key_of(state: &State, named: &dyn Fn(PersonId) -> PersonId) -> String {
    let walk = |stack: &[fanwright::walk::state::Call]| -> Vec<_> {
        let calls = stack.iter();
        calls
            .map(|call| (call.flow.to_string(), call.step.to_string(), call.reproof))
            .collect()
    };
    let sources: Vec<_> = state
        .sources
        .values()
        .map(|source| {
            let setting = source.setting.map(|(setting, _)| setting);
            (
                setting,
                source
                    .locks
                    .iter()
                    .map(|owner| named(*owner))
                    .collect::<BTreeSet<_>>(),
                source.proof.map(|proof| named(proof.by)),
                source.void.is_some(),
            )
        })
        .collect();
    let trail: Vec<_> = state
        .trail
        .iter()
        .map(|visit| {
            (
                walk(&visit.stack),
                visit.step.to_string(),
                visit.set,
                visit.proved.len(),
            )
        })
        .collect();
    let doing = &state.doing;
    format!(
        "{:?}",
        (
            (walk(&state.stack), sources, trail, state.ask_state),
            (
                named(state.holder),
                state.offer.as_ref().map(|offer| offer.to.map(named)),
            ),
            mode(&state.mode),
            (
                doing.proof.len(),
                doing.failure.is_some(),
                doing.reproof_outcome.is_some(),
                doing.beside.map(named)
            ),
        )
    )
}

/// A mode without the words that were typed.
fn mode(mode: &Mode) -> (u8, bool, bool) {
    match mode {
        Mode::Walking => (0, false, false),
        Mode::Paused => (1, false, false),
        Mode::Stopped { why } => (2, why.is_some(), false),
        Mode::Leaving { owner, stopped } => (3, owner.is_some(), stopped.is_some()),
        Mode::Left { .. } => (4, false, false),
        Mode::Finished { .. } => (5, false, false),
    }
}

/// One thing that somebody may do, after a moment or after a long silence.
#[derive(Clone, Debug)]
struct Deed<'a> {
    by: &'a Person,
    /// One input; for a proof made in one go all of its answers.
    inputs: Vec<Input>,
    silence: bool,
}

/// Everything that these people may try in this state.
fn deeds<'a>(bench: &Bench, people: &'a [Person], course: Course) -> Vec<Deed<'a>> {
    let mut deeds = Vec::new();
    for by in people {
        for inputs in answers(bench, by, course) {
            // What a silence does to proofs, the other courses show.
            let silences = usize::from(course != Course::Handovers);
            for silence in [false, true].into_iter().take(1 + silences) {
                let inputs = inputs.clone();
                deeds.push(Deed {
                    by,
                    inputs,
                    silence,
                });
            }
        }
        let mut add = |input: Input, silence| {
            let inputs = vec![input];
            deeds.push(Deed {
                by,
                inputs,
                silence,
            });
        };
        if course != Course::Handovers {
            add(Input::Back, false);
        }
        for input in [
            Input::HandOver(None),
            Input::TakeOver,
            Input::KeepJob,
            Input::HangOwnLock,
            Input::TakeOwnLockOff,
        ] {
            add(input, false);
        }
        if course == Course::Whole {
            for input in [
                Input::Pause,
                Input::Resume,
                Input::Stop,
                Input::LiftStop,
                Input::LeaveLockedOut,
                Input::KeepWorking,
            ] {
                add(input, false);
            }
            add(Input::Resume, true);
        }
        for other in people {
            if course != Course::Handovers {
                add(Input::HandOver(Some(other.id)), false);
            }
            let missing = match course {
                Course::Whole => &[None, Some(0), Some(1), Some(2)][..],
                Course::Locks | Course::Handovers => &[None],
            };
            for source in bench.state.sources.keys() {
                for missing in missing {
                    let input = Input::TakeLockOff {
                        source: source.clone(),
                        owner: other.id,
                        not_here: *missing != Some(0),
                        tried_to_reach: *missing != Some(1),
                        will_know: *missing != Some(2),
                    };
                    add(input, false);
                }
            }
        }
    }
    deeds
}

/// What the screen of this person asks for, each answer on its own.
fn answers(bench: &Bench, person: &Person, course: Course) -> Vec<Vec<Input>> {
    let revision = bench.state.revision;
    let press = |key: ChoiceKey| Input::Press { revision, key };
    let text = |text: &str| Input::Text(text.to_owned());
    let at_proof = bench
        .state
        .top()
        .is_some_and(|call| call.step.as_str() == "prove");
    match &bench.prompt(person).ask {
        _ if at_proof && course != Course::Whole => vec![whole_proof(bench.state.sources.len())],
        Ask::Press(buttons) => {
            let keys = buttons.iter().map(|button| button.key.clone());
            keys.map(|key| vec![press(key)]).collect()
        }
        Ask::Reading { .. } => vec![vec![text("121 V")], vec![text("0.2 V")]],
        _ => vec![vec![text("in words")]],
    }
}

/// Every answer of a proof that passes.
fn whole_proof(circuits: usize) -> Vec<Input> {
    let text = |text: &str| Input::Text(text.to_owned());
    // Pressed on whichever screen it is: `done` gives it that screen's revision.
    let press = |key: &str| Input::Press {
        revision: 0,
        key: key.into(),
    };
    let mut inputs = vec![
        text("meter 4"),
        press("cat_iii_600"),
        press("whole"),
        text("the light circuit"),
        text("121 V"),
    ];
    inputs.extend((0..circuits).map(|_| text("0.2 V")));
    inputs.push(text("121 V"));
    inputs
}

/// Does a deed; whether it had any effect.
fn done(bench: &mut Bench, deed: &Deed<'_>) -> bool {
    bench.pass(if deed.silence { LONG } else { 1 });
    for input in &deed.inputs {
        let input = match input {
            Input::Press { key, .. } => Input::Press {
                revision: bench.state.revision,
                key: key.clone(),
            },
            other => other.clone(),
        };
        match bench.give(deed.by, &input) {
            Ok(entries) if entries > 0 => {}
            _ => break,
        }
    }
    !bench.entries.is_empty()
}

/// What one deed did to the locks, held against the rules; `before` is the state before it.
fn rules_hold(before: &State, deed: &Deed<'_>, entries: &[Entry]) -> Result<(), String> {
    let mut state = before.clone();
    let mut handed_over = false;
    for entry in entries {
        let who = entry.who.ok_or("an entry of nobody")?;
        about_locks(&state, deed, who, &entry.what)?;
        about_hands(&state, who, &entry.what)?;
        handed_over |= matches!(entry.what, What::HandoverTaken);
        fanwright::walk::apply(&mut state, entry);
    }
    if handed_over && state.sources.values().any(|source| source.proof.is_some()) {
        return Err("a proof outlived a handover".to_owned());
    }
    for (name, source) in &before.sources {
        let gone = source.locks.difference(&state.sources[name].locks).count();
        let told = entries.iter().filter(|entry| takes_off(&entry.what, name));
        if gone != told.count() {
            return Err(format!("a lock on {name} vanished"));
        }
    }
    Ok(())
}

/// Whether the entry says that a lock came off this circuit.
fn takes_off(what: &What, name: &SourceName) -> bool {
    match what {
        What::SourceSet { source, setting } => source == name && *setting == Setting::Unlocked,
        What::OwnLockOff { source } | What::LockTakenOff { source, .. } => source == name,
        _ => false,
    }
}

/// 29 CFR 1910.147(e)(3): each lock comes off by the hand that hung it or, with all three
/// conditions, by a supervisor's. (f)(4): in a handover the outgoing lock comes off only beside
/// the incoming one, until nobody reaches in any more. (f)(3)(ii)(D): in a group everybody has
/// their own lock, beside that of the primary person, in whose hands the job is.
fn about_locks(state: &State, deed: &Deed<'_>, who: PersonId, what: &What) -> Result<(), String> {
    let hangs = |source: &SourceName, owner| state.sources[source].locks.contains(&owner);
    let all_conditions = matches!(
        &deed.inputs[..],
        [Input::TakeLockOff {
            not_here: true,
            tried_to_reach: true,
            will_know: true,
            ..
        }]
    );
    let supervisor = deed.by.roles.contains(&Role::Supervisor);
    let rightly = match what {
        // (f)(3)(ii): whoever is the primary person takes theirs off last.
        What::SourceSet { source, setting } if *setting == Setting::Unlocked => {
            hangs(source, who) && state.sources[source].locks.len() == 1
        }
        What::OwnLockOn { source } => {
            let setting = state.sources[source].setting.map(|(setting, _)| setting);
            let is_locked = setting == Some(Setting::Locked);
            who != state.holder && is_locked && hangs(source, state.holder) && !hangs(source, who)
        }
        What::LockTakenOff { source, owner } => {
            all_conditions && supervisor && *owner != who && hangs(source, *owner)
        }
        What::OwnLockOff { source } => {
            let at = state.top().map_or("", |call| call.step.as_str());
            let is_beside = hangs(source, state.holder);
            who != state.holder && hangs(source, who) && (is_beside || at.starts_with("off_"))
        }
        _ => true,
    };
    rightly
        .then_some(())
        .ok_or(format!("{what:?} against the rules"))
}

/// (f)(3)(ii)(D): hands go in only under one's own lock, and 1910.333(b)(2)(iv): where this person
/// tested. (e)(3): nothing is switched on, and no job ends, while anybody's lock hangs.
fn about_hands(state: &State, who: PersonId, what: &What) -> Result<(), String> {
    let rightly = match what {
        What::Answered { step, .. } if step.as_str() == "work" => {
            let safe = |source: &SourceState| {
                source.locks.contains(&who) && source.proof.is_some_and(|proof| proof.by == who)
            };
            who == state.holder && state.sources.values().all(safe)
        }
        What::SourceSet { source, setting } if *setting == Setting::Closed => {
            state.sources[source].locks.is_empty()
        }
        What::Finished { .. } => !state.has_locks(),
        _ => true,
    };
    rightly
        .then_some(())
        .ok_or(format!("{what:?} against the rules"))
}

/// Searches every order with so many people and circuits; the number of states met.
fn search(people: usize, circuits: usize, course: Course) -> usize {
    let both = [Role::Technician, Role::Supervisor];
    let people: Vec<Person> = (1..=people as u128)
        .map(|number| Person::new(number, if number == 1 { &both[..1] } else { &both }))
        .collect();
    let mut bench = Bench::begin_with(edition(circuits), &people[0]);
    let mut met = HashSet::from([key(&bench.state)]);
    let mut next = VecDeque::from([bench.state.clone()]);
    while let Some(state) = next.pop_front() {
        bench.state.clone_from(&state);
        for deed in deeds(&bench, &people, course) {
            bench.state.clone_from(&state);
            bench.entries.clear();
            bench.now = state.last_at;
            if !done(&mut bench, &deed) {
                continue;
            }
            if let Err(broken) = rules_hold(&state, &deed, &bench.entries) {
                panic!("{broken} by {deed:?} after {}", key(&state));
            }
            forget(&mut bench.state, course);
            if met.insert(key(&bench.state)) {
                next.push_back(bench.state.clone());
            }
        }
    }
    met.len()
}

/// Forgets what has no say in what may follow.
fn forget(state: &mut State, course: Course) {
    let kept = if course == Course::Handovers {
        0
    } else {
        BACK_MAX
    };
    let surplus = state.trail.len().saturating_sub(kept);
    state.trail.drain(..surplus);
    state.ahead.clear();
    state.told.clear();
    let stack = &state.stack;
    let on_it = |flow: &FlowName, instance: u32| {
        stack
            .iter()
            .any(|call| call.flow == *flow && call.instance == instance)
    };
    state
        .rooms
        .retain(|(flow, instance), _| on_it(flow, *instance));
}

/// A search meets at least so many states, or it has not gone where it should.
fn meets(people: usize, circuits: usize, course: Course, least: usize) {
    let met = search(people, circuits, course);
    assert!(
        met >= least,
        "{people} people, {circuits} circuits: only {met} states"
    );
    println!("{people} people, {circuits} circuits: {met} states");
}

#[test]
fn no_order_of_everything_breaks_a_rule_of_locks_for_two() {
    meets(2, 1, Course::Whole, 1_000);
}

#[test]
fn no_order_of_steps_back_and_removals_breaks_a_rule_of_locks() {
    meets(2, 2, Course::Locks, 1_000);
    meets(3, 1, Course::Locks, 1_000);
}

#[test]
fn no_order_of_handovers_breaks_a_rule_of_locks_for_three() {
    for circuits in 1..=3 {
        meets(3, circuits, Course::Handovers, 150);
    }
}
