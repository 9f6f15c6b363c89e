//! A stretch of steps in a flow of its own, run from the old place.

use super::super::danger::thinned;
use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, branches};
use super::super::value::Value;
use super::Row;

pub(super) const OPERATORS: &[Row] = &[("split off a stretch of steps", split_off)];

/// So many steps go into a new flow at most.
const STRETCH_MAX: usize = 4;

fn split_off(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        for name in draft.steps().keys() {
            let stretch = stretch(draft, name);
            if stretch.len() > 1 {
                changes.extend(split(draft, &stretch));
            }
        }
    }
    thinned(changes, 22)
}

/// Steps in a row, each with one way on, each but the first come to only from the one before.
fn stretch<'d>(draft: &'d Draft, first: &'d str) -> Vec<&'d str> {
    let mut stretch = vec![first];
    while stretch.len() < STRETCH_MAX {
        let last = draft.step(stretch[stretch.len() - 1]);
        let ways = branches(last);
        let (next, _) = match &ways[..] {
            [(None, next)] => draft.steps().get_key_value(next.as_str()).unwrap(),
            _ => break,
        };
        let lone = draft.before(next) == [stretch[stretch.len() - 1]];
        if !lone || stretch.contains(&next.as_str()) || !can_move(draft, next) {
            break;
        }
        stretch.push(next);
    }
    let whole = stretch.iter().all(|name| can_move(draft, name));
    if whole { stretch } else { Vec::new() }
}

/// Whether a step can move without taking along what other steps ask: it has one way on and
/// names no fact but the one that it asks for.
fn can_move(draft: &Draft, name: &str) -> bool {
    let step = draft.step(name);
    let kinds = ["tell", "confirm", "choose", "write", "photo"];
    let is_plain = kinds.iter().any(|kind| step.has(kind)) && branches(step).len() == 1;
    let is_held = asked(draft, step).is_some_and(|(_, fact)| fact.has("held"));
    // A lead is joined behind its hold point of the same flow's record, so both move or stay.
    is_plain && !is_held && !step.has("gear") && !step.print().contains('{')
}

fn asked<'d>(draft: &'d Draft, step: &Value) -> Option<(String, &'d Value)> {
    let kinds = ["choose", "write", "photo"];
    let name = kinds.iter().find_map(|kind| step.word_at(kind))?;
    let fact = draft.value.get("facts")?.get(name)?;
    Some((name.to_owned(), fact))
}

fn split(draft: &Draft, stretch: &[&str]) -> Option<Change> {
    let own_prover = draft.sources(&[]).iter().any(|source| {
        let declared = draft.value.get("energy").and_then(|it| it.get(source));
        declared.and_then(|it| it.word_at("proved_by")) == Some(draft.flow())
    });
    let touches = stretch.iter().any(|name| draft.step(name).has("touches"));
    if own_prover && touches {
        return None;
    }
    let (new, given) = new_flow(draft, stretch)?;
    let mut changed = draft.clone();
    let go = branches(draft.step(stretch[stretch.len() - 1]))[0]
        .1
        .clone();
    let take: Vec<(&str, Value)> = given
        .iter()
        .map(|it| (it.as_str(), Value::word(it)))
        .collect();
    let mut run = Value::map(&[("run", Value::word("split-off"))]);
    if !take.is_empty() {
        run.set("take", Value::map(&take));
    }
    run.set("then", Value::word(&go));
    changed.redirect(stretch[0], "split_run");
    let at = changed.steps().get_index_of(stretch[0])?;
    for name in stretch {
        changed.steps_mut().shift_remove(*name);
    }
    let at = at.min(changed.steps().len());
    let steps = changed.steps_mut();
    steps.shift_insert(at, "split_run".to_owned(), run);
    let mut change = Change::of(changed, &[], format!("{stretch:?} split off"));
    change.drafts.push(Draft {
        file: "split-off.yaml".to_owned(),
        value: new,
    });
    Some(change)
}

/// The flow of a stretch, and the facts that it gives.
fn new_flow(draft: &Draft, stretch: &[&str]) -> Option<(Value, Vec<String>)> {
    let mut facts = Value::map(&[]);
    let mut given: Vec<String> = Vec::new();
    for name in stretch {
        if let Some((fact, declared)) = asked(draft, draft.step(name)) {
            facts.set(&fact, declared.clone());
            given.push(fact);
        }
    }
    let mut new = Value::map(&[
        ("flow", Value::word("split-off")),
        ("title", Value::word("A part by itself")),
        ("language", Value::word("en")),
        (
            "outcomes",
            Value::map(&[("over", Value::word("It is over"))]),
        ),
    ]);
    let with_energy = stretch.iter().any(|name| {
        let step = draft.step(name);
        step.has("touches") || step.has("sets")
    });
    if with_energy {
        let mut energy = draft.value.get("energy")?.clone();
        for (_, source) in energy.entries() {
            source.drop_key("exists_when");
        }
        new.set("energy", energy);
        for need in NEEDS {
            let declared = draft.value.get("facts")?.get(need)?;
            facts.set(need, declared.clone());
        }
        new.set("needs", Value::words(&NEEDS));
    }
    let gives: Vec<&str> = given.iter().map(String::as_str).collect();
    new.set("gives", Value::words(&gives));
    new.set("facts", facts);
    new.set("start", Value::word(stretch[0]));
    new.set("steps", steps_of(draft, stretch));
    Some((new, given))
}

/// What the flow that locks and tests needs to know.
const NEEDS: [&str; 4] = [
    "defrost",
    "drain_heater_own",
    "control_feed_own",
    "motor_type",
];

fn steps_of(draft: &Draft, stretch: &[&str]) -> Value {
    let mut steps = Value::map(&[]);
    for name in stretch {
        let mut step = draft.step(name).clone();
        if *name == stretch[stretch.len() - 1] {
            step.set("then", Value::word("over_end"));
        }
        if !step.has("touches") && !step.has("hands_off") && !step.has("tests_live") {
            step.set("hands_off", Value::word("true"));
        }
        steps.set(name, step);
    }
    let end = [
        ("finish", Value::word("over")),
        ("hands_off", Value::word("true")),
        ("say", Value::word("This part is over.")),
    ];
    steps.set("over_end", Value::map(&end));
    steps
}
