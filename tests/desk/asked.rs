//! Words that were meant for one question and come when another is asked.

use fanwright::desk::Seen;
use fanwright::desk::screen::Outcome;
use fanwright::walk::input::Input;

use super::{World, press, refusal};

#[tokio::test]
async fn what_happens_beside_a_question_leaves_it_and_an_answer_moves_on() {
    let world = World::new();
    let sam = world.supervisor().await;
    let first = world.begin(&sam).await;
    let (desk, job) = (&world.desk, first.job);
    let went = desk.handle(world.key(), &sam, job, press(&first, "go"));
    let went = went.await.unwrap().screen;
    assert!(went.prompt.asked_since > first.prompt.asked_since);
    let called = desk.handle(world.key(), &sam, job, Input::CallSupervisor);
    let called = called.await.unwrap().screen;
    assert!(called.prompt.revision > went.prompt.revision);
    assert_eq!(called.prompt.asked_since, went.prompt.asked_since);

    let words = |since: u64| (Seen::Question(since), Input::Text("hello".to_owned()));
    let (key, early) = (world.key(), first.prompt.asked_since);
    let told = desk.handle_seen(key.clone(), &sam, job, words(early));
    let told = told.await.unwrap();
    assert_eq!(
        refusal(&told),
        "That came before this question. Read it and answer again."
    );
    assert_eq!(told.screen, called, "it has no effect");
    let again = desk.handle_seen(key, &sam, job, words(early)).await;
    assert_eq!(again.unwrap().outcome, Outcome::AlreadyHandled);
    let meant = words(called.prompt.asked_since);
    let told = desk.handle_seen(world.key(), &sam, job, meant).await;
    let told = told.unwrap();
    assert!(!refusal(&told).contains("came before"), "it is read");
}
