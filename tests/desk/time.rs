//! Waits, restarts and a clock that jumps.

use fanwright::desk::Actor;
use fanwright::desk::notice::About;
use fanwright::desk::screen::Screen;
use fanwright::flow::model::Role;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use jiff::{SignedDuration, Timestamp};

use super::{World, chat};

async fn waiting(world: &World) -> (Actor, Screen, Timestamp) {
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    let screen = world.presses(&tess, &screen, "stands").await.screen;
    let Ask::Wait { until } = screen.prompt.ask else {
        panic!("{:?}", screen.prompt.ask)
    };
    (tess, screen, until)
}

#[tokio::test]
async fn a_wait_ends_by_itself_and_only_once() {
    let world = World::new();
    let (tess, screen, until) = waiting(&world).await;
    assert_eq!(world.desk.end_waits().await.unwrap(), Some(until));
    assert_eq!(
        world.desk.screen(&tess, screen.job).await.unwrap(),
        screen,
        "not too early"
    );
    world.after(SignedDuration::from_mins(60));
    assert_eq!(world.desk.end_waits().await.unwrap(), None);
    let after = world.desk.screen(&tess, screen.job).await.unwrap();
    assert_eq!(after.prompt.revision, screen.prompt.revision + 1);
    assert_eq!(world.desk.end_waits().await.unwrap(), None);
    let again = world
        .does(&tess, screen.job, Input::WaitOver { until })
        .await
        .screen;
    assert_eq!(
        again.prompt.revision, after.prompt.revision,
        "twice is harmless"
    );
    let out = world.desk.pending(None, 10).await.unwrap().items;
    assert_eq!(out.len(), 1);
    assert_eq!((out[0].chat, out[0].notice.about), (2, About::WaitOver));
}

#[tokio::test]
async fn a_safety_wait_begins_again_after_a_restart() {
    let mut world = World::new();
    let (tess, screen, until) = waiting(&world).await;
    world.after(SignedDuration::from_mins(4));
    world.restart().await;
    world.after(SignedDuration::from_mins(2));
    let next = world.desk.end_waits().await.unwrap().unwrap();
    assert_eq!(next, until + SignedDuration::from_mins(4));
    let still = world.desk.screen(&tess, screen.job).await.unwrap();
    assert_eq!(still.prompt.ask, Ask::Wait { until: next });
}

#[tokio::test]
async fn a_safety_wait_begins_again_when_the_clock_jumps() {
    let world = World::new();
    let (tess, screen, until) = waiting(&world).await;
    world.desk.end_waits().await.unwrap();
    world.jump(SignedDuration::from_mins(10));
    let next = world.desk.end_waits().await.unwrap().unwrap();
    assert_eq!(next, until + SignedDuration::from_mins(10));
    let still = world.desk.screen(&tess, screen.job).await.unwrap();
    assert_eq!(still.prompt.ask, Ask::Wait { until: next });
}

#[tokio::test]
async fn after_a_restart_those_at_work_get_their_screen_again() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let quiet = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    let paused = world.joins(&sam, &chat(4), &[Role::Technician]).await;
    world.begin(&quiet).await;
    world.after(SignedDuration::from_mins(31));
    let rest = world.begin(&paused).await;
    world.does(&paused, rest.job, Input::Pause).await;
    let screen = world.begin(&tess).await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    world.restart().await;
    world.restart().await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    assert_eq!(
        out.len(),
        1,
        "one message, however often it restarts: {out:?}"
    );
    assert_eq!((out[0].chat, out[0].notice.about), (2, About::BackAgain));
    assert!(out[0].notice.show_screen);
    assert_eq!(
        world.desk.screen(&tess, screen.job).await.unwrap(),
        screen,
        "made anew, equal"
    );
    let next = world.presses(&tess, &screen, "turns").await;
    assert!(next.screen.prompt.revision > screen.prompt.revision);
}

#[tokio::test]
async fn entry_times_never_go_back() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    world.jump(SignedDuration::from_hours(-2));
    world.presses(&sam, &screen, "go").await;
    let lines = world.desk.my_jobs(&sam).await.unwrap();
    assert!(lines[0].last >= lines[0].began);
}
