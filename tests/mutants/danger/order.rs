//! The order of lockout and of the way back, and the times that it takes.

use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, has_duty, last_way, sets, sets_any, tested};
use super::super::value::Value;
use super::{Row, thinned};

/// What is found where lockout or the way back is out of order.
const ORDER: &[&str] = &[
    "touched_before_proved",
    "proved_before_locked",
    "locked_before_opened",
    "charge_tested_before_its_wait",
    "blocked_before_it_stands",
    "unlocked_without_lock",
    "closed_under_a_lock",
    "locked_out_of_order",
    "restored_out_of_order",
    "drained_without_wait",
    "cut_without_hold",
];

pub(super) const OPERATORS: &[Row] = &[
    ("swap two steps", ORDER, swap),
    ("drop what a step sets", ORDER, drop_a_setting),
    (
        "drop a step that sets something",
        ORDER,
        drop_a_setting_step,
    ),
    (
        "drop a duty: tell, shut down, look, clear",
        &[
            "locked_out_of_order",
            "restored_out_of_order",
            "charge_not_looked_at_again",
        ],
        drop_a_duty,
    ),
    (
        "do a duty without calling it one",
        &[
            "locked_out_of_order",
            "restored_out_of_order",
            "charge_not_looked_at_again",
        ],
        unmark_a_duty,
    ),
    (
        "touch again after people are clear",
        &["restored_out_of_order"],
        touch_after_clear,
    ),
    (
        "cut a wait",
        &[
            "charge_wait_too_short",
            "charge_tested_before_its_wait",
            "drained_without_wait",
        ],
        cut_a_wait,
    ),
];

/// What must come before what: the steps of lockout and of the way back.
type Is = fn(&Value, &str) -> bool;
const RULES: &[(Is, Is)] = &[
    (
        |it, _| has_duty(it, "tell_affected"),
        |it, _| sets_any(it, "locked"),
    ),
    (
        |it, _| has_duty(it, "shut_down"),
        |it, _| sets_any(it, "locked"),
    ),
    (
        |it, of| set_on(it, of, "opened"),
        |it, of| set_on(it, of, "locked"),
    ),
    (|it, of| set_on(it, of, "locked"), |it, of| tests(it, of)),
    (|it, of| set_on(it, of, "waited"), |it, of| tests(it, of)),
    (
        |it, of| set_on(it, of, "stopped"),
        |it, of| set_on(it, of, "blocked"),
    ),
    (|it, of| tests(it, of), |it, of| touch(it, of)),
    (|it, of| set_on(it, of, "blocked"), |it, of| touch(it, of)),
    (
        |it, of| touch(it, of) && !sets_any(it, "freed"),
        |it, of| set_on(it, of, "unlocked"),
    ),
    (
        |it, _| has_duty(it, "inspect"),
        |it, _| sets_any(it, "unlocked"),
    ),
    (
        |it, _| has_duty(it, "clear_people"),
        |it, _| sets_any(it, "unlocked"),
    ),
    (
        |it, of| set_on(it, of, "unlocked"),
        |it, _| has_duty(it, "tell_affected"),
    ),
    (
        |it, of| set_on(it, of, "unlocked"),
        |it, of| set_on(it, of, "closed"),
    ),
    (
        |it, _| has_duty(it, "tell_affected"),
        |it, _| sets_any(it, "closed"),
    ),
    (
        |it, _| it.word_at("hold") == Some("electrician"),
        |it, _| matches!(it.word_at("leads"), Some("cut" | "joined")),
    ),
];

fn set_on(step: &Value, source: &str, word: &str) -> bool {
    sets(step)
        .iter()
        .any(|(on, set)| on == source && set == word)
}

fn tests(step: &Value, source: &str) -> bool {
    tested(step).iter().any(|it| it == source)
}

fn touch(step: &Value, source: &str) -> bool {
    let touched = step.get("touches").map(Value::as_list).unwrap_or_default();
    touched.iter().any(|it| it.as_word() == Some(source))
}

/// Two steps of which one must come before the other, in each other's place.
fn swap(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let mut pairs: Vec<(&str, &str)> = Vec::new();
        for source in draft.sources(&[]) {
            for (first, second) in RULES {
                let of = |is: &Is| -> Vec<&str> {
                    let steps = draft.steps().iter().filter(|(_, step)| is(step, &source));
                    steps.map(|(name, _)| name.as_str()).collect()
                };
                for one in of(first) {
                    for other in of(second) {
                        if !pairs.contains(&(one, other)) && draft.comes_first(one, other) {
                            pairs.push((one, other));
                        }
                    }
                }
            }
        }
        for (one, other) in pairs {
            let says = format!("`{one}` and `{other}` swapped");
            changes.push(Change::of(draft.swapped(one, other), &[one, other], says));
        }
    }
    thinned(changes, 32)
}

