//! The proof of the checker by mutation: unsafe mutants of the shipped flows are all rejected,
//! at the right step, and safe variations of them all pass. And flows broken by chance.

mod danger;
pub(crate) mod fuzz;
mod proof;
mod safe;
mod shelf;
mod value;

use std::collections::BTreeMap;

use fanwright::flow::embedded;
use fanwright::flow::library::Library;
use fanwright::flow::problem::Problem;
use proof::{Base, Operator, Outcome, judge};
use shelf::Shelf;

/// So many changes that went wrong are told with their lines at most.
const TOLD_MAX: usize = 8;

fn judged(operators: &[Operator], what: &str) -> Outcome {
    let shelf = Shelf::shipped();
    let outcome = judge(&Base::of(&shelf), &shelf, operators);
    println!("{:<46} made right\n{}", "operator", outcome.table);
    println!("{} {what}, {} wrong", outcome.count, outcome.wrong.len());
    outcome
}

fn assert_none_wrong(outcome: &Outcome) {
    let told: Vec<String> = outcome.wrong.iter().take(TOLD_MAX).cloned().collect();
    let brief = outcome.brief.join("\n");
    assert!(outcome.wrong.is_empty(), "{brief}\n\n{}", told.join("\n"));
}

#[test]
fn every_unsafe_mutant_of_the_shipped_flows_is_rejected_at_the_right_step() {
    let outcome = judged(&danger::operators(), "unsafe mutants");
    assert_none_wrong(&outcome);
    assert!(outcome.count >= 500, "only {} mutants", outcome.count);
}

#[test]
fn no_safe_variation_of_the_shipped_flows_has_an_error() {
    let outcome = judged(&safe::operators(), "safe variations");
    assert_none_wrong(&outcome);
    assert!(outcome.count >= 200, "only {} variations", outcome.count);
}

#[test]
fn flows_with_a_file_changed_load_as_if_read_anew() {
    let before = embedded::library().unwrap();
    let changes = [
        ("finish: made_safe", "finish: cannot_be_made_safe"),
        ("  made_safe: Locked", "  made_quite_safe: Locked"),
        ("flow: make-safe", "flow: make-it-safe"),
        ("start: begin", "start: nowhere"),
        ("steps:", "steps"),
    ];
    for (from, to) in changes {
        let mut sources = embedded::sources();
        let text = sources.files["make-safe.yaml"].replacen(from, to, 1);
        assert_ne!(text, sources.files["make-safe.yaml"]);
        sources.files.insert("make-safe.yaml".into(), text.clone());
        let changed = BTreeMap::from([("make-safe.yaml".to_owned(), text)]);
        let told = |loaded: Result<Library, Vec<Problem>>| {
            loaded.map(|library| format!("{:?}", library.flows()))
        };
        let (one, other) = (before.with_files(changed), Library::load(sources));
        assert_eq!(told(one), told(other), "{to}");
    }
}
