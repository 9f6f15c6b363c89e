//! The shipped flows as values, and the edits from which operators are made.

use std::collections::{BTreeMap, BTreeSet};

use fanwright::flow::embedded;
use indexmap::IndexMap;

use super::value::Value;

/// All shipped flows, by file.
pub(super) struct Shelf {
    pub(super) drafts: BTreeMap<String, Draft>,
}

/// One flow file that can be changed.
#[derive(Clone)]
pub(super) struct Draft {
    pub(super) file: String,
    pub(super) value: Value,
}

impl Shelf {
    pub(super) fn shipped() -> Self {
        let files = embedded::sources().files;
        let drafts = files.into_iter().map(|(file, text)| {
            let value = Value::read(&file, &text);
            (file.clone(), Draft { file, value })
        });
        Self {
            drafts: drafts.collect(),
        }
    }

    pub(super) fn draft(&self, flow: &str) -> &Draft {
        &self.drafts[&format!("{flow}.yaml")]
    }

    /// Every step: its flow and its name.
    pub(super) fn steps(&self) -> impl Iterator<Item = (&Draft, &str, &Value)> {
        self.drafts.values().flat_map(|draft| {
            let steps = draft.steps().iter();
            steps.map(move |(name, step)| (draft, name.as_str(), step))
        })
    }

    /// The steps that are so.
    pub(super) fn steps_where<'s>(
        &'s self,
        is: impl Fn(&Value) -> bool + 's,
    ) -> impl Iterator<Item = (&'s Draft, &'s str, &'s Value)> {
        self.steps().filter(move |(_, _, step)| is(step))
    }
}

impl Draft {
    /// The name of the flow.
    pub(super) fn flow(&self) -> &str {
        self.value.word_at("flow").unwrap()
    }

    pub(super) fn steps(&self) -> &IndexMap<String, Value> {
        self.value.get("steps").unwrap().as_map().unwrap()
    }

    pub(super) fn step(&self, name: &str) -> &Value {
        &self.steps()[name]
    }

    pub(super) fn step_mut(&mut self, name: &str) -> &mut Value {
        self.steps_mut().get_mut(name).unwrap()
    }

    pub(super) fn steps_mut(&mut self) -> &mut IndexMap<String, Value> {
        self.value.entries().get_mut("steps").unwrap().entries()
    }

    /// The draft with one step changed.
    pub(super) fn with_step(&self, name: &str, change: impl Fn(&mut Value)) -> Self {
        let mut draft = self.clone();
        change(draft.step_mut(name));
        draft
    }

    /// The declared energy sources, of these kinds where any are given.
    pub(super) fn sources(&self, kinds: &[&str]) -> Vec<String> {
        let energy = self.value.get("energy").and_then(Value::as_map);
        let sources = energy.into_iter().flatten().filter(|(_, source)| {
            let kind = source.word_at("kind").unwrap_or_default();
            kinds.is_empty() || kinds.contains(&kind)
        });
        sources.map(|(name, _)| name.clone()).collect()
    }

    /// Sends every way that leads to one step to another step.
    pub(super) fn redirect(&mut self, from: &str, to: &str) {
        if self.value.word_at("start") == Some(from) {
            self.value.set("start", Value::word(to));
        }
        for step in self.steps_mut().values_mut() {
            redirect_step(step, from, to);
        }
    }

    /// The draft without a step: whoever came to it comes to `to`.
    pub(super) fn without(&self, step: &str, to: &str) -> Self {
        let mut draft = self.clone();
        draft.steps_mut().shift_remove(step);
        draft.redirect(step, to);
        draft
    }

    /// The draft with a new step right before another: whoever came to that comes to the new one.
    pub(super) fn with_before(&self, step: &str, name: &str, mut new: Value) -> Self {
        let mut draft = self.clone();
        draft.redirect(step, name);
        new.set("then", Value::word(step));
        let at = draft.steps().get_index_of(step).unwrap();
        draft.steps_mut().shift_insert(at, name.to_owned(), new);
        draft
    }

    /// The draft with two steps in each other's place.
    pub(super) fn swapped(&self, one: &str, other: &str) -> Self {
        const NOWHERE: &str = "nowhere_at_all";
        let mut draft = self.clone();
        let ways = ["then", "not_dead", "unable"];
        for (from, to) in [(one, NOWHERE), (other, one), (NOWHERE, other)] {
            draft.redirect(from, to);
        }
        let take = |draft: &mut Draft, name: &str| {
            ways.map(|way| draft.step_mut(name).entries().shift_remove(way))
        };
        let (mut of_one, mut of_other) = (take(&mut draft, one), take(&mut draft, other));
        // Where a test goes on failure belongs to the test, not to its place.
        for way in 1..3 {
            std::mem::swap(&mut of_one[way], &mut of_other[way]);
        }
        for (name, ways_of) in [(one, of_other), (other, of_one)] {
            for (way, value) in ways.iter().zip(ways_of) {
                if let Some(value) = value {
                    draft.step_mut(name).set(way, value);
                }
            }
        }
        draft
    }

    /// The steps that lead to one.
    pub(super) fn before(&self, step: &str) -> Vec<String> {
        let leads = |value: &Value| targets(value).iter().any(|to| to == step);
        let before = self.steps().iter().filter(|(_, value)| leads(value));
        before.map(|(name, _)| name.clone()).collect()
    }

