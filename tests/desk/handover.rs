//! A job that goes to other hands.

use fanwright::desk::notice::About;
use fanwright::flow::model::Role;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Action;

use super::{World, chat, refusal};

#[tokio::test]
async fn an_offered_job_is_taken_by_one_person() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let tom = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    world.does(&tess, screen.job, Input::HandOver(None)).await;
    let offered = world.desk.screen(&tom, screen.job).await.unwrap();
    assert!(offered.prompt.actions.contains(&Action::TakeOver));
    world.does(&tom, screen.job, Input::TakeOver).await;
    let late = world.does(&sam, screen.job, Input::TakeOver).await;
    assert!(refusal(&late).contains("not offered"));
    let now = world.desk.screen(&tom, screen.job).await.unwrap();
    assert_eq!(now.holder.person, tom.person);
    assert_eq!(world.desk.my_jobs(&tess).await.unwrap().len(), 0);
    assert_eq!(world.desk.my_jobs(&tom).await.unwrap().len(), 1);
    assert_eq!(
        world.desk.job_at_hand(&tom).await.unwrap(),
        Some(screen.job)
    );
    let out = world.desk.pending(None, 100).await.unwrap().items;
    let chats = |about: About| -> Vec<i64> {
        let told = out.iter().filter(|one| one.notice.about == about);
        let mut chats: Vec<i64> = told.map(|one| one.chat).collect();
        chats.sort_unstable();
        chats
    };
    assert_eq!(chats(About::HandoverOffered), [1, 3]);
    assert_eq!(chats(About::HandoverTaken), [2]);
}
