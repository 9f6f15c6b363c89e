//! The shape of the flow: branches, loops, steps that nobody comes to, ends.

use super::super::proof::Change;
use super::super::shelf::{Shelf, branches, decides, is_marked};
use super::super::value::Value;
use super::{Row, thinned};

pub(super) const OPERATORS: &[Row] = &[
    ("drop the last branch", &["branch_gap"], drop_last_branch),
    ("say a branch twice", &["branch_never_taken"], branch_twice),
    (
        "close a loop that nobody can leave",
        &["loop_without_input", "cannot_finish"],
        close_a_loop,
    ),
    (
        "leave a step that nobody comes to",
        &["unreachable_step"],
        cut_off,
    ),
    (
        "change the kind of a source",
        &["flows_do_not_fit", "not_in_the_language"],
        another_kind,
    ),
    (
        "forget what feeds a source",
        &["fed_by_nothing"],
        fed_by_nothing,
    ),
];

fn drop_last_branch(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| branches(step).len() > 1) {
        if branches(step)
            .last()
            .is_some_and(|(when, _)| when.is_some())
        {
            continue;
        }
        let changed = draft.with_step(name, |step| {
            if let Value::List(ways) = &mut step.entries()["then"] {
                ways.pop();
            }
        });
        changes.push(Change::of(
            changed,
            &[name],
            format!("`{name}` without its last branch"),
        ));
    }
    thinned(changes, 20)
}

fn branch_twice(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| branches(step).len() > 1) {
        let ways = branches(step);
        let other = ways.last().unwrap().1.clone();
        let changed = draft.with_step(name, |step| {
            if let Value::List(ways) = &mut step.entries()["then"] {
                let mut again = ways[0].clone();
                again.set("go", Value::word(&other));
                ways.insert(1, again);
            }
        });
        changes.push(Change::of(
            changed,
            &[name],
            format!("`{name}` asks the same twice"),
        ));
    }
    thinned(changes, 20)
}

/// A step that only leads on leads back to the one before it, which only leads on as well.
fn close_a_loop(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    let leads_on = |step: &Value| !decides(step) && branches(step).len() == 1 && !is_marked(step);
    for (draft, name, step) in shelf.steps_where(leads_on) {
        let next = branches(step)[0].1.clone();
        if next != name && leads_on(draft.step(&next)) {
            let changed = draft.with_step(&next, |step| step.set("then", Value::word(name)));
            let says = format!("`{next}` leads back to `{name}`");
            changes.push(Change::of(changed, &[name, &next], says));
        }
    }
    thinned(changes, 18)
}

/// The one way to a step leads past it.
fn cut_off(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps() {
        let [(None, next)] = &branches(step)[..] else {
            continue;
        };
        let before = draft.before(name);
        if name == draft.start() || before.len() != 1 || before[0] == name || next == name {
            continue;
        }
        let mut changed = draft.clone();
        changed.redirect(name, next);
        changes.push(Change::of(
            changed,
            &[name],
            format!("no way leads to `{name}`"),
        ));
    }
    thinned(changes, 18)
}

/// A source of a flow that is run is of another kind than where it is run.
fn another_kind(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        for source in draft.sources(&["electrical"]) {
            let runs = shelf.steps_where(|step| step.word_at("run") == Some(draft.flow()));
            let right: Vec<(String, String)> = runs
                .map(|(runner, name, _)| (runner.flow().to_owned(), name.to_owned()))
                .collect();
            if right.is_empty() {
                continue;
            }
            let mut changed = draft.clone();
            let declared = &mut changed.value.entries()["energy"].entries()[&source];
            declared.set("kind", Value::word("motion"));
            let mut change = Change::of(changed, &[], format!("`{source}` as a motion"));
            let own = draft.steps().iter().filter(|(_, step)| {
                let print = step.print();
                print.contains(&source)
            });
            change.right = own
                .map(|(name, _)| (draft.flow().to_owned(), name.clone()))
                .collect();
            change.right.extend(right);
            changes.push(change);
        }
    }
    thinned(changes, 15)
}

/// A charge or a blade that nothing feeds would stay proved when power comes back.
fn fed_by_nothing(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        for source in draft.sources(&["charge", "motion"]) {
            let mut changed = draft.clone();
            changed.value.entries()["energy"].entries()[&source].drop_key("fed_by");
            let says = format!("nothing feeds `{source}`");
            changes.push(Change::of(changed, &[&source], says));
        }
    }
    thinned(changes, 13)
}
