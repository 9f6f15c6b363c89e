//! Flows that a supervisor changes, tries and publishes.

use fanwright::desk::jobs::NewJob;
use fanwright::desk::rehearsals::Try;
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::flow::name::{ChoiceKey, FlowName};
use fanwright::walk::GO;
use fanwright::walk::input::Input;

use super::{World, chat};

const FILE: &str = "look-at-the-fan.yaml";
const NOTE: &str = "The first screen says where to stand.";

/// The text of the one flow, with another first sentence.
async fn reworded(world: &World, actor: &Actor) -> String {
    let draft = world.desk.draft(actor).await.unwrap();
    let text = &draft.sources.files[FILE];
    let changed = text.replace("Stand where you can see the fan.", "Stand beside the door.");
    assert_ne!(*text, changed);
    changed
}

fn sentence(error: DeskError) -> String {
    error.to_string()
}

async fn first_words(world: &World, actor: &Actor) -> String {
    let new = NewJob {
        evaporator: world.evaporator(actor).await.id,
        flow: FlowName::from("look-at-the-fan"),
        training: true,
    };
    let begun = world.desk.begin(world.key(), actor, new).await.unwrap();
    begun.screen.prompt.say
}

#[tokio::test]
async fn a_published_draft_is_what_new_jobs_walk_and_old_ones_stay() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let lee = world.joins(&sam, &chat(2), &[Role::Supervisor]).await;
    let old = NewJob {
        evaporator: world.evaporator(&sam).await.id,
        flow: FlowName::from("look-at-the-fan"),
        training: true,
    };
    let old = world.desk.begin(world.key(), &sam, old).await.unwrap();
    let text = reworded(&world, &sam).await;
    let kept = world.desk.keep_draft(&sam, FILE, &text).await;
    kept.unwrap();

    let draft = world.desk.draft(&sam).await.unwrap();
    assert_eq!(draft.changed, [FILE]);
    let others = world.desk.draft(&lee).await.unwrap();
    assert!(others.changed.is_empty(), "a draft is its person's own");
    assert_eq!(
        first_words(&world, &lee).await,
        "Stand where you can see the fan."
    );

    let key = world.key();
    for _ in 0..2 {
        // The form may come twice.
        let key = key.clone();
        let published = world.desk.publish_draft(key, &sam, draft.base, NOTE);
        published.await.unwrap();
    }
    assert_eq!(first_words(&world, &lee).await, "Stand beside the door.");
    assert!(world.desk.draft(&sam).await.unwrap().changed.is_empty());
    let told = world.desk.publications(&lee).await.unwrap();
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].note, NOTE);
    assert_eq!(told[0].changed, [FILE]);

    world.restart().await;
    assert_eq!(first_words(&world, &lee).await, "Stand beside the door.");
    let screen = world.desk.screen(&sam, old.screen.job).await.unwrap();
    assert_eq!(screen.prompt.say, "Stand where you can see the fan.");
}

#[tokio::test]
async fn a_draft_with_a_fault_is_kept_but_not_published() {
    let world = World::new();
    let sam = world.supervisor().await;
    let text = reworded(&world, &sam)
        .await
        .replace("then: look", "then: lok");
    let kept = world.desk.keep_draft(&sam, FILE, &text).await;
    kept.unwrap();
    let published = world.desk.publish_draft(world.key(), &sam, None, NOTE);
    let refused = sentence(published.await.unwrap_err());
    assert!(refused.contains("look-at-the-fan.yaml:"), "{refused}");
    assert!(refused.contains("`look`"), "{refused}");
    let dropped = world.desk.drop_draft(&sam, Some(FILE)).await;
    dropped.unwrap();
    let published = world.desk.publish_draft(world.key(), &sam, None, NOTE);
    let refused = sentence(published.await.unwrap_err());
    assert_eq!(
        refused,
        "Nothing is changed. Change a flow first, then publish it."
    );
}

