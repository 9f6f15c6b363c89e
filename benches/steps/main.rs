//! What a step costs: `cargo bench --profile fast --no-default-features --bench steps`.
//!
//! Durable steps through the desk over a real journal, beside a bare write and `fdatasync` of
//! frames just as long on the same disk; the memory of idle open jobs. The disk is that of the
//! temporary folder (`TMPDIR`), which must not be one in memory. `STEPS_SECONDS=10` measures
//! longer, `STEPS_JOBS=1,256` at other numbers of jobs, `STEPS_IDLE=8192` so many idle jobs, 0
//! leaves them out.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a bench stops where its input cannot be made, and measures time"
)]

mod bare;
mod crew;
#[path = "../desk.rs"]
mod desk;
mod figures;
mod idle;
#[path = "../library.rs"]
mod library;
#[path = "../memory.rs"]
mod memory;
#[path = "../processor.rs"]
mod processor;
mod rounds;

use std::sync::Arc;
use std::time::Duration;

use crew::Crew;
use fanwright::store::Journal;
use figures::{Figures, number};

/// How many jobs are at work at once, unless `STEPS_JOBS` says otherwise.
const JOBS: &str = "1,16,256,4096";

/// How many idle jobs are opened, unless `STEPS_IDLE` says otherwise.
const IDLE: usize = 16_384;

fn main() {
    let wanted = |name: &str| std::env::var(name).ok();
    let jobs = wanted("STEPS_JOBS").unwrap_or_else(|| JOBS.to_owned());
    let jobs: Vec<usize> = jobs
        .split(',')
        .map(|jobs| jobs.trim().parse().unwrap())
        .collect();
    let seconds = wanted("STEPS_SECONDS").map_or(3.0, |text| text.parse().unwrap());
    let idle = wanted("STEPS_IDLE").map_or(IDLE, |text| text.parse().unwrap());
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build();
    let runtime = runtime.unwrap();
    // First, since it looks at the memory of the whole process.
    if idle > 0 {
        runtime.block_on(idle::print(idle));
    }
    runtime.block_on(durable(&jobs, Duration::from_secs_f64(seconds)));
}

/// The table of durable steps.
async fn durable(sizes: &[usize], long: Duration) {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = Journal::open(&folder.path().join("data")).unwrap();
    let most = sizes.iter().copied().max().unwrap_or(1);
    let crew = Arc::new(Crew::found(Arc::new(journal), most).await);
    println!(
        "\n| durable, on one disk in one run | jobs | a second | p50 | p99 | processor each |"
    );
    println!("|---|---|---|---|---|---|");
    for jobs in sizes.iter().copied() {
        let journal = folder.path().join("data/journal");
        let steps = crew.walked(jobs, long, &journal).await;
        let bytes = steps.bytes_each();
        let bare = bare::written(folder.path(), jobs, bytes, long).await;
        row(
            &format!("bare write and `fdatasync` of {bytes} bytes"),
            jobs,
            &bare,
        );
        row("a step through the desk", jobs, &steps);
        let share = 100.0 * steps.a_second() / bare.a_second();
        let times = steps.at(50).as_secs_f64() / bare.at(50).as_secs_f64();
        println!("| the desk of the bare | {jobs} | {share:.0} % | × {times:.1} | | |");
    }
    crew.close().await;
}

fn row(what: &str, jobs: usize, it: &Figures) {
    let micros = |long: Duration| format!("{:.0} µs", long.as_secs_f64() * 1e6);
    println!(
        "| {what} | {jobs} | {} | {} | {} | {:.1} µs |",
        number(it.a_second()),
        micros(it.at(50)),
        micros(it.at(99)),
        it.processor_each().as_secs_f64() * 1e6
    );
}
