//! Locks, hold points and leads.

use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, branches, decides, last_way, sets_any, setting, targets};
use super::super::value::Value;
use super::proofs::set_before_touching;
use super::{Row, thinned};

pub(super) const OPERATORS: &[Row] = &[
    (
        "switch on between proof and hands",
        &["closed_under_a_lock", "touched_before_proved"],
        |shelf| set_before_touching(shelf, "closed", 13),
    ),
    (
        "open anew between proof and hands",
        &["touched_before_proved"],
        |shelf| set_before_touching(shelf, "opened", 13),
    ),
    (
        "unlock between proof and hands",
        &["touched_before_proved", "restored_out_of_order"],
        |shelf| set_before_touching(shelf, "unlocked", 13),
    ),
    (
        "unlock before all is looked over and clear",
        &["restored_out_of_order", "touched_before_proved"],
        unlock_early,
    ),
    (
        "unlock what is not locked",
        &["unlocked_without_lock"],
        unlock_nothing,
    ),
    ("unlock by another's hand", &["lock_by_another"], by_another),
    (
        "end the job under locks",
        &["ends_with_locks_on"],
        end_locked,
    ),
    (
        "go on though a lock hangs",
        &[
            "ends_with_locks_on",
            "closed_under_a_lock",
            "unlocked_without_lock",
        ],
        go_on_locked,
    ),
    (
        "a confirm for a hold point",
        &[
            "cut_without_hold",
            "answer_not_held",
            "joined_without_release",
        ],
        confirm_for_hold,
    ),
    (
        "a hold point of another role",
        &[
            "cut_without_hold",
            "answer_not_held",
            "joined_without_release",
        ],
        another_role,
    ),
    (
        "drop a hold point",
        &[
            "cut_without_hold",
            "answer_not_held",
            "joined_without_release",
        ],
        drop_a_hold,
    ),
    (
        "leads by others than an electrician",
        &["cut_without_hold", "licensed_work_unnamed"],
        leads_by_others,
    ),
    (
        "other hands between hold point and leads",
        &["cut_without_hold"],
        other_hands,
    ),
];

/// A lock comes off before each step up to the last look at the people.
fn unlock_early(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let circuits = draft.sources(&["electrical"]);
        let clear = |step: &Value| step.word_at("duty") == Some("clear_people");
        if !draft.steps().values().any(clear) || circuits.is_empty() {
            continue;
        }
        let locked = |name: &str| {
            let step = draft.step(name);
            step.has("touches") || clear(step) || step.word_at("duty") == Some("inspect")
        };
        let early = draft.reached(draft.start(), |step| {
            clear(step) || step.has("run") || sets_any(step, "unlocked")
        });
        for (number, name) in early.iter().filter(|name| locked(name)).enumerate() {
            let circuit = &circuits[number % circuits.len()];
            let changed = draft.with_before(name, "off_early", setting(&[(circuit, "unlocked")]));
            let says = format!("`{circuit}` unlocked before `{name}`");
            changes.push(Change::of(changed, &["off_early"], says));
        }
    }
    changes
}

/// A lock comes off before the locks go on, and after they came off.
fn unlock_nothing(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let circuits = draft.sources(&["electrical"]);
        let mut push = |name: &str, number: usize| {
            let circuit = &circuits[number % circuits.len()];
            let changed = draft.with_before(name, "off_early", setting(&[(circuit, "unlocked")]));
            let says = format!("`{circuit}` unlocked before `{name}`");
            changes.push(Change::of(changed, &["off_early"], says));
        };
        let locks = |step: &Value| sets_any(step, "locked");
        if circuits.is_empty() {
            continue;
        }
        if draft.steps().values().any(locks) {
            let early = draft.reached(draft.start(), |step| sets_any(step, "opened"));
            let early = early.iter().filter(|name| !draft.step(name).has("finish"));
            early
                .enumerate()
                .for_each(|(number, name)| push(name, number));
        }
        let closes = draft
            .steps()
            .iter()
            .filter(|(_, step)| sets_any(step, "closed"));
        for (number, (name, step)) in closes.enumerate() {
            if sets_any(step, "closed") && draft.steps().values().any(|it| sets_any(it, "unlocked"))
            {
                push(name, number);
            }
        }
    }
    thinned(changes, 14)
}

fn by_another(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(|step| sets_any(step, "unlocked")) {
        for role in ["supervisor", "electrician"] {
            let changed = draft.with_step(name, |step| step.set("by", Value::words(&[role])));
            changes.push(Change::of(
                changed,
                &[name],
                format!("`{name}` by the {role}"),
            ));
        }
        let changed = draft.with_step(name, |step| {
            step.drop_key("write");
            step.drop_key("confirm");
            step.set("hold", Value::word("supervisor"));
            step.set("release", Value::word("I took the lock off"));
        });
        changes.push(Change::of(
            changed,
            &[name],
            format!("`{name}` as a hold point"),
        ));
    }
    changes
}

/// The end that leaves it locked out, called something else; and any other end.
fn end_locked(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let outcomes = draft.value.get("outcomes").and_then(Value::as_map).unwrap();
        let is_run = shelf
            .steps()
            .any(|(_, _, it)| it.word_at("run") == Some(draft.flow()));
        let ends = draft.steps().iter();
        let ends = ends.filter(|(_, it)| it.word_at("finish") == Some("left_locked_out"));
        for (name, _) in ends.filter(|_| !is_run) {
            for outcome in outcomes.keys().filter(|it| *it != "left_locked_out") {
                let changed =
                    draft.with_step(name, |step| step.set("finish", Value::word(outcome)));
                let says = format!("`{name}` ends as {outcome}");
                changes.push(Change::of(changed, &[name], says));
            }
        }
    }
    changes
}

