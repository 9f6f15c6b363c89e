//! Hands before the proof: proofs dropped, thinned out, gone round, or lost again.

use super::super::proof::Change;
use super::super::shelf::{
    Draft, Shelf, branches, last_way, setting, targets, tested, tests_dead, touches,
};
use super::super::value::Value;
use super::{Row, thinned};

/// What is found where hands go in, or a blade is blocked, before all is proved.
const TOUCHED: &[&str] = &["touched_before_proved"];

pub(super) const OPERATORS: &[Row] = &[
    ("drop the run of the proving flow", TOUCHED, drop_the_run),
    ("drop a proof step", TOUCHED, drop_a_proof),
    (
        "say it is dead instead of testing",
        TOUCHED,
        confirm_for_proof,
    ),
    ("drop one source from a proof", TOUCHED, drop_a_source),
    (
        "drop one measuring point",
        &["points_incomplete"],
        drop_a_point,
    ),
    ("route around the proof", TOUCHED, route_around),
    ("go past a live reading", TOUCHED, past_not_dead),
    (
        "go on however the proving flow ended",
        TOUCHED,
        outcome_ignored,
    ),
    ("touch before the proof", TOUCHED, touch_early),
    ("touch after the locks came off", TOUCHED, touch_late),
    (
        "leave one source out of touches",
        &["source_left_out"],
        leave_a_source_out,
    ),
    (
        "bind the proving flow to another circuit",
        TOUCHED,
        bind_wrongly,
    ),
    (
        "prove by a flow that proves nothing",
        &["proof_out_of_reach", "flows_do_not_fit"],
        proved_by_another,
    ),
    (
        "test live parts unqualified or without gear",
        &["live_test_unguarded", "not_in_the_language"],
        unguarded,
    ),
];

/// The flows that others name as the ones that prove.
fn provers(shelf: &Shelf) -> Vec<String> {
    let mut provers: Vec<String> = Vec::new();
    for draft in shelf.drafts.values() {
        let energy = draft.value.get("energy").and_then(Value::as_map);
        for (_, source) in energy.into_iter().flatten() {
            provers.extend(source.word_at("proved_by").map(str::to_owned));
        }
    }
    provers.sort();
    provers.dedup();
    provers
}

/// A run that drains a charge which came back, where hands are in on the proof of before. Without
/// it the same reading is asked for again, and hands go on only below the limit.
const DRAINS_AGAIN: &str = "lock_and_test_again";

/// The `run` steps of flows that prove, for hands that are not in yet.
fn runs_before_hands(shelf: &Shelf) -> impl Iterator<Item = (&Draft, &str, &Value)> {
    let runs = proving_runs(shelf).into_iter();
    runs.filter(|(_, name, _)| *name != DRAINS_AGAIN)
}

/// The `run` steps of flows that prove.
fn proving_runs(shelf: &Shelf) -> Vec<(&Draft, &str, &Value)> {
    let provers = provers(shelf);
    let runs = shelf.steps().filter(|(_, _, step)| {
        let run = step.word_at("run").unwrap_or_default();
        provers.iter().any(|prover| prover == run)
    });
    runs.collect()
}

/// Where a run of a proving flow goes when all is proved: the first way that is for it.
fn way_when_proved(step: &Value) -> String {
    let ways = branches(step);
    let proved = ways.iter().find(|(when, _)| {
        when.as_ref()
            .is_none_or(|when| !when.contains("left_locked_out") && !when.contains("cannot_be"))
    });
    proved.map(|(_, go)| go.clone()).unwrap()
}

fn right<'r>(step: &'r str, before: &'r [String]) -> Vec<&'r str> {
    std::iter::once(step)
        .chain(before.iter().map(String::as_str))
        .collect()
}

fn drop_the_run(shelf: &Shelf) -> Vec<Change> {
    runs_before_hands(shelf)
        .map(|(draft, name, step)| {
            let before = draft.before(name);
            Change::of(
                draft.without(name, &way_when_proved(step)),
                &right(name, &before),
                format!("without `{name}`"),
            )
        })
        .collect()
}

fn outcome_ignored(shelf: &Shelf) -> Vec<Change> {
    let runs = proving_runs(shelf).into_iter();
    runs.map(|(draft, name, step)| {
        let go = way_when_proved(step);
        let changed = draft.with_step(name, |step| step.set("then", Value::word(&go)));
        Change::of(
            changed,
            &[name],
            format!("`{name}` goes on to `{go}` always"),
        )
    })
    .collect()
}

fn drop_a_proof(shelf: &Shelf) -> Vec<Change> {
    let proofs = shelf.steps_where(tests_dead);
    proofs
        .map(|(draft, name, _)| {
            let before = draft.before(name);
            Change::of(
                draft.without(name, &draft.way_on(name)),
                &right(name, &before),
                format!("without `{name}`"),
            )
        })
        .collect()
}

