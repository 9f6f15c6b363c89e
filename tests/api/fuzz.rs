//! Bodies changed by chance: every operation answers them as it is described, and with no fault.

use std::time::{Duration, Instant};

use jiff::SignedDuration;
use reqwest::StatusCode;

use super::World;
use super::document::{Operation, Things, body, things};
use crate::fuzz::chance::Chance;
use crate::fuzz::change;

/// Asks until there is enough; tells how many requests there were, and how many were taken.
async fn run(first: u64, is_enough: impl Fn(u64) -> bool) -> (u64, u64) {
    let world = World::new().await;
    let ours = things(&world, &world.sam, "look-twice").await;
    let token = world.token().await;
    let operations: Vec<Operation> = Operation::all()
        .into_iter()
        .filter(|operation| body(operation, &ours).is_some())
        .collect();
    let (mut asked, mut taken) = (0, 0);
    while !is_enough(asked) {
        let number = first + asked;
        let mut chance = Chance(number);
        let operation = chance.of(&operations);
        // The count of requests is filled again, and nothing of it is about time.
        world.after(SignedDuration::from_secs(1));
        let status = ask((&world, &token), operation, &ours, &mut chance).await;
        assert!(
            !status.is_server_error(),
            "{} number {number}: {status}",
            operation.name()
        );
        asked += 1;
        taken += u64::from(status.is_success());
    }
    (asked, taken)
}

async fn ask(
    (world, token): (&World, &str),
    operation: &Operation,
    ours: &Things,
    chance: &mut Chance,
) -> StatusCode {
    let mut body = body(operation, ours);
    if let Some(body) = &mut body {
        for _ in 0..chance.below(4) {
            change::json(body, chance);
        }
    }
    let path = ours.fill(&operation.path);
    operation.ask(world, token, (&path, body)).await.status
}

#[tokio::test]
async fn no_body_brings_the_api_to_a_fault() {
    let (asked, taken) = run(1, |asked| asked >= 400).await;
    assert!(taken > 0 && taken < asked, "{taken} of {asked} were taken");
}

/// As long as `FUZZ_SECONDS` says; run it by name.
#[tokio::test]
#[ignore = "runs as long as one wants: FUZZ_SECONDS=600"]
async fn fuzz_api() {
    let seconds = std::env::var("FUZZ_SECONDS").ok();
    let seconds = seconds.and_then(|it| it.parse().ok()).unwrap_or(10);
    let end = Instant::now() + Duration::from_secs(seconds);
    let (asked, taken) = run(1_000_000, |_| Instant::now() > end).await;
    println!("{asked} requests, {taken} of them taken, no fault");
}
