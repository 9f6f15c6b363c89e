//! More of what is there: advice, help, waits, points, photos, branches, hold points.

use indexmap::IndexMap;

use super::super::danger::thinned;
use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, branches, tested, tests_dead};
use super::super::value::Value;
use super::Row;

pub(super) const OPERATORS: &[Row] = &[
    ("add a step of advice", add_advice),
    ("add a photo", add_a_photo),
    ("add a hold point", add_a_hold),
    ("add why, how and a source", add_help),
    ("ask for more time", add_time),
    ("wait longer", wait_longer),
    ("add a wait", add_a_wait),
    ("measure at more points", more_points),
    ("add a branch that comes back", add_a_branch),
    ("prove anew after a shorter pause", shorter_pause),
];

fn advice() -> Value {
    Value::map(&[
        ("tell", Value::word("Go on")),
        ("hands_off", Value::word("true")),
        ("say", Value::word("Warm your hands before you go on.")),
        ("cite", Value::word("common practice")),
    ])
}

fn add_advice(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps() {
        let changed = draft.with_before(name, "warm_up", advice());
        changes.push(Change::of(changed, &[], format!("advice before `{name}`")));
    }
    thinned(changes, 18)
}

fn add_a_photo(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps() {
        let mut changed = draft.clone();
        let fact = Value::map(&[("photo", Value::word("The unit as it is now"))]);
        let has_facts = changed.value.has("facts");
        if !has_facts {
            changed.value.set("facts", Value::map(&[]));
        }
        changed.value.entries()["facts"].set("as_it_is", fact);
        let step = Value::map(&[
            ("photo", Value::word("as_it_is")),
            ("hands_off", Value::word("true")),
            ("say", Value::word("Take a photo of the unit as it is.")),
            ("cite", Value::word("common practice")),
        ]);
        let changed = changed.with_before(name, "photo_as_it_is", step);
        changes.push(Change::of(changed, &[], format!("a photo before `{name}`")));
    }
    thinned(changes, 11)
}

fn add_a_hold(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps() {
        let step = Value::map(&[
            ("hold", Value::word("supervisor")),
            ("release", Value::word("I looked at it")),
            ("hands_off", Value::word("true")),
            (
                "say",
                Value::word("Wait here until a supervisor has looked."),
            ),
            ("cite", Value::word("common practice")),
        ]);
        let changed = draft.with_before(name, "one_more_look", step);
        changes.push(Change::of(
            changed,
            &[],
            format!("a hold point before `{name}`"),
        ));
    }
    thinned(changes, 11)
}

fn add_help(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(|step| step.has("say")) {
        let changed = draft.with_step(name, |step| {
            step.set("why", Value::word("The next person reads it."));
            step.set("how", Value::word("Ask the one who did it last."));
            step.set(
                "cite",
                Value::words(&["common practice", "29 CFR 1910.333"]),
            );
        });
        changes.push(Change::of(changed, &[], format!("help for `{name}`")));
    }
    thinned(changes, 11)
}

fn add_time(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(|step| !step.has("run") && !step.has("finish")) {
        let changed = draft.with_step(name, |step| {
            step.set("takes_at_least", Value::word("90 s"));
        });
        changes.push(Change::of(changed, &[], format!("more time for `{name}`")));
    }
    thinned(changes, 10)
}

fn wait_longer(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| step.has("wait")) {
        let long = step.word_at("wait").unwrap();
        for longer in [
            format!("2 * ({long})"),
            format!("{long} + minute(3)"),
            format!("max({long}, minute(20))"),
        ] {
            let changed = draft.with_step(name, |step| step.set("wait", Value::word(&longer)));
            changes.push(Change::of(changed, &[], format!("`{name}` waits {longer}")));
        }
    }
    thinned(changes, 23)
}

fn add_a_wait(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps() {
        let step = Value::map(&[
            ("wait", Value::word("minute(2)")),
            ("safety", Value::word("true")),
            ("hands_off", Value::word("true")),
            ("say", Value::word("Let it rest, hands away.")),
            ("cite", Value::word("common practice")),
        ]);
        let changed = draft.with_before(name, "let_it_be", step);
        changes.push(Change::of(changed, &[], format!("a wait before `{name}`")));
    }
    thinned(changes, 11)
}

/// One more wire, to each of the others; one more pair where a charge is.
fn more_points(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(tests_dead) {
        for source in tested(step) {
            let changed = draft.with_step(name, |step| {
                let sources = step.entries()["prove_dead"].entries();
                let spare = add_spare_wire(sources[&source].entries());
                // Hands go to the wire, and what is stored may lie on it.
                for (_, points) in sources.iter_mut().filter(|(name, _)| **name != source) {
                    if let Some(Value::List(pairs)) = points.entries().get_mut("dc") {
                        let of_wires = spare.iter().filter(|pair| !pair.ends_with("ground"));
                        pairs.extend(of_wires.cloned().map(Value::Word));
                    }
                }
            });
            changes.push(Change::of(
                changed,
                &[],
                format!("`{name}`: more of `{source}`"),
            ));
        }
    }
    changes
}

/// Tests a wire more; gives the pairs of the circuit that are new.
fn add_spare_wire(points: &mut IndexMap<String, Value>) -> Vec<String> {
    let mut spare = Vec::new();
    for (meter, pairs) in points.iter_mut() {
        let Value::List(pairs) = pairs else {
            continue;
        };
        let mut wires: Vec<String> = Vec::new();
        for pair in pairs.iter() {
            let ends = pair.as_word().unwrap().split(" to ");
            wires.extend(ends.map(str::to_owned));
        }
        wires.sort();
        wires.dedup();
        let most = if meter == "ac" { wires.len() } else { 1 };
        let more = wires.iter().map(|wire| format!("Spare wire to {wire}"));
        let more: Vec<String> = more.take(most).collect();
        pairs.extend(more.iter().cloned().map(Value::Word));
        if meter == "ac" {
            spare = more;
        }
    }
    spare
}

/// After a choice, one answer leads through a step of advice and back to the way.
fn add_a_branch(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(|step| branches(step).len() == 1) {
        let Some(fact) = step.word_at("choose") else {
            continue;
        };
        let Some(key) = first_key(draft, fact) else {
            continue;
        };
        let go = branches(step)[0].1.clone();
        let mut changed = draft.with_step(name, |step| {
            let when = format!("{fact} == \"{key}\"");
            let aside = [("when", Value::word(&when)), ("go", Value::word("aside"))];
            let on = [("go", Value::word(&go))];
            let ways = vec![Value::map(&aside), Value::map(&on)];
            step.set("then", Value::List(ways));
        });
        let mut aside = advice();
        aside.set("then", Value::word(&go));
        changed.steps_mut().insert("aside".to_owned(), aside);
        changes.push(Change::of(changed, &[], format!("a branch at `{name}`")));
    }
    thinned(changes, 11)
}

fn first_key(draft: &Draft, fact: &str) -> Option<String> {
    let choices = draft.value.get("facts")?.get(fact)?.get("one_of")?;
    Some(choices.as_map()?.keys().next()?.clone())
}

fn shorter_pause(shelf: &Shelf) -> Vec<Change> {
    let drafts = shelf.drafts.values();
    drafts
        .map(|draft| {
            let mut changed = draft.clone();
            changed.value.set("pause_limit", Value::word("10 min"));
            Change::of(changed, &[], "a shorter pause".to_owned())
        })
        .collect()
}
