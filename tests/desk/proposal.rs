//! Rows of the speed book that finished jobs propose.

use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Closing, Outcome, RowDecision, Screen};
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::trade::speed_book::{Found, Need, RowSource};
use fanwright::walk::input::Input;

use super::{World, chat, refusal};

impl World {
    /// A job that proved a speed and was handed in.
    async fn proved(&self, actor: &Actor, model: &str, rpm: &str) -> JobId {
        let new = NewJob {
            evaporator: self.evaporator(actor).await.id,
            flow: FlowName::from("prove-a-speed"),
            training: false,
        };
        let screen = self
            .desk
            .begin(self.key(), actor, new)
            .await
            .unwrap()
            .screen;
        let job = screen.job;
        self.does(actor, job, Input::Text(model.to_owned())).await;
        let worked = self.does(actor, job, Input::Text(rpm.to_owned())).await;
        self.presses(actor, &worked.screen, "go").await;
        let handed_in = self.does(actor, job, Input::HandIn).await;
        assert_eq!(handed_in.outcome, Outcome::Advanced);
        job
    }

    async fn screen(&self, actor: &Actor, job: JobId) -> Screen {
        self.desk.screen(actor, job).await.unwrap()
    }

    async fn decides(&self, actor: &Actor, job: JobId, decision: RowDecision) -> Outcome {
        let decided = self.desk.decide_row(self.key(), actor, job, decision);
        decided.await.unwrap().outcome
    }

    /// The rpm that the crew's speed book has for a model.
    async fn rpm_in_book(&self, actor: &Actor, model: &str) -> Option<i64> {
        let goods = self.desk.goods(actor).await.unwrap();
        match goods.speed_book.look_up(model) {
            Found::Exactly(row) => {
                assert_eq!(row.source, RowSource::FinishedJob);
                assert!(row.noted.contains("Corner Market"), "{}", row.noted);
                match row.need {
                    Need::Speed(speed) => {
                        Some((speed.value * 60.0 / std::f64::consts::TAU).round() as i64)
                    }
                    Need::AirFlow(_) => None,
                }
            }
            Found::Near(_) | Found::Nothing => None,
        }
    }
}

fn offers_row(screen: &Screen) -> bool {
    screen.closing.contains(&Closing::Row(RowDecision::Accept))
}

fn notes(screen: &Screen) -> String {
    let notes = screen.prompt.notes.iter();
    notes
        .map(|note| note.text.as_str())
        .collect::<Vec<_>>()
        .join("\n")
}

#[tokio::test]
async fn an_accepted_row_makes_a_new_speed_book_once() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.proved(&tess, "ZZ-100", "1230 rpm").await;
    let seen = world.screen(&sam, job).await;
    assert!(offers_row(&seen));
    assert!(
        notes(&seen).contains("ZZ-100 needs 1230 rpm"),
        "{}",
        notes(&seen)
    );
    assert!(!offers_row(&world.screen(&tess, job).await));
    assert_eq!(world.rpm_in_book(&sam, "zz100").await, None);

    let key = world.key();
    for expected in [Outcome::Advanced, Outcome::AlreadyHandled] {
        let decided = world
            .desk
            .decide_row(key.clone(), &sam, job, RowDecision::Accept);
        assert_eq!(decided.await.unwrap().outcome, expected);
    }
    assert_eq!(world.rpm_in_book(&sam, "zz100").await, Some(1230));
    let book = world.desk.goods_texts(&sam).await.unwrap().speed_book;
    let again = world.decides(&sam, job, RowDecision::Accept).await;
    assert!(matches!(again, Outcome::Refused(why) if why.contains("decided already")));
    let decline = world.decides(&sam, job, RowDecision::Decline).await;
    assert!(matches!(decline, Outcome::Refused(_)));
    assert_eq!(world.desk.goods_texts(&sam).await.unwrap().speed_book, book);
    let seen = world.screen(&sam, job).await;
    assert!(!offers_row(&seen));
    assert!(notes(&seen).contains("went into the speed book"));
    // What the book says now is proposed by no later job.
    let later = world.proved(&tess, "zz 100", "1231 rpm").await;
    assert!(!offers_row(&world.screen(&sam, later).await));
}

#[tokio::test]
async fn nobody_decides_about_the_row_of_their_own_job() {
    let world = World::new();
    let sam = world.supervisor().await;
    let sue = world.joins(&sam, &chat(3), &[Role::Supervisor]).await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.proved(&sam, "ZZ-200", "1500 rpm").await;
    assert!(!offers_row(&world.screen(&sam, job).await));
    let decided = world
        .desk
        .decide_row(world.key(), &sam, job, RowDecision::Accept);
    let own = decided.await.unwrap();
    assert!(refusal(&own).contains("Another supervisor"), "{own:?}");
    let decided = world
        .desk
        .decide_row(world.key(), &tess, job, RowDecision::Accept);
    assert!(matches!(decided.await, Err(DeskError::NotAllowed(_))));
    assert_eq!(world.rpm_in_book(&sam, "ZZ-200").await, None);
    assert_eq!(
        world.decides(&sue, job, RowDecision::Decline).await,
        Outcome::Advanced
    );
    assert!(notes(&world.screen(&sue, job).await).contains("was declined"));
    assert_eq!(world.rpm_in_book(&sam, "ZZ-200").await, None);
}

#[tokio::test]
async fn a_row_is_decided_after_the_job_too_and_outlives_a_restart() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.proved(&tess, "ZZ-300", "1500 rpm").await;
    world.desk.accept(world.key(), &sam, job, "").await.unwrap();
    world.restart().await;
    assert!(offers_row(&world.screen(&sam, job).await));
    assert_eq!(
        world.decides(&sam, job, RowDecision::Accept).await,
        Outcome::Advanced
    );
    world.restart().await;
    assert_eq!(world.rpm_in_book(&sam, "ZZ-300").await, Some(1500));
    assert!(!offers_row(&world.screen(&sam, job).await));
}

#[tokio::test]
async fn a_job_that_is_not_handed_in_proposes_nothing_yet() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.begin(&tess).await.job;
    let early = world.decides(&sam, job, RowDecision::Accept).await;
    assert!(matches!(early, Outcome::Refused(why) if why.contains("not handed in")));
}
