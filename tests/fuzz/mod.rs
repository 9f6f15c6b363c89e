//! Hostile input by chance: whatever reads what people send never panics and comes to an end.
//!
//! Each target has seeds that are read well and is given changed ones. What comes to something
//! that was not seen before is changed further, so that the changes find their way inwards. A
//! short run is a test; for longer, one target or all:
//! `FUZZ_SECONDS=600 FUZZ_TARGET=verify cargo test --locked --test all fuzz_targets -- --ignored
//! --nocapture`.

pub(crate) mod chance;
pub(crate) mod change;
mod found;
pub(crate) mod seeds;
mod targets;

use std::collections::HashSet;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::time::{Duration, Instant};

use chance::Chance;
use seeds::seeds;
use targets::{TARGETS, Target};

/// So many inputs are kept to be changed further.
const CORPUS_MAX: usize = 4_096;

/// The most bytes of an input.
const INPUT_BYTES_MAX: usize = 64 * 1024;

/// How a run went.
#[derive(Debug)]
struct Figures {
    cases: u64,
    /// Inputs that came to something new.
    corpus: usize,
    /// How long the slowest took, and its number.
    slowest: (Duration, u64),
}

/// Changes seeds until there is enough.
fn run(target: &Target, first: u64, is_enough: impl Fn(u64) -> bool) -> Figures {
    let mut corpus = seeds(target.name);
    let mut known: HashSet<String> = corpus.iter().map(|seed| (target.read)(seed)).collect();
    let mut figures = Figures {
        cases: 0,
        corpus: corpus.len(),
        slowest: (Duration::ZERO, first),
    };
    while !is_enough(figures.cases) {
        let number = first + figures.cases;
        let mut chance = Chance(number);
        let mut input = change::bytes(&corpus, target.pieces, &mut chance);
        input.truncate(INPUT_BYTES_MAX);
        let began = Instant::now();
        let came = catch_unwind(AssertUnwindSafe(|| (target.read)(&input)));
        figures.slowest = figures.slowest.max((began.elapsed(), number));
        figures.cases += 1;
        let came = came.unwrap_or_else(|panic| {
            eprintln!("{} number {number}: {}", target.name, input.escape_ascii());
            resume_unwind(panic)
        });
        if known.insert(came) && corpus.len() < CORPUS_MAX {
            corpus.push(input);
        }
    }
    figures.corpus = corpus.len();
    figures
}

#[test]
fn nothing_that_reads_hostile_input_panics() {
    for target in TARGETS {
        let before = seeds(target.name).len();
        let figures = run(target, 1, |cases| cases >= target.short_run);
        assert!(
            figures.corpus > before,
            "{}: no change came to anything new",
            target.name
        );
    }
}

/// As long as `FUZZ_SECONDS` says, for each target or the one that `FUZZ_TARGET` names.
#[test]
#[ignore = "runs as long as one wants: FUZZ_SECONDS=600"]
fn fuzz_targets() {
    let given = |name: &str| std::env::var(name).ok();
    let seconds = given("FUZZ_SECONDS").and_then(|it| it.parse().ok());
    let first = given("FUZZ_SEED").and_then(|it| it.parse().ok());
    let only = given("FUZZ_TARGET");
    for target in TARGETS {
        if only.as_deref().is_some_and(|only| only != target.name) {
            continue;
        }
        let end = Instant::now() + Duration::from_secs(seconds.unwrap_or(10));
        let figures = run(target, first.unwrap_or(1_000_000), |_| Instant::now() > end);
        let (slow, number) = figures.slowest;
        println!(
            "{}: {} cases, {} came to something new, no panic; the slowest took {slow:?} (number \
             {number})",
            target.name, figures.cases, figures.corpus
        );
        assert!(
            slow < Duration::from_secs(60),
            "number {number} took {slow:?}"
        );
    }
}
