//! Other names and words, other places in the file.

use super::super::danger::thinned;
use super::super::proof::Change;
use super::super::shelf::{Draft, Shelf, branches, decides, is_marked};
use super::super::value::Value;
use super::Row;

pub(super) const OPERATORS: &[Row] = &[
    ("rename a step", rename_a_step),
    ("rename a fact", rename_a_fact),
    ("word a label or a title anew", another_label),
    ("move a step in the file", move_in_the_file),
    (
        "swap two steps that do not need each other",
        swap_independent,
    ),
];

fn rename_a_step(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps() {
        let new = format!("{name:.40}_anew");
        let mut changed = draft.clone();
        changed.redirect(name, &new);
        let at = changed.steps().get_index_of(name).unwrap();
        let step = changed.steps_mut().shift_remove(name).unwrap();
        changed.steps_mut().shift_insert(at, new, step);
        changes.push(Change::of(changed, &[], format!("`{name}` renamed")));
    }
    thinned(changes, 15)
}

/// Own facts, under a name that nothing else has.
fn rename_a_fact(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let Some(facts) = draft.value.get("facts").and_then(Value::as_map) else {
            continue;
        };
        for name in facts.keys().filter(|name| name.contains('_')) {
            if count_keys(&draft.value, name) != 1 || is_shared(draft, name) {
                continue;
            }
            let new = format!("{name:.40}_anew");
            let mut changed = draft.clone();
            rename_word(&mut changed.value, name, &new);
            let facts = changed.value.entries()["facts"].entries();
            let fact = facts.shift_remove(name.as_str()).unwrap();
            facts.insert(new, fact);
            changes.push(Change::of(
                changed,
                &[],
                format!("the fact `{name}` renamed"),
            ));
        }
    }
    thinned(changes, 15)
}

fn is_shared(draft: &Draft, name: &str) -> bool {
    let lists = ["needs", "gives"].map(|key| draft.value.get(key));
    let mut lists = lists.into_iter().flatten();
    lists.any(|list| list.as_list().iter().any(|it| it.as_word() == Some(name)))
        || draft.steps().values().any(|step| step.has("run"))
}

/// How often something is called so by a key of the file.
fn count_keys(value: &Value, name: &str) -> usize {
    match value {
        Value::Map(entries) => entries
            .iter()
            .map(|(key, value)| usize::from(key == name) + count_keys(value, name))
            .sum(),
        Value::List(items) => items.iter().map(|item| count_keys(item, name)).sum(),
        Value::Word(_) => 0,
    }
}

/// Puts one word for another wherever it stands by itself.
fn rename_word(value: &mut Value, from: &str, to: &str) {
    match value {
        Value::Map(entries) => entries
            .values_mut()
            .for_each(|value| rename_word(value, from, to)),
        Value::List(items) => items
            .iter_mut()
            .for_each(|item| rename_word(item, from, to)),
        Value::Word(text) => {
            let mut out = String::new();
            let mut word = String::new();
            for c in text.chars().chain(['\n']) {
                if c.is_ascii_alphanumeric() || c == '_' {
                    word.push(c);
                    continue;
                }
                out.push_str(if word == from { to } else { &word });
                word.clear();
                out.push(c);
            }
            out.pop();
            *text = out;
        }
    }
}

fn another_label(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let mut titled = draft.clone();
        titled
            .value
            .set("title", Value::word("The same under another title"));
        changes.push(Change::of(titled, &[], "another title".to_owned()));
        for part in ["facts", "energy"] {
            let declared = draft.value.get(part).and_then(Value::as_map);
            for name in declared.into_iter().flatten().map(|(name, _)| name) {
                let mut changed = draft.clone();
                changed.value.entries()[part].entries()[name]
                    .set("label", Value::word("Something by another label"));
                changes.push(Change::of(
                    changed,
                    &[],
                    format!("`{name}` by another label"),
                ));
            }
        }
    }
    thinned(changes, 16)
}

fn move_in_the_file(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (number, (draft, name, _)) in shelf.steps().enumerate() {
        let mut changed = draft.clone();
        let steps = changed.steps_mut();
        let step = steps.shift_remove(name).unwrap();
        let to = if number % 2 == 0 { 0 } else { steps.len() };
        steps.shift_insert(to, name.to_owned(), step);
        changes.push(Change::of(
            changed,
            &[],
            format!("`{name}` moved in the file"),
        ));
    }
    thinned(changes, 15)
}

/// Two steps in a row of which neither is anything to safety, and the second does not speak of
/// what the first asks.
fn swap_independent(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    let plain = |step: &Value| {
        !is_marked(step) && branches(step).len() == 1 && !step.has("wait") && !step.has("work_out")
    };
    for (draft, name, step) in shelf.steps_where(plain) {
        let next = branches(step)[0].1.clone();
        let second = draft.step(&next);
        let asks = ["choose", "measure", "write", "photo"];
        let asked = asks.iter().find_map(|kind| step.word_at(kind));
        let speaks = asked.is_some_and(|fact| second.print().contains(fact));
        let free = plain(second) && !speaks && (!decides(second) || branches(second).len() == 1);
        if free && next != name && draft.before(&next).len() == 1 && next != draft.start() {
            let says = format!("`{name}` and `{next}` swapped");
            changes.push(Change::of(draft.swapped(name, &next), &[], says));
        }
    }
    thinned(changes, 15)
}
