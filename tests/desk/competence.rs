//! What people have shown: who signs, for how long, and what a job makes of it.

use fanwright::desk::competence::Lasts;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::notice::About;
use fanwright::desk::screen::Screen;
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::{CompetenceName, FlowName};
use fanwright::store::InputKey;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Action;
use jiff::SignedDuration;

use super::{World, chat, desk_walking, refusal};

pub(super) const FLOW: &str = "\
flow: test-it
title: Test it
language: en
hands_off: true
outcomes: { done: Done }
competences: { live_tests: Measuring on live parts }
start: look
steps:
  look: { tell: Go on, say: Look., then: measure_it }
  measure_it: { needs_shown: live_tests, confirm: Measured, say: Measure., then: end }
  end: { finish: done, say: Done. }
";

fn live_tests() -> CompetenceName {
    CompetenceName::from("live_tests")
}

/// A server whose flow wants something shown; a supervisor, and another one.
async fn world() -> (World, [Actor; 3]) {
    let mut world = World::new();
    let mut sources = Sources::default();
    sources.files.insert("test-it.yaml".into(), FLOW.into());
    let store = std::sync::Arc::new(world.memory.clone());
    let (clock, chance) = (&world.clock, &world.chance);
    world.desk = desk_walking(sources, store, clock, chance, Default::default());
    let sam = world.supervisor().await;
    let sue = world.joins(&sam, &chat(2), &[Role::Supervisor]).await;
    let tess = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    (world, [sam, sue, tess])
}

impl World {
    async fn signs(&self, by: &Actor, whom: &Actor, lasts: Lasts) -> Result<(), DeskError> {
        let what = live_tests();
        let signed = self
            .desk
            .sign_off(self.key(), by, (whom.person, &what), lasts);
        signed.await.map(drop)
    }

    pub(super) async fn at_the_test(&self, holder: &Actor) -> Screen {
        let new = NewJob {
            evaporator: self.evaporator(holder).await.id,
            flow: FlowName::from("test-it"),
            training: false,
        };
        let begun = self.desk.begin(self.key(), holder, new).await.unwrap();
        self.presses(holder, &begun.screen, "go").await.screen
    }
}

#[tokio::test]
async fn a_supervisor_signs_for_others_and_nobody_for_themselves() {
    let (world, [sam, sue, tess]) = world().await;
    let other = World::new();
    let own = world.signs(&sam, &sam, Lasts::OneYear).await.unwrap_err();
    assert!(
        own.to_string().contains("Nobody signs for themselves"),
        "{own}"
    );
    let by_tess = world.signs(&tess, &sue, Lasts::OneYear).await.unwrap_err();
    assert!(
        by_tess.to_string().contains("Only a supervisor"),
        "{by_tess}"
    );
    let stranger = other.supervisor().await;
    let nobody = Actor {
        person: fanwright::record::person::PersonId(uuid::Uuid::from_u128(77)),
        ..stranger
    };
    let refused = world.signs(&sam, &nobody, Lasts::OneYear).await;
    assert!(
        matches!(refused, Err(DeskError::NotFound("person"))),
        "{refused:?}"
    );
    let what = CompetenceName::from("juggling");
    let refused = world
        .desk
        .sign_off(world.key(), &sam, (tess.person, &what), Lasts::OneYear)
        .await;
    assert!(
        matches!(refused, Err(DeskError::NotFound("competence"))),
        "{refused:?}"
    );
    assert!(world.desk.sign_offs(&tess).await.unwrap().is_empty());
    world.signs(&sam, &sue, Lasts::WithoutEnd).await.unwrap();
    world.signs(&sue, &sam, Lasts::OneYear).await.unwrap();
    let signed = world.desk.sign_offs(&tess).await.unwrap();
    let by: Vec<_> = signed
        .iter()
        .map(|line| (line.person, line.by.person))
        .collect();
    assert!(by.contains(&(sam.person, sue.person)) && by.contains(&(sue.person, sam.person)));
}