fn confirm_for_proof(shelf: &Shelf) -> Vec<Change> {
    let proofs = shelf.steps_where(tests_dead);
    proofs
        .map(|(draft, name, _)| {
            let changed = draft.with_step(name, |step| {
                for key in ["prove_dead", "limit", "not_dead"] {
                    step.drop_key(key);
                }
                step.set("confirm", Value::word("All of it is dead"));
            });
            Change::of(changed, &[name], format!("`{name}` only asks"))
        })
        .collect()
}

fn drop_a_source(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(tests_dead) {
        let sources = tested(step);
        for source in sources.iter().filter(|_| sources.len() > 1) {
            let changed = draft.with_step(name, |step| {
                step.entries()["prove_dead"].drop_key(source);
            });
            changes.push(Change::of(
                changed,
                &[name],
                format!("`{name}` without `{source}`"),
            ));
        }
    }
    changes
}

fn drop_a_point(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, step) in shelf.steps_where(tests_dead) {
        for source in tested(step) {
            let points = step
                .get("prove_dead")
                .and_then(|it| it.get(&source))
                .unwrap();
            for (meter, pairs) in points.as_map().unwrap() {
                for at in 0..pairs.as_list().len() {
                    let changed = draft.with_step(name, |step| {
                        let points = &mut step.entries()["prove_dead"].entries()[&source];
                        if let Value::List(pairs) = &mut points.entries()[meter] {
                            pairs.remove(at);
                        }
                    });
                    let says = format!("`{name}` without pair {at} of `{source}` on {meter}");
                    changes.push(Change::of(changed, &[name], says));
                }
            }
        }
    }
    changes
}

/// From every step that can be come to before a source is tested, a way past its test: right
/// behind it, or to the end that says that all is proved.
fn route_around(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, proof, step) in shelf.steps_where(tests_dead) {
        let sources = tested(step);
        let tests_it = |step: &Value| tested(step).iter().any(|it| sources.contains(it));
        let early = draft.reached(draft.start(), tests_it);
        let end = draft.steps().iter().find(|(_, step)| {
            step.word_at("finish")
                .is_some_and(|it| it.ends_with("made_safe") && !it.starts_with("cannot"))
        });
        let behind = last_way(step).unwrap();
        let goals = [behind.as_str(), end.unwrap().0.as_str()];
        let from = early.iter().filter(|name| {
            let step = draft.step(name);
            !tests_it(step) && !step.has("finish") && !step.has("run")
        });
        for (number, from) in from.enumerate() {
            let goal = goals[number % 2];
            let changed = draft.with_step(from, |step| {
                let mut ways = vec![Value::map(&[
                    ("when", Value::word("visit == \"same_locks\"")),
                    ("go", Value::word(goal)),
                ])];
                for (when, go) in branches(step) {
                    let mut way = Value::map(&[]);
                    if let Some(when) = when {
                        way.set("when", Value::word(&when));
                    }
                    way.set("go", Value::word(&go));
                    ways.push(way);
                }
                step.set("then", Value::List(ways));
            });
            let says = format!("from `{from}` past `{proof}` to `{goal}`");
            changes.push(Change::of(changed, &[from], says));
        }
    }
    thinned(changes, 24)
}

fn past_not_dead(shelf: &Shelf) -> Vec<Change> {
    let proofs = shelf.steps_where(tests_dead);
    proofs
        .map(|(draft, name, step)| {
            let go = last_way(step).unwrap();
            let changed = draft.with_step(name, |step| step.set("not_dead", Value::word(&go)));
            Change::of(
                changed,
                &[name],
                format!("`{name}` goes on to `{go}` when live"),
            )
        })
        .collect()
}

/// A step that reaches into everything that the flow declares.
pub(super) fn reaching_in(draft: &Draft) -> Value {
    let sources = draft.sources(&[]);
    let sources: Vec<&str> = sources.iter().map(String::as_str).collect();
    Value::map(&[
        ("confirm", Value::word("It is loosened")),
        ("touches", Value::words(&sources)),
        ("say", Value::word("Loosen the motor.")),
        ("cite", Value::word("common practice")),
    ])
}

/// Before every step that can be come to before the tests: of the flow that proves itself, and
/// before each run of it.
fn touch_early(shelf: &Shelf) -> Vec<Change> {
    let mut places: Vec<(&Draft, String)> = Vec::new();
    for prover in provers(shelf) {
        let draft = shelf.draft(&prover);
        let early = draft.reached(draft.start(), tests_dead);
        let early = early.into_iter().filter(|name| {
            let step = draft.step(name);
            !step.has("finish")
        });
        places.extend(early.map(|name| (draft, name)));
    }
    places.extend(
        proving_runs(shelf)
            .into_iter()
            .map(|(draft, name, _)| (draft, name.to_owned())),
    );
    let changes = places.into_iter().map(|(draft, name)| {
        let changed = draft.with_before(&name, "reach_in", reaching_in(draft));
        Change::of(
            changed,
            &["reach_in"],
            format!("reaching in before `{name}`"),
        )
    });
    thinned(changes.collect(), 16)
}

