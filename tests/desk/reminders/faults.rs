//! Outages, restarts, and jobs that wait for nobody.

use fanwright::desk::jobs::NewJob;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::store::{Batch, IndexChange, Store, Table};
use jiff::SignedDuration;

use super::super::{World, chat, press};
use super::times;

#[tokio::test]
async fn a_reminder_that_could_not_be_sent_is_looked_at_again_first() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let screen = world.at_the_hold(&tess).await;
    world.deliver().await;
    // Nothing can be sent for hours: of two reminders one waits.
    for minutes in [30, 120] {
        world.after(SignedDuration::from_mins(minutes));
        world.desk.remind().await.unwrap();
        let waits = world.desk.pending(None, 10).await.unwrap().items;
        assert_eq!(waits.len(), 1, "{waits:?}");
    }
    // Then it is night.
    world.after(SignedDuration::from_hours(10));
    assert!(world.deliver().await.is_empty());
    assert_eq!(
        world.desk.next_pending().await.unwrap(),
        Some("2031-05-05T06:00:00Z".parse().unwrap())
    );
    // And in the morning it is done.
    world.does(&eli, screen.job, press(&screen, "go")).await;
    world.after(SignedDuration::from_hours(10));
    assert!(world.deliver().await.is_empty());
    let left = world.desk.pending(None, 10).await.unwrap().items;
    assert!(left.is_empty(), "{left:?}");
}

#[tokio::test]
async fn nobody_is_told_twice_after_a_restart() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    world.at_the_hold(&tess).await;
    let told = world.told_until("2031-05-04T08:36:00Z").await;
    assert_eq!(times(&told), ["Sun 4 08:36 to 3"]);
    world.restart().await;
    let told = world.told_until("2031-05-04T12:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 10:36 to 3"]);
    // A data folder of a version that reminded nobody: its jobs are found all the same.
    let mut batch = Batch::new("2031-05-04T12:00:00Z".parse().unwrap());
    let due = Table::named("reminders_due");
    let rows = world.memory.scan(due.clone(), Vec::new(), None, 100);
    for row in rows.await.unwrap().items {
        batch.index.push(IndexChange::remove(due.clone(), row.key));
    }
    let reached = Table::named("caught_up");
    batch.index.push(IndexChange::remove(reached, b"jobs"));
    world.memory.append(batch).await.unwrap();
    world.restart().await;
    let told = world.told_until("2031-05-04T18:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 16:36 to 3"]);
}

#[tokio::test]
async fn a_training_walk_waits_for_nobody_and_a_lone_hold_for_a_supervisor() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.at_the_hold(&tess).await;
    let told = world.told_until("2031-05-04T09:00:00Z").await;
    assert_eq!(
        times(&told),
        ["Sun 4 08:36 to 1"],
        "no electrician is there"
    );
    let on = world.corner(&tess).await;
    let new = NewJob {
        evaporator: on,
        flow: FlowName::from("promise-to-look"),
        training: true,
    };
    let begun = world.desk.begin(world.key(), &tess, new).await.unwrap();
    world.says(&tess, begun.screen.job, "Tess").await;
    world.says(&tess, begun.screen.job, "today").await;
    let told = world.told_until("2031-05-08T00:00:00Z").await;
    assert!(
        told.iter().all(|line| line.contains("electrician")),
        "{told:?}"
    );
}

#[tokio::test]
async fn what_was_told_before_holds_up_nothing_when_its_row_is_lost() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let job = world.at_the_hold(&tess).await.job;
    let told = world.told_until("2031-05-04T09:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 08:36 to 3"]);
    let mut batch = Batch::new("2031-05-04T09:00:00Z".parse().unwrap());
    let reminded = Table::named("reminded");
    let rows = world.memory.scan(reminded.clone(), Vec::new(), None, 100);
    for row in rows.await.unwrap().items {
        let gone = IndexChange::remove(reminded.clone(), row.key);
        batch.index.push(gone);
    }
    let due = Table::named("reminders_due");
    let long_ago = (1_u64 << 63).to_be_bytes();
    let key = [&long_ago, &job.0.as_bytes()[..]].concat();
    batch.index.push(IndexChange::put(due, key, []));
    world.memory.append(batch).await.unwrap();
    let told = world.told_until("2031-05-04T12:00:00Z").await;
    assert_eq!(
        times(&told),
        ["Sun 4 11:06 to 3"],
        "once, and then in its rhythm"
    );
}

#[tokio::test]
async fn a_job_that_cannot_be_read_keeps_nobody_from_being_reminded_of_others() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let first = world.at_the_hold(&tess).await.job;
    // The electrician is told of the first one, and has not got it yet.
    world.after(SignedDuration::from_mins(30));
    world.desk.remind().await.unwrap();
    world.at_the_hold(&tess).await;
    world.damage(first).await;
    world.restart().await;
    world.after(SignedDuration::from_mins(30));
    let told = world.told_until("2031-05-04T12:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 09:12 to 3", "Sun 4 11:12 to 3"]);
}