#[tokio::test]
async fn a_job_stands_on_a_sign_off_and_its_checklist_says_so() {
    let (world, [sam, _, tess]) = world().await;
    let screen = world.at_the_test(&tess).await;
    let notes: Vec<&str> = screen
        .prompt
        .notes
        .iter()
        .map(|note| note.text.as_str())
        .collect();
    assert!(
        notes
            .iter()
            .any(|note| note.contains("Nobody else of your crew is signed off for it")),
        "{notes:?}"
    );
    let refused = world.presses(&tess, &screen, "go").await;
    assert!(refusal(&refused).contains("Measuring on live parts"));
    let told = world.desk.pending(None, 100).await.unwrap().items;
    let mut told = told
        .iter()
        .filter(|one| one.notice.about == About::HoldWaiting);
    assert!(
        told.any(|one| one.chat == 1 && one.notice.sentence.contains("has shown")),
        "a supervisor may sign"
    );
    world.signs(&sam, &tess, Lasts::SixMonths).await.unwrap();
    let screen = world.desk.screen(&tess, screen.job).await.unwrap();
    world.presses(&tess, &screen, "go").await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    let mut lines = list.sections.iter().flat_map(|section| &section.lines);
    let says = "Has shown: Measuring on live parts";
    assert!(
        lines
            .any(|line| line.said.contains(says) && line.said.contains("signed by Sam Supervisor")),
        "{list:#?}"
    );
}

#[tokio::test]
async fn those_who_have_shown_it_are_named_told_and_may_stand_beside() {
    let (world, [sam, sue, tess]) = world().await;
    world.signs(&sam, &sue, Lasts::OneYear).await.unwrap();
    let screen = world.at_the_test(&tess).await;
    let named = format!("Signed off for it: {}", sue.name);
    let mut notes = screen.prompt.notes.iter();
    assert!(notes.any(|note| note.text.contains(&named)), "{screen:?}");
    let told = world.desk.pending(None, 100).await.unwrap().items;
    let waiting: Vec<i64> = told
        .iter()
        .filter(|one| one.notice.about == About::HoldWaiting)
        .map(|one| one.chat)
        .collect();
    assert_eq!(waiting, [2], "only whoever can help");
    let theirs = world.desk.screen(&sue, screen.job).await.unwrap();
    assert!(theirs.prompt.actions.contains(&Action::StandBeside));
    world.does(&sue, screen.job, Input::StandBeside).await;
    let screen = world.desk.screen(&tess, screen.job).await.unwrap();
    let done = world.presses(&tess, &screen, "go").await;
    assert!(!done.screen.phase.is_open(), "{done:?}");
}

#[tokio::test]
async fn a_sign_off_ends_is_renewed_and_taken_back_and_outlives_a_restart() {
    let (world, [sam, _, tess]) = world().await;
    world.signs(&sam, &tess, Lasts::SixMonths).await.unwrap();
    let ends = |line: &fanwright::desk::competence::SignOffLine| line.until.unwrap().to_string();
    let line = world.desk.sign_offs(&sam).await.unwrap().remove(0);
    assert_eq!(ends(&line), "2031-11-04T08:00:00Z");
    world.after(SignedDuration::from_hours(24 * 200));
    let line = world.desk.sign_offs(&sam).await.unwrap().remove(0);
    assert!(!line.counts, "{line:?}");
    let screen = world.at_the_test(&tess).await;
    let refused = world.presses(&tess, &screen, "go").await;
    assert!(refusal(&refused).contains("Measuring on live parts"));
    world.signs(&sam, &tess, Lasts::OneYear).await.unwrap();
    let signed = world.desk.sign_offs(&sam).await.unwrap();
    assert_eq!(signed.len(), 1, "renewed, not doubled");
    assert!(signed[0].counts);
    let what = live_tests();
    let back = |by: Actor, key: InputKey| {
        let (desk, what) = (world.desk.clone(), what.clone());
        async move { desk.withdraw_sign_off(key, &by, (tess.person, &what)).await }
    };
    let own = back(tess.clone(), world.key()).await;
    assert!(own.is_err(), "not by whoever has it");
    let key = world.key();
    for _ in 0..2 {
        // The form may come twice.
        back(sam.clone(), key.clone()).await.unwrap();
    }
    assert!(world.desk.sign_offs(&sam).await.unwrap().is_empty());
    let again = back(sam, world.key()).await;
    assert!(
        matches!(again, Err(DeskError::NotFound("sign-off"))),
        "{again:?}"
    );
}