/// Before every step that can be come to once a lock came off.
fn touch_late(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let unlocks = draft.steps().iter();
        let unlocks = unlocks.filter(|(_, step)| super::super::shelf::sets_any(step, "unlocked"));
        let mut late: Vec<String> = Vec::new();
        for (_, step) in unlocks {
            for to in targets(step) {
                late.extend(draft.reached(&to, |step| step.has("run")));
            }
        }
        late.sort();
        late.dedup();
        for name in late.iter().filter(|_| !draft.sources(&[]).is_empty()) {
            let changed = draft.with_before(name, "reach_in", reaching_in(draft));
            let says = format!("reaching in before `{name}`");
            changes.push(Change::of(changed, &["reach_in"], says));
        }
    }
    thinned(changes, 15)
}

/// One source less where hands go in. A blade may be left out where it is free to be turned, so
/// only steps that name one lose it.
fn leave_a_source_out(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (number, (draft, name, step)) in shelf.steps_where(touches).enumerate() {
        let touched = step.get("touches").unwrap().as_list();
        let at = number % touched.len();
        let source = touched[at].as_word().unwrap();
        let changed = draft.with_step(name, |step| {
            if let Value::List(list) = &mut step.entries()["touches"] {
                list.remove(at);
            }
        });
        changes.push(Change::of(
            changed,
            &[name],
            format!("`{name}` without `{source}`"),
        ));
    }
    thinned(changes, 18)
}

/// Two circuits of the runner for one of the flow that locks and tests.
fn bind_wrongly(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in runs_before_hands(shelf) {
        let circuits = draft.sources(&["electrical"]);
        for (at, circuit) in circuits.iter().enumerate() {
            let other = &circuits[(at + 1) % circuits.len()];
            let changed = draft.with_step(name, |step| {
                step.set("energy", Value::map(&[(circuit, Value::word(other))]));
            });
            let says = format!("`{name}` works on `{other}` for `{circuit}`");
            changes.push(Change::of(changed, &[name], says));
        }
    }
    changes
}

/// `proved_by` left out, or naming a flow that tests nothing.
fn proved_by_another(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for draft in shelf.drafts.values() {
        let touching: Vec<&str> = draft
            .steps()
            .iter()
            .filter(|(_, step)| touches(step))
            .map(|(name, _)| name.as_str())
            .collect();
        let named = |source: &String| {
            touching.iter().find(|name| {
                let list = draft.step(name).get("touches").unwrap().as_list();
                list.iter().any(|it| it.as_word() == Some(source))
            })
        };
        for source in draft.sources(&[]) {
            let Some(step) = named(&source) else {
                continue;
            };
            let prover = [None, Some("leave-locked-out")][changes.len() % 2];
            let mut changed = draft.clone();
            let declared = &mut changed.value.entries()["energy"].entries()[&source];
            match prover {
                Some(prover) => declared.set("proved_by", Value::word(prover)),
                None => declared.drop_key("proved_by"),
            }
            let says = format!("`{source}` proved by {prover:?}");
            changes.push(Change::of(changed, &[step, &source], says));
        }
    }
    thinned(changes, 21)
}

fn unguarded(shelf: &Shelf) -> Vec<Change> {
    let mut changes = Vec::new();
    for (draft, name, _) in shelf.steps_where(|step| step.has("tests_live")) {
        let mut push = |says: &str, change: &dyn Fn(&mut Value)| {
            let changed = draft.with_step(name, change);
            changes.push(Change::of(changed, &[name], format!("`{name}` {says}")));
        };
        push("by anybody", &|step| step.drop_key("by"));
        push("by an apprentice too", &|step| {
            step.set("by", Value::words(&["apprentice", "technician"]));
        });
        push("without gear", &|step| step.drop_key("gear"));
    }
    for (draft, name, _) in shelf.steps_where(tests_dead) {
        let changed = draft.with_step(name, |step| {
            for key in ["tests_live", "gear"] {
                step.drop_key(key);
            }
            step.set("hands_off", Value::word("true"));
        });
        changes.push(Change::of(
            changed,
            &[name],
            format!("`{name}` as if it were dead"),
        ));
    }
    thinned(changes, 24)
}

/// `closed`, `opened` and `unlocked` are set between the proof and the hands; see `locks`.
pub(super) fn set_before_touching(shelf: &Shelf, word: &str, most: usize) -> Vec<Change> {
    let mut changes = Vec::new();
    for (number, (draft, name, step)) in shelf.steps_where(touches).enumerate() {
        let touched = step.get("touches").unwrap().as_list();
        let circuits = draft.sources(&["electrical"]);
        let touched: Vec<&str> = touched.iter().filter_map(Value::as_word).collect();
        let circuits: Vec<&String> = circuits
            .iter()
            .filter(|it| touched.contains(&it.as_str()))
            .collect();
        let circuit = circuits[number % circuits.len()];
        let changed = draft.with_before(name, "set_early", setting(&[(circuit, word)]));
        let says = format!("`{circuit}` {word} before `{name}`");
        changes.push(Change::of(changed, &["set_early"], says));
    }
    thinned(changes, most)
}
