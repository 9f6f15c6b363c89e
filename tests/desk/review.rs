//! Review: sent back by steps, done again, and what the second hand-in changed.

use fanwright::desk::screen::{Outcome, Phase};
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::record::step_ref::StepRef;
use fanwright::report::checklist::review::Review;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Action;

use super::{World, chat, png, press};
use fanwright::desk::id::JobId;

struct Crew {
    world: World,
    sam: Actor,
    tess: Actor,
    job: JobId,
}

fn step(name: &str) -> StepRef {
    format!("look-at-the-fan/1/{name}").parse().unwrap()
}

/// A job of Tess, handed in.
async fn handed_in() -> Crew {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let screen = world.at_the_hold(&tess).await;
    let job = screen.job;
    world.does(&eli, job, press(&screen, "go")).await;
    world.does(&tess, job, Input::HandIn).await;
    Crew {
        world,
        sam,
        tess,
        job,
    }
}

impl Crew {
    async fn sheet(&self) -> Review {
        let seen = self.world.desk.review(&self.sam, self.job).await.unwrap();
        seen.sheet
    }

    async fn sends_back(&self, remark: &str, steps: &[StepRef]) -> Outcome {
        let (key, desk) = (self.world.key(), &self.world.desk);
        let back = (remark, steps.to_vec());
        let handled = desk.send_steps_back(key, &self.sam, self.job, back).await;
        handled.unwrap().outcome
    }
}

#[tokio::test]
async fn a_step_sent_back_is_done_again_and_the_second_hand_in_shows_what_changed() {
    let crew = handed_in().await;
    let (world, tess, job) = (&crew.world, &crew.tess, crew.job);
    let sheet = crew.sheet().await;
    assert_eq!(sheet.outcome.as_deref(), Some("The fan stands still"));
    assert!(sheet.changes.is_empty());
    let choice = world.desk.steps_to_send_back(&crew.sam, job).await.unwrap();
    let labels: Vec<&str> = choice.iter().map(|(_, label)| label.as_str()).collect();
    assert_eq!(
        labels,
        [
            "Look at the fan: Go on",
            "Look at the fan: The fan",
            "Look at the fan: cool down",
            "Look at the fan: Supply voltage",
            "Look at the fan: Nameplate",
            "Look at the fan: I looked at the leads",
        ]
    );
    let outcome = crew.sends_back("Measure again.", &[step("read")]).await;
    assert_eq!(outcome, Outcome::Advanced);
    let pending = world.desk.pending(None, 50).await.unwrap().items;
    assert!(
        pending.iter().any(|item| item
            .notice
            .sentence
            .ends_with("back, one step to be done again: Measure again.")),
        "{pending:#?}"
    );
    let screen = world.desk.screen(tess, job).await.unwrap();
    assert_eq!(screen.phase, Phase::SentBack);
    assert!(screen.prompt.actions.contains(&Action::Resume));
    let screen = world.does(tess, job, Input::Resume).await.screen;
    assert_eq!(screen.phase, Phase::Open);
    assert!(screen.prompt.say.starts_with("What does the meter read"));
    let screen = world
        .does(tess, job, Input::Text("212 V".to_owned()))
        .await
        .screen;
    assert_eq!(screen.phase, Phase::SentBack);
    world.does(tess, job, Input::HandIn).await;

    let sheet = crew.sheet().await;
    assert_eq!(sheet.hand_ins, 2);
    assert_eq!(sheet.sent_back.as_deref(), Some("Measure again."));
    let [change] = sheet.changes.as_slice() else {
        panic!("{:#?}", sheet.changes);
    };
    assert_eq!(change.label, "Look at the fan: Supply voltage");
    assert_eq!(change.before.as_ref().unwrap().words, "208 V");
    assert_eq!(
        (change.after.words.as_str(), &change.after.who),
        ("212 V", &tess.name)
    );
    let items: Vec<_> = sheet.sections.iter().flat_map(|part| &part.items).collect();
    let amended = items.iter().find(|item| item.earlier.is_some()).unwrap();
    assert_eq!(amended.earlier.as_ref().unwrap().words, "208 V");
    assert_eq!(amended.judged.as_deref(), Some("within 187 V to 253 V"));
    assert!(amended.band.as_ref().unwrap().contains("212 V: within"));
    assert!(amended.is_new);
    // What was answered again may be sent back again; the answer before may not.
    let of_read = items
        .iter()
        .filter(|item| item.step.as_ref() == Some(&step("read")));
    assert_eq!(of_read.count(), 1);
}

#[tokio::test]
async fn a_photo_sent_again_stands_beside_the_one_before() {
    let crew = handed_in().await;
    let (world, tess, job) = (&crew.world, &crew.tess, crew.job);
    crew.sends_back("It is blurred.", &[step("plate")]).await;
    world.does(tess, job, Input::Resume).await;
    let photo = world.desk.take_photo(png()).await.unwrap();
    world.does(tess, job, Input::Photo(photo)).await;
    world.does(tess, job, Input::HandIn).await;
    let sheet = crew.sheet().await;
    let change = &sheet.changes[0];
    assert!(change.is_same, "the very same picture came again");
    assert!(change.before.as_ref().unwrap().photo.is_some());
}

#[tokio::test]
async fn a_step_that_decides_the_way_is_walked_on_from() {
    let crew = handed_in().await;
    let (world, tess, job) = (&crew.world, &crew.tess, crew.job);
    crew.sends_back("Did it turn?", &[step("look")]).await;
    let screen = world.does(tess, job, Input::Resume).await.screen;
    let screen = world.does(tess, job, press(&screen, "turns")).await.screen;
    assert_eq!(screen.phase, Phase::SentBack);
    world.does(tess, job, Input::HandIn).await;
    assert_eq!(crew.sheet().await.outcome.as_deref(), Some("The fan turns"));
}

#[tokio::test]
async fn only_supervisors_review_and_nobody_their_own_job() {
    let crew = handed_in().await;
    let (world, job) = (&crew.world, crew.job);
    let error = world.desk.review(&crew.tess, job).await.unwrap_err();
    assert!(matches!(error, DeskError::NotAllowed(_)), "{error}");
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let key = world.key();
    let olga = world.desk.join(key, &code, "Olga", &chat(7)).await.unwrap();
    let error = world.desk.review(&olga, job).await.unwrap_err();
    assert!(matches!(error, DeskError::NotFound("job")), "{error}");
    let own = world.begin(&crew.sam).await.job;
    let seen = world.desk.review(&crew.sam, own).await.unwrap();
    assert!(seen.is_own && !seen.may_decide);
    let seen = world.desk.review(&crew.sam, job).await.unwrap();
    assert!(!seen.is_own && seen.may_decide);
}
