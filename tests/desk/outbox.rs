//! What other people hear.

use fanwright::desk::ChannelAddress;
use fanwright::desk::notice::About;
use fanwright::desk::screen::Phase;
use fanwright::flow::model::Role;
use fanwright::store::{Delivery, DeliveryMark};
use fanwright::walk::input::Input;
use jiff::SignedDuration;

use super::{World, chat};

#[tokio::test]
async fn the_outbox_drains_once_it_is_marked() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    world.does(&tess, screen.job, Input::CallSupervisor).await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    assert_eq!(out.len(), 1);
    assert_eq!(
        (out[0].chat, out[0].notice.about),
        (1, About::SupervisorCalled)
    );
    assert_eq!(out[0].notice.job, Some(screen.job));
    assert!(out[0].notice.sentence.contains("Corner Market"));

    let later = world.desk.next_pending().await.unwrap().unwrap() + SignedDuration::from_secs(30);
    let mark = |outcome| {
        vec![DeliveryMark {
            notice: out[0].id,
            outcome,
        }]
    };
    world
        .desk
        .mark(mark(Delivery::Retry { due: later }))
        .await
        .unwrap();
    assert!(world.desk.pending(None, 10).await.unwrap().items.is_empty());
    world.after(SignedDuration::from_secs(31));
    let again = world.desk.pending(None, 10).await.unwrap().items;
    assert_eq!(
        (again[0].id, again[0].attempts),
        (out[0].id, 1),
        "both copies carry one token"
    );
    world.desk.mark(mark(Delivery::Delivered)).await.unwrap();
    assert_eq!(world.desk.next_pending().await.unwrap(), None);
}

#[tokio::test]
async fn stopped_work_reaches_every_supervisor_with_its_reason() {
    let world = World::new();
    let sam = world.supervisor().await;
    world.joins(&sam, &chat(4), &[Role::Supervisor]).await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    world.does(&tess, screen.job, Input::Stop).await;
    world
        .does(
            &tess,
            screen.job,
            Input::Text("Water runs down the panel".to_owned()),
        )
        .await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    let mut chats: Vec<i64> = out.iter().map(|one| one.chat).collect();
    chats.sort_unstable();
    assert_eq!(chats, [1, 1, 4, 4], "first that it stopped, then why");
    assert!(out[3].notice.sentence.contains("Water runs down the panel"));
    world.does(&sam, screen.job, Input::LiftStop).await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    let lifted = out.last().unwrap();
    assert_eq!((lifted.chat, lifted.notice.about), (2, About::StopLifted));
    assert!(lifted.notice.show_screen);
}

#[tokio::test]
async fn a_hold_point_calls_whoever_can_release_it() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    world.at_the_hold(&tess).await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    let waiting: Vec<_> = out
        .iter()
        .filter(|one| one.notice.about == About::HoldWaiting)
        .collect();
    assert_eq!(waiting.len(), 1);
    assert_eq!(waiting[0].chat, 3);
    assert!(
        waiting[0]
            .notice
            .sentence
            .contains("waits for a licensed electrician")
    );
}

#[tokio::test]
async fn whoever_last_used_a_page_finds_news_in_the_inbox() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world.desk.sign_in_code(&sam).await.unwrap().code;
    let page = ChannelAddress::Browser {
        session: world.desk.new_session().unwrap(),
    };
    let on_page = world
        .desk
        .join(world.key(), &code, "", &page)
        .await
        .unwrap();
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    world.does(&tess, screen.job, Input::CallSupervisor).await;
    assert!(world.desk.pending(None, 10).await.unwrap().items.is_empty());
    let inbox = world.desk.inbox(&on_page).await.unwrap();
    assert_eq!(inbox.len(), 1);
    assert!(world.desk.inbox(&tess).await.unwrap().is_empty());
    let keys = [inbox[0].key.clone()];
    world.desk.seen(&tess, &keys).await.unwrap();
    assert_eq!(
        world.desk.inbox(&on_page).await.unwrap().len(),
        1,
        "not for others to clear"
    );
    world.desk.seen(&on_page, &keys).await.unwrap();
    assert!(world.desk.inbox(&on_page).await.unwrap().is_empty());

    // Back in the chat, the chat hears the news again.
    let own = world.begin(&sam).await;
    world.presses(&sam, &own, "go").await;
    world.does(&tess, screen.job, Input::CallSupervisor).await;
    assert_eq!(world.desk.pending(None, 10).await.unwrap().items.len(), 1);
}

#[tokio::test]
async fn the_outbox_stirs_when_something_is_put_into_it_and_only_then() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let outbox = world.desk.outbox_changes();
    let mut changes = world.desk.changes();
    let screen = world.begin(&tess).await;
    world.presses(&tess, &screen, "go").await;
    assert!(
        !outbox.has_changed().unwrap(),
        "nobody else is told of that"
    );
    world.does(&tess, screen.job, Input::CallSupervisor).await;
    assert!(outbox.has_changed().unwrap(), "Sam is called");
    let change = changes.recv().await.unwrap();
    assert_eq!((change.job, change.phase), (screen.job, Phase::Open));
}

#[tokio::test]
async fn a_supervisor_alone_in_their_role_calls_the_crew_when_somebody_is_hurt() {
    let world = World::new();
    let sam = world.supervisor().await;
    world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&sam).await;
    world.does(&sam, screen.job, Input::Emergency).await;
    let out = world.desk.pending(None, 10).await.unwrap().items;
    let told: Vec<_> = out.iter().map(|it| (it.chat, it.notice.about)).collect();
    assert_eq!(told, [(2, About::Emergency)]);
}
