//! Waits, restarts and a clock that jumps.

use std::sync::Arc;

use fanwright::desk::Actor;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::notice::About;
use fanwright::desk::screen::Screen;
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::walk::GO;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use jiff::{SignedDuration, Timestamp};

use super::{World, chat, desk_walking};

async fn waiting(world: &World) -> (Actor, Screen, Timestamp) {
    let (_, tess, screen, until) = crew_waiting(world).await;
    (tess, screen, until)
}

async fn crew_waiting(world: &World) -> (Actor, Actor, Screen, Timestamp) {
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    let screen = world.presses(&tess, &screen, "stands").await.screen;
    let Ask::Wait { until } = screen.prompt.ask else {
        panic!("{:?}", screen.prompt.ask)
    };
    (sam, tess, screen, until)
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
async fn a_clock_that_is_set_back_makes_no_wait_longer() {
    let world = World::new();
    let (tess, screen, _) = waiting(&world).await;
    world.desk.end_waits().await.unwrap();
    world.jump(SignedDuration::from_hours(-2));
    let next = world.desk.end_waits().await.unwrap().unwrap();
    let (now, _) = *world.clock.0.lock().unwrap();
    assert_eq!(next, now + SignedDuration::from_mins(5), "it begins again");
    let still = world.desk.screen(&tess, screen.job).await.unwrap();
    assert_eq!(still.prompt.ask, Ask::Wait { until: next });
    world.after(SignedDuration::from_mins(10));
    assert_eq!(world.desk.end_waits().await.unwrap(), None);
    let after = world.desk.screen(&tess, screen.job).await.unwrap();
    assert!(!matches!(after.prompt.ask, Ask::Wait { .. }), "{after:?}");
}

/// A server whose one flow touches what must be proved first.
impl World {
    fn walks_to_the_proof(&mut self) {
        let mut sources = Sources::default();
        for (name, text) in [
            ("small.yaml", include_str!("../walk/small.yaml")),
            ("small-proof.yaml", include_str!("../walk/small_proof.yaml")),
        ] {
            sources.files.insert(name.to_owned(), text.to_owned());
        }
        let store = Arc::new(self.memory.clone());
        self.desk = desk_walking(
            sources,
            store,
            &self.clock,
            &self.chance,
            Default::default(),
        );
    }

    /// A job at the step with hands in, everything proved.
    async fn all_proved(&self, by: &Actor) -> JobId {
        let new = NewJob {
            evaporator: self.evaporator(by).await.id,
            flow: FlowName::from("small"),
            training: false,
        };
        let begun = self.desk.begin(self.key(), by, new).await.unwrap();
        let job = begun.screen.job;
        self.answers(by, job, &["plug", "208 V", "fine", GO, "lock 7"])
            .await;
        self.after(SignedDuration::from_mins(5));
        let tested = [
            GO,
            "meter 4",
            "cat_iii_600",
            "whole",
            "the light circuit",
            "121 V",
            "0.2 V",
            "121 V",
            "a battery",
            "9 V",
            "0.1 V",
            "9 V",
        ];
        self.answers(by, job, &tested).await;
        assert_eq!(self.flow_at_hand(by, job).await, "small");
        job
    }

    /// Presses the button with this key where there is one, and types it where there is none.
    async fn answers(&self, by: &Actor, job: JobId, all: &[&str]) {
        for said in all {
            let screen = self.desk.screen(by, job).await.unwrap();
            let presses = match &screen.prompt.ask {
                Ask::Press(buttons) => buttons.iter().any(|it| it.key.as_str() == *said),
                _ => *said == GO,
            };
            match presses {
                true => drop(self.presses(by, &screen, said).await),
                false => drop(self.does(by, job, Input::Text((*said).to_owned())).await),
            }
        }
    }

    async fn flow_at_hand(&self, by: &Actor, job: JobId) -> String {
        let at = self.desk.step_at_hand(by, job).await.unwrap();
        at.unwrap().0.to_string()
    }
}

#[tokio::test]
async fn a_clock_that_is_set_back_keeps_no_proof_alive() {
    for (minutes, flow) in [(20, "small"), (60, "small-proof")] {
        let mut world = World::new();
        world.walks_to_the_proof();
        let sam = world.supervisor().await;
        let job = world.all_proved(&sam).await;
        world.desk.end_waits().await.unwrap();
        world.jump(SignedDuration::from_hours(-2));
        world.desk.end_waits().await.unwrap();
        world.after(SignedDuration::from_mins(minutes));
        world.answers(&sam, job, &[GO]).await;
        assert_eq!(world.flow_at_hand(&sam, job).await, flow, "{minutes} min");
    }
}

#[tokio::test]
async fn a_server_that_starts_with_its_clock_behind_takes_no_proof_as_fresh() {
    for (hours, flow) in [(-2, "small-proof"), (0, "small")] {
        let mut world = World::new();
        world.walks_to_the_proof();
        let sam = world.supervisor().await;
        let job = world.all_proved(&sam).await;
        world.jump(SignedDuration::from_hours(hours));
        world.restart().await;
        world.walks_to_the_proof();
        world.desk.start().await.unwrap();
        world.answers(&sam, job, &[GO]).await;
        assert_eq!(world.flow_at_hand(&sam, job).await, flow);
    }
}

#[tokio::test]
async fn a_job_that_cannot_be_read_holds_up_no_other_wait_and_no_start() {
    let mut world = World::new();
    let (sam, _, broken, _) = crew_waiting(&world).await;
    let tom = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    let screen = world.begin(&tom).await;
    let screen = world.presses(&tom, &screen, "go").await.screen;
    let screen = world.presses(&tom, &screen, "stands").await.screen;
    world.damage(broken.job).await;
    world.restart().await;
    world.after(SignedDuration::from_mins(6));
    world.desk.end_waits().await.unwrap();
    let after = world.desk.screen(&tom, screen.job).await.unwrap();
    assert!(!matches!(after.prompt.ask, Ask::Wait { .. }), "{after:?}");
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