    /// The steps that can be come to from `from`, past none that is closed.
    pub(super) fn reached(&self, from: &str, closed: impl Fn(&Value) -> bool) -> BTreeSet<String> {
        let mut reached = BTreeSet::new();
        let mut waiting = vec![from.to_owned()];
        while let Some(name) = waiting.pop() {
            if reached.insert(name.clone()) && !closed(self.step(&name)) {
                waiting.extend(targets(self.step(&name)));
            }
        }
        reached
    }

    /// Whether one step comes before another on a way that only goes down the file.
    pub(super) fn comes_first(&self, one: &str, other: &str) -> bool {
        let place = |name: &str| self.steps().get_index_of(name).unwrap();
        let end = place(other);
        let mut waiting = vec![place(one)];
        let mut seen = BTreeSet::new();
        while let Some(at) = waiting.pop() {
            let Some((_, step)) = self.steps().get_index(at) else {
                continue;
            };
            let then = branches(step).into_iter().map(|(_, to)| place(&to));
            for to in then.filter(|to| *to > at && *to <= end) {
                if to == end {
                    return true;
                }
                if seen.insert(to) {
                    waiting.push(to);
                }
            }
        }
        false
    }

    pub(super) fn start(&self) -> &str {
        self.value.word_at("start").unwrap()
    }
}

fn redirect_step(step: &mut Value, from: &str, to: &str) {
    for way in ["unable", "not_dead", "then"] {
        let Some(value) = step.entries().get_mut(way) else {
            continue;
        };
        match value {
            Value::Word(go) if go == from => to.clone_into(go),
            Value::List(branches) => {
                for branch in branches {
                    if branch.word_at("go") == Some(from) {
                        branch.set("go", Value::word(to));
                    }
                }
            }
            _ => {}
        }
    }
}

/// The ways of `then`: condition and step.
pub(super) fn branches(step: &Value) -> Vec<(Option<String>, String)> {
    match step.get("then") {
        Some(Value::Word(go)) => vec![(None, go.clone())],
        Some(Value::List(items)) => {
            let branches = items.iter();
            branches
                .map(|branch| {
                    let when = branch.word_at("when").map(str::to_owned);
                    (when, branch.word_at("go").unwrap().to_owned())
                })
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Every step that this one can lead to.
pub(super) fn targets(step: &Value) -> Vec<String> {
    let then = branches(step).into_iter().map(|(_, go)| go);
    let other = ["unable", "not_dead"].into_iter();
    let other = other.filter_map(|way| step.word_at(way).map(str::to_owned));
    then.chain(other).collect()
}

/// The last way of `then`: where it goes when nothing else holds.
pub(super) fn last_way(step: &Value) -> Option<String> {
    branches(step).pop().map(|(_, go)| go)
}

impl Draft {
    /// Where a step goes when all is well: the way from which most steps can still be come to.
    pub(super) fn way_on(&self, name: &str) -> String {
        let ways = branches(self.step(name)).into_iter().map(|(_, go)| go);
        let mut ways: Vec<String> = ways.filter(|go| go != name).collect();
        let own = self.step(name);
        ways.sort_by_key(|go| self.reached(go, |step| std::ptr::eq(step, own)).len());
        ways.pop().unwrap()
    }
}

/// What a step sets: source and word.
pub(super) fn sets(step: &Value) -> Vec<(String, String)> {
    let sets = step.get("sets").and_then(Value::as_map);
    let sets = sets.into_iter().flatten();
    sets.filter_map(|(source, word)| Some((source.clone(), word.as_word()?.to_owned())))
        .collect()
}

/// Whether a step sets any source so.
pub(super) fn sets_any(step: &Value, word: &str) -> bool {
    sets(step).iter().any(|(_, set)| set == word)
}

pub(super) fn has_duty(step: &Value, duty: &str) -> bool {
    step.word_at("duty") == Some(duty)
}

pub(super) fn touches(step: &Value) -> bool {
    step.has("touches")
}

pub(super) fn tests_dead(step: &Value) -> bool {
    step.has("prove_dead")
}

/// The sources that a step tests for dead.
pub(super) fn tested(step: &Value) -> Vec<String> {
    let tested = step.get("prove_dead").and_then(Value::as_map);
    tested
        .into_iter()
        .flatten()
        .map(|(name, _)| name.clone())
        .collect()
}

/// Whether somebody answers something that can change the way.
pub(super) fn decides(step: &Value) -> bool {
    [
        "choose",
        "measure",
        "prove_dead",
        "run",
        "work_out",
        "finish",
    ]
    .iter()
    .any(|kind| step.has(kind))
}

/// Whether a step marks or does anything that safety hangs on.
pub(super) fn is_marked(step: &Value) -> bool {
    let keys = [
        "sets",
        "duty",
        "leads",
        "touches",
        "tests_live",
        "prove_dead",
        "hold",
        "run",
        "finish",
        "safety",
        "by",
    ];
    keys.iter().any(|key| step.has(key))
}

/// A step that only sets something, hands off.
pub(super) fn setting(sets: &[(&str, &str)]) -> Value {
    let sets: Vec<(&str, Value)> = sets
        .iter()
        .map(|(source, word)| (*source, Value::word(word)))
        .collect();
    Value::map(&[
        ("confirm", Value::word("It is done")),
        ("hands_off", Value::word("true")),
        ("sets", Value::map(&sets)),
        ("say", Value::word("Do it at the panel.")),
        ("cite", Value::word("common practice")),
    ])
}
