//! What holds of every reminder, whatever happens.

use fanwright::desk::hours::typed::Wish;
use fanwright::desk::reminders::rhythm::{A_DAY_MAX, APART};
use fanwright::flow::model::Role;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;

use super::super::{World, chat, press};
use super::Came;

/// What happens to a job at a hold point, one thing after so many minutes.
#[derive(Clone, Copy, Debug)]
enum Turns {
    Nothing,
    Restart,
    Released,
    Wish(usize),
}

const WISHES: [&str; 4] = [
    "none",
    "20:00 06:00",
    "8:00 18:00 Asia/Kathmandu",
    "1:00 23:00",
];

fn turns() -> impl Strategy<Value = Vec<(i64, Turns)>> {
    let turn = prop_oneof![
        3 => Just(Turns::Nothing),
        1 => Just(Turns::Restart),
        1 => Just(Turns::Released),
        2 => (0..WISHES.len()).prop_map(Turns::Wish),
    ];
    proptest::collection::vec((0i64..4_000, turn), 1..10)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn reminders_come_never_in_quiet_hours_never_when_done_and_never_too_often(
        (jobs, turns) in (1usize..5, turns())
    ) {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(hold_to_it(jobs, turns));
    }
}

async fn hold_to_it(jobs: usize, turns: Vec<(i64, Turns)>) {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let mut waiting = Vec::new();
    for _ in 0..jobs {
        waiting.push(world.at_the_hold(&tess).await);
    }
    let mut all: Vec<Timestamp> = Vec::new();
    for (minutes, turn) in turns {
        let (now, _) = *world.clock.0.lock().unwrap();
        let hours = world.desk.hours(&eli).await.unwrap();
        let came = world.until(now + SignedDuration::from_mins(minutes)).await;
        let came: Vec<Came> = came.into_iter().filter(|came| came.chat == 3).collect();
        if waiting.is_empty() {
            assert_eq!(came.len(), 0, "told of what is done");
        }
        for came in &came {
            let quiet = hours
                .quiet
                .is_some_and(|quiet| quiet.hold(came.at, &hours.zone));
            assert!(!quiet, "told at {} in quiet hours", came.at);
            all.push(came.at);
        }
        if minutes > 48 * 60 && !waiting.is_empty() {
            assert!(!came.is_empty(), "told within two days");
        }
        match turn {
            Turns::Nothing => {}
            Turns::Restart => world.restart().await,
            Turns::Released => {
                if let Some(screen) = waiting.pop() {
                    world.does(&eli, screen.job, press(&screen, "go")).await;
                }
            }
            Turns::Wish(which) => {
                let wish = Wish::typed(WISHES[which]).unwrap();
                world.desk.set_hours(&eli, wish).await.unwrap();
            }
        }
    }
    for (at, first) in all.iter().enumerate() {
        let day = *first + SignedDuration::from_hours(24);
        let within = all[at..].iter().filter(|other| **other < day).count();
        assert!(within <= A_DAY_MAX, "{within} within a day: {all:?}");
        if let Some(next) = all.get(at + 1) {
            assert!(next.duration_since(*first) >= APART);
        }
    }
}