/// Whether a setting is one that later steps rest on. `closed` and `freed` only say that
/// something is lost; a lock that comes off has said so before. `opened` matters where a lock
/// follows it.
fn matters(draft: &Draft, source: &str, word: &str) -> bool {
    match word {
        "closed" | "freed" => false,
        "opened" => draft
            .steps()
            .values()
            .any(|step| set_on(step, source, "locked")),
        _ => true,
    }
}

fn drop_a_setting(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| step.has("sets")) {
        let all = sets(step);
        for (source, word) in all.iter().filter(|(on, word)| matters(draft, on, word)) {
            let changed = draft.with_step(name, |step| {
                if all.len() == 1 {
                    step.drop_key("sets");
                } else {
                    step.entries()["sets"].drop_key(source);
                }
            });
            let says = format!("`{name}` without `{source}: {word}`");
            changes.push(Change::of(changed, &[name], says));
        }
    }
    changes
}

fn drop_a_setting_step(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| step.has("sets")) {
        if sets(step).iter().any(|(on, word)| matters(draft, on, word)) {
            changes.push(without(draft, name));
        }
    }
    changes
}

fn without(draft: &Draft, name: &str) -> Change {
    let before = draft.before(name);
    let right: Vec<&str> = before.iter().map(String::as_str).chain([name]).collect();
    let changed = draft.without(name, &draft.way_on(name));
    Change::of(changed, &right, format!("without `{name}`"))
}

/// `drain_charge` is left alone: the meter decides afterwards whether the charge is gone.
fn is_duty(step: &Value) -> bool {
    step.has("duty") && !has_duty(step, "drain_charge")
}

/// The steps to name besides the one: for a second look at a charge, the tests before it.
fn tests_before(draft: &Draft, step: &Value) -> Vec<String> {
    let again = has_duty(step, "look_again");
    let tests = draft
        .steps()
        .iter()
        .filter(|(_, step)| again && step.has("prove_dead"));
    tests.map(|(name, _)| name.clone()).collect()
}

fn drop_a_duty(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(is_duty) {
        let mut change = without(draft, name);
        let tests = tests_before(draft, step).into_iter();
        change
            .right
            .extend(tests.map(|test| (draft.flow().to_owned(), test)));
        changes.push(change);
    }
    changes
}

fn unmark_a_duty(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(is_duty) {
        let changed = draft.with_step(name, |step| step.drop_key("duty"));
        let tests = tests_before(draft, step);
        let right: Vec<&str> = tests.iter().map(String::as_str).chain([name]).collect();
        changes.push(Change::of(changed, &right, format!("`{name}` is no duty")));
    }
    changes
}

/// A step that touches goes between the look at the people and the locks.
fn touch_after_clear(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let touched = draft.sources(&["electrical", "charge"]);
        let touched: Vec<&str> = touched.iter().map(String::as_str).collect();
        let reach_in = Value::map(&[
            ("confirm", Value::word("It sits right")),
            ("touches", Value::words(&touched)),
            ("say", Value::word("Straighten the wires behind the guard.")),
            ("cite", Value::word("common practice")),
        ]);
        let clear = draft
            .steps()
            .iter()
            .filter(|(_, it)| has_duty(it, "clear_people"));
        let mut cleared: Vec<String> = Vec::new();
        for (_, step) in clear {
            cleared.extend(draft.reached(&last_way(step).unwrap(), |step| {
                sets_any(step, "unlocked") || step.has("finish")
            }));
        }
        let from = cleared.iter().filter(|name| {
            let step = draft.step(name);
            !step.has("finish") && !has_duty(step, "clear_people")
        });
        for name in from {
            let changed = draft.with_before(name, "reach_in", reach_in.clone());
            let says = format!("reaching in before `{name}`");
            changes.push(Change::of(changed, &["reach_in"], says));
        }
    }
    changes
}

/// Safety waits: the time of a plain wait is decided by the look that follows.
fn cut_a_wait(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| step.has("safety")) {
        changes.push(without(draft, name));
        let before = draft.before(name);
        let right: Vec<&str> = before.iter().map(String::as_str).chain([name]).collect();
        let mut push = |says: &str, change: &dyn Fn(&mut Value)| {
            let changed = draft.with_step(name, change);
            changes.push(Change::of(changed, &right, format!("`{name}` {says}")));
        };
        push("without safety", &|step| step.drop_key("safety"));
        push("of no time", &|step| {
            step.set("wait", Value::word("second(0)"))
        });
        push("of less than no time", &|step| {
            step.set("wait", Value::word("-minute(1)"))
        });
        push("only asks", &|step| {
            step.drop_key("safety");
            step.drop_key("wait");
            step.set("confirm", Value::word("I waited"));
        });
        if sets_any(step, "waited") {
            push("of a second", &|step| {
                step.set("wait", Value::word("second(1)"))
            });
        }
    }
    changes
}
