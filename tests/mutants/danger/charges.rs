//! Stored charges: what counts as drained, and what becomes of one that came back.

use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, branches, has_duty, tests_dead, touches};
use super::super::value::Value;
use super::proofs::reaching_in;
use super::{Row, thinned};

pub(super) const OPERATORS: &[Row] = &[
    (
        "widen what counts as no voltage",
        &["limit_too_wide"],
        widen_the_limit,
    ),
    (
        "forget that swapped leads show a minus",
        &["limit_too_wide"],
        without_a_minus,
    ),
    (
        "drain a charge that came back hands in",
        &["limit_too_wide"],
        drain_hands_in,
    ),
    (
        "go in after another wait, without another test",
        &["touched_before_proved"],
        wait_without_test,
    ),
];

fn widen_the_limit(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(tests_dead) {
        for row in ["never_dead_voltage", "known_ac_source_minimum"] {
            let changed = draft.with_step(name, |step| step.set("limit", Value::word(row)));
            changes.push(Change::of(
                changed,
                &[name],
                format!("`{name}` up to {row}"),
            ));
        }
    }
    let again = shelf.steps_where(|step| has_duty(step, "look_again"));
    for (draft, name, _) in again {
        for limit in [
            "volt(50)",
            "volt(12)",
            "row(\"never_dead_voltage\")",
            "2 * volt(3)",
        ] {
            let changed = draft.with_step(name, |step| {
                let Value::List(ways) = &mut step.entries()["then"] else {
                    return;
                };
                for way in ways.iter_mut().filter(|way| way.has("when")) {
                    let when = way.word_at("when").unwrap();
                    let wider = when.replace("row(\"absence_of_voltage_limit\")", limit);
                    way.set("when", Value::word(&wider));
                }
            });
            changes.push(Change::of(
                changed,
                &[name],
                format!("`{name}` up to {limit}"),
            ));
        }
    }
    changes
}

/// A condition, if there is one, and where it leads.
type Way = (Option<String>, String);

/// The readings at a charge, hands in, and the conditions of their ways on.
fn readings(shelf: &Shelf) -> Vec<(&Draft, &str, Vec<Way>)> {
    let limit = "row(\"absence_of_voltage_limit\")";
    let read = shelf.steps_where(|step| step.has("measure") && touches(step));
    read.map(|(draft, name, step)| (draft, name, branches(step)))
        .filter(|(_, _, ways)| {
            let mut whens = ways.iter().filter_map(|(when, _)| when.as_ref());
            whens.any(|when| when.contains(limit))
        })
        .collect()
}

fn without_a_minus(shelf: &Shelf) -> Vec<Change> {
    let changes = readings(shelf).into_iter().map(|(draft, name, _)| {
        let changed = draft.with_step(name, |step| {
            let Value::List(ways) = &mut step.entries()["then"] else {
                return;
            };
            for way in ways {
                let when = way.word_at("when").unwrap().replace("abs(", "(");
                way.set("when", Value::word(&when));
            }
        });
        Change::of(changed, &[name], format!("`{name}` without `abs`"))
    });
    changes.collect()
}

fn drain_hands_in(shelf: &Shelf) -> Vec<Change> {
    let changes = readings(shelf).into_iter().map(|(draft, name, ways)| {
        let above = |(when, _): &&Way| when.as_ref().is_some_and(|when| when.contains('>'));
        let (_, to) = ways.iter().find(above).unwrap();
        let changed = draft.with_before(to, "drain_it", reaching_in(draft));
        let says = format!("`{name}` leads above the limit to hands going in");
        Change::of(changed, &[name], says)
    });
    changes.collect()
}

/// The time of a charge is waited out again before each step with hands in.
fn wait_without_test(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(touches) {
        for charge in draft.sources(&["charge"]) {
            let wait = Value::map(&[
                ("wait", Value::word("row(\"stored_charge_wait\")")),
                ("safety", Value::word("true")),
                ("hands_off", Value::word("true")),
                ("sets", Value::map(&[(&charge, Value::word("waited"))])),
                ("say", Value::word("Let the charge drain off.")),
                ("cite", Value::word("common practice")),
            ]);
            let changed = draft.with_before(name, "wait_again", wait);
            let says = format!("`{charge}` waits once more before `{name}`");
            changes.push(Change::of(changed, &["wait_again"], says));
        }
    }
    thinned(changes, 12)
}