#[tokio::test]
async fn what_is_saved_beside_a_publication_is_not_lost() {
    let world = World::new();
    let sam = world.supervisor().await;
    let text = reworded(&world, &sam).await;
    let kept = world.desk.keep_draft(&sam, FILE, &text).await;
    kept.unwrap();
    let draft = world.desk.draft(&sam).await.unwrap();
    let other = "promise-to-look.yaml";
    let changed = format!("{}# changed\n", draft.sources.files[other]);
    let (published, kept) = tokio::join!(
        world
            .desk
            .publish_draft(world.key(), &sam, draft.base, NOTE),
        world.desk.keep_draft(&sam, other, &changed),
    );
    published.unwrap();
    kept.unwrap();
    let draft = world.desk.draft(&sam).await.unwrap();
    assert_eq!(draft.changed, [other]);
    assert_eq!(draft.sources.files[other], changed);
}

#[tokio::test]
async fn whoever_publishes_second_looks_again() {
    let world = World::new();
    let sam = world.supervisor().await;
    let lee = world.joins(&sam, &chat(2), &[Role::Supervisor]).await;
    let text = reworded(&world, &sam).await;
    for actor in [&sam, &lee] {
        let kept = world.desk.keep_draft(actor, FILE, &text).await;
        kept.unwrap();
    }
    let seen = world.desk.draft(&lee).await.unwrap().base;
    let published = world.desk.publish_draft(world.key(), &sam, seen, NOTE);
    published.await.unwrap();
    let published = world.desk.publish_draft(world.key(), &lee, seen, NOTE);
    let refused = sentence(published.await.unwrap_err());
    assert!(
        refused.starts_with("Somebody else published meanwhile."),
        "{refused}"
    );
}

#[tokio::test]
async fn only_a_supervisor_changes_flows_and_only_flow_files_are_kept() {
    let world = World::new();
    let sam = world.supervisor().await;
    let pat = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    assert!(world.desk.draft(&pat).await.is_err());
    let kept = world.desk.keep_draft(&pat, FILE, "flow: x").await;
    assert!(kept.is_err());
    for name in [
        "../small.yaml",
        "Small.yaml",
        ".yaml",
        "small.txt",
        "a b.yaml",
    ] {
        let kept = world.desk.keep_draft(&sam, name, "flow: x").await;
        assert!(kept.is_err(), "{name}");
    }
    let published = world.desk.publish_draft(world.key(), &sam, None, "  ");
    assert!(sentence(published.await.unwrap_err()).starts_with("Write in a sentence"));
}

#[tokio::test]
async fn a_draft_is_tried_without_leaving_anything() {
    let world = World::new();
    let sam = world.supervisor().await;
    let lee = world.joins(&sam, &chat(2), &[Role::Supervisor]).await;
    let text = reworded(&world, &sam).await;
    let kept = world.desk.keep_draft(&sam, FILE, &text).await;
    kept.unwrap();
    let flow = FlowName::from("look-at-the-fan");
    let walk = world.desk.rehearse(&sam, &flow, Role::Apprentice).await;
    let walk = walk.unwrap();
    assert_eq!(walk.prompt.say, "Stand beside the door.");
    let press = Input::Press {
        revision: walk.prompt.revision,
        key: ChoiceKey::from(GO),
    };
    let act = Try::Act(Role::Apprentice, press);
    let on = world.desk.try_on(&sam, walk.id, act.clone()).await.unwrap();
    assert_eq!(on.prompt.say, "Does the fan turn?");
    let again = world.desk.try_on(&sam, walk.id, act).await.unwrap();
    assert!(again.refused.is_some(), "an old button");
    assert_eq!(again.prompt, on.prompt);
    let other = world
        .desk
        .try_on(&lee, walk.id, Try::Look(Role::Apprentice));
    assert!(other.await.is_err(), "a trial is its person's own");
    assert!(world.desk.my_jobs(&sam).await.unwrap().is_empty());
}
