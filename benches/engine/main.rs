//! The engine and the reading parser alone, without a store and without a desk:
//! `cargo bench --profile fast --no-default-features --bench engine`.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a bench stops where its input cannot be made, and measures time"
)]

mod course;
#[path = "../library.rs"]
mod library;
#[path = "../steps/rounds.rs"]
mod rounds;

use std::hint::black_box;
use std::time::Instant;

use fanwright::flow::embedded;
use fanwright::trade::quantity::Kind;
use fanwright::walk::reading::{self, Wanted};

use course::Course;

/// How often everything is done.
const TURNS: usize = 200;

fn main() {
    println!("| alone, on one thread | time | allocations | bytes allocated |");
    println!("|---|---|---|---|");
    let rounds = Course::around();
    let shipped = embedded::library().unwrap();
    let shipped = Course::along(shipped.edition(&embedded::main_flow()).unwrap());
    for (name, course) in [("a small flow", &rounds), ("the shipped flow", &shipped)] {
        let count = course.steps.len();
        let all = |what: &str| format!("{what}, mean of {count} steps of {name}");
        measure(&all("decide and apply"), count, || {
            black_box(course.decided());
        });
        measure(&all("prompt"), count, || {
            black_box(course.prompted());
        });
    }
    let wanted = Wanted::new(Kind::Voltage).plausible(0.0, 700.0);
    let typed = ["208", "208 V", "208,5 volts", "0.21kV", "1 1/2", "no idea"];
    measure("read what was typed", typed.len(), || {
        for text in typed {
            black_box(reading::parse(black_box(text), &wanted).ok());
        }
    });
}

/// Prints what one of `count` things costs that `work` does.
fn measure(what: &str, count: usize, mut work: impl FnMut()) {
    work();
    let allocated = allocation_counter::measure(&mut work);
    let mut best = f64::INFINITY;
    for _ in 0..TURNS {
        let begin = Instant::now();
        work();
        best = best.min(begin.elapsed().as_secs_f64());
    }
    let each = |all: u64| all as f64 / count as f64;
    println!(
        "| {what} | {:.0} ns | {:.1} | {:.0} |",
        best * 1e9 / count as f64,
        each(allocated.count_total),
        each(allocated.bytes_total)
    );
}