/// The flow that takes the locks off ended with locks on, and nobody asks.
fn go_on_locked(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| step.has("run")) {
        let run = shelf.draft(step.word_at("run").unwrap());
        let unlocks = run.steps().values().any(|step| sets_any(step, "unlocked"));
        let locks = run.steps().values().any(|step| sets_any(step, "locked"));
        let ways = branches(step);
        if !unlocks || locks || ways.len() < 2 {
            continue;
        }
        let go = &ways[0].1;
        let changed = draft.with_step(name, |step| step.set("then", Value::word(go)));
        let says = format!("`{name}` goes on to `{go}` always");
        changes.push(Change::of(changed, &[name], says));
    }
    changes
}

fn is_hold(step: &Value) -> bool {
    step.has("hold")
}

/// The hold points that the language can see to: an electrician's next to leads that are cut or
/// joined, and any behind an answer that its fact declares as held. One that only leads back to
/// that question is left out: the question is asked again and holds by itself.
fn guarding(shelf: &Shelf) -> Vec<(&Draft, &str, &Value)> {
    let holds = shelf.steps_where(is_hold);
    holds
        .filter(|(draft, name, step)| {
            let is_electrician = step.word_at("hold") == Some("electrician");
            is_electrician && is_next_to_leads(draft, name) || is_behind_held(draft, name)
        })
        .collect()
}

fn is_next_to_leads(draft: &Draft, hold: &str) -> bool {
    let ends = |from: &str, wanted: &dyn Fn(&str, &Value) -> bool| {
        targets(draft.step(from)).iter().any(|to| {
            let reached = draft.reached(to, is_hold);
            reached.iter().any(|name| wanted(name, draft.step(name)))
        })
    };
    let works = |_: &str, step: &Value| {
        !is_hold(step) && matches!(step.word_at("leads"), Some("cut" | "joined"))
    };
    let joins = |step: &Value| step.word_at("leads") == Some("joined");
    let mut joined = draft.steps().iter().filter(|(_, step)| joins(step));
    ends(hold, &works) || joined.any(|(name, _)| ends(name, &|name, _| name == hold))
}

fn is_behind_held(draft: &Draft, hold: &str) -> bool {
    let facts = draft.value.get("facts").and_then(Value::as_map);
    let mut held = facts
        .into_iter()
        .flatten()
        .filter(|(_, fact)| fact.has("held"));
    held.any(|(fact, _)| {
        let asks_again = targets(draft.step(hold))
            .iter()
            .all(|to| draft.step(to).word_at("choose") == Some(fact.as_str()));
        let leads = draft.steps().values().any(|step| {
            let mut ways = branches(step).into_iter();
            ways.any(|(when, go)| {
                when.is_some_and(|when| when.contains(fact.as_str()))
                    && draft
                        .reached(&go, |it| decides(it) || is_hold(it))
                        .contains(hold)
            })
        });
        leads && !asks_again
    })
}

fn confirm_for_hold(shelf: &Shelf) -> Vec<Change> {
    let holds = guarding(shelf).into_iter();
    holds
        .map(|(draft, name, _)| {
            let changed = draft.with_step(name, |step| {
                step.drop_key("hold");
                let release = step.entries().shift_remove("release").unwrap();
                step.set("confirm", release);
            });
            Change::of(changed, &[name], format!("`{name}` confirmed by anybody"))
        })
        .collect()
}

fn another_role(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in guarding(shelf) {
        let role = step.word_at("hold").unwrap();
        let others = ["apprentice", "technician", "electrician", "supervisor"];
        for other in others.into_iter().filter(|other| *other != role) {
            let changed = draft.with_step(name, |step| step.set("hold", Value::word(other)));
            changes.push(Change::of(
                changed,
                &[name],
                format!("`{name}` released by a {other}"),
            ));
        }
    }
    thinned(changes, 16)
}

/// Where several ways lead on, the last is the one without another hold point.
fn drop_a_hold(shelf: &Shelf) -> Vec<Change> {
    let holds = guarding(shelf).into_iter();
    holds
        .map(|(draft, name, step)| {
            let before = draft.before(name);
            let right: Vec<&str> = before.iter().map(String::as_str).chain([name]).collect();
            let changed = draft.without(name, &last_way(step).unwrap());
            Change::of(changed, &right, format!("without `{name}`"))
        })
        .collect()
}

fn leads_by_others(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(|step| step.has("leads")) {
        let mut push = |says: &str, change: &dyn Fn(&mut Value)| {
            let changed = draft.with_step(name, change);
            changes.push(Change::of(changed, &[name], format!("`{name}` {says}")));
        };
        push("by anybody", &|step| step.drop_key("by"));
        push("by technicians too", &|step| {
            step.set("by", Value::words(&["technician", "electrician"]));
        });
        push("does not say what becomes of the leads", &|step| {
            step.drop_key("leads");
        });
    }
    thinned(changes, 25)
}

/// Somebody else reaches in between the hold point and the leads.
fn other_hands(shelf: &Shelf) -> Vec<Change> {
    let works =
        |step: &Value| matches!(step.word_at("leads"), Some("cut" | "joined")) && !is_hold(step);
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(works) {
        let mut other = step.clone();
        for key in ["by", "leads", "measure", "example", "photo", "plausible"] {
            other.drop_key(key);
        }
        other.set("confirm", Value::word("It is put straight"));
        let changed = draft.with_before(name, "other_hands", other);
        changes.push(Change::of(
            changed,
            &[name, "other_hands"],
            format!("other hands before `{name}`"),
        ));
    }
    changes
}
