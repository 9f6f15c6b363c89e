//! Calls to other programs: signed, in order, tried again, given up, never to private addresses.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use fanwright::channel::webhooks::{Webhooks, signature};
use fanwright::desk::clock::Clock;
use fanwright::desk::id::JobId;
use fanwright::desk::webhooks::TRIES_MAX;
use fanwright::flow::model::Role;
use fanwright::record::around::WebhookEvent;
use fanwright::walk::input::Input;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use serde_json::Value;
use uuid::Uuid;

use super::World;
use super::receiver::{Mood, Receiver};

async fn listening(world: &World, receiver: &Receiver) -> Uuid {
    let events: BTreeSet<WebhookEvent> = WebhookEvent::ALL.into_iter().collect();
    let set = world
        .desk
        .set_webhook(world.key(), &world.sam, &receiver.url, &events)
        .await;
    set.unwrap().webhook
}

/// Looks until nothing waits, letting time go by up to each next call.
async fn until_done(world: &World, caller: &Webhooks) -> usize {
    let mut waits = 0;
    while let Some(next) = caller.look().await.unwrap() {
        let now = world.clock.now();
        assert!(next > now, "a call that is due was not made");
        world.after(next.duration_since(now));
        waits += 1;
        assert!(waits < 10_000);
    }
    waits
}

/// Handed in by one, sent back by the other, handed in again, accepted.
async fn there_and_back(world: &World) -> JobId {
    let tess = world.joins(&world.sam, 70, Role::Technician).await;
    let job = world.handed_in(&tess).await;
    let key = world.key();
    world
        .desk
        .send_back(key, &world.sam, job, "Look again.")
        .await
        .unwrap();
    job
}

#[tokio::test]
async fn a_call_is_signed_and_tells_what_happened() {
    let world = World::new().await;
    let receiver = Receiver::new().await;
    let webhook = listening(&world, &receiver).await;
    let job = there_and_back(&world).await;
    let caller = world.caller();
    assert_eq!(caller.look().await.unwrap(), None);
    let got = receiver.got();
    assert_eq!(got.len(), 2);
    let secret = world
        .desk
        .webhook_secret(&world.sam, webhook)
        .await
        .unwrap();
    for call in &got {
        let right = signature(&secret, &call.id, call.timestamp, &call.body);
        assert_eq!(Some(&call.signature), right.as_ref());
        assert_eq!(call.timestamp, world.clock.now().as_second());
        let wrong = signature(&secret, &call.id, call.timestamp, "{}");
        assert_ne!(Some(&call.signature), wrong.as_ref());
    }
    let told: Vec<Value> = got
        .iter()
        .map(|call| serde_json::from_str(&call.body).unwrap())
        .collect();
    assert_eq!(told[0]["type"], "job.handed-in");
    assert_eq!(told[1]["type"], "job.sent-back");
    assert_eq!(told[0]["data"]["job"], Value::from(job.to_string()));
    assert_eq!(told[0]["data"]["phase"], "handed_in");
    assert_eq!(told[0]["data"]["evaporator"]["site"], "Corner Market");
    assert!(told[1]["data"]["entry"].as_u64() > told[0]["data"]["entry"].as_u64());
    assert!(!got[0].body.contains("Person 70"), "no names");
    let line = world.desk.webhook(&world.sam, webhook).await.unwrap();
    assert!(line.delivered.is_some() && line.failed.is_none());

    let key = world.key();
    world
        .desk
        .renew_webhook_secret(key, &world.sam, webhook)
        .await
        .unwrap();
    let renewed = world
        .desk
        .webhook_secret(&world.sam, webhook)
        .await
        .unwrap();
    assert_ne!(renewed, secret);
}

#[tokio::test]
async fn chats_and_calls_do_not_take_each_others_messages() {
    let world = World::new().await;
    let receiver = Receiver::new().await;
    listening(&world, &receiver).await;
    there_and_back(&world).await;
    let chats = world.desk.pending(None, 1).await.unwrap();
    assert_eq!(chats.items.len(), 1);
    assert!(world.desk.next_pending().await.unwrap().is_some());
    let mut count = 0;
    let mut after = None;
    loop {
        let page = world.desk.pending(after, 1).await.unwrap();
        count += page.items.len();
        after = page.next;
        if after.is_none() {
            break;
        }
    }
    assert_eq!(count, 2, "one to the supervisor, one to the technician");
    until_done(&world, &world.caller()).await;
    assert_eq!(receiver.got().len(), 2);
}

fn moods() -> impl Strategy<Value = Vec<Mood>> {
    let mood = prop_oneof![
        3 => Just(Mood::Takes),
        2 => Just(Mood::Loses),
        1 => Just(Mood::Answers(500)),
        1 => Just(Mood::Answers(404)),
        1 => Just(Mood::Elsewhere),
    ];
    prop::collection::vec(mood, 0..16)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn calls_about_a_job_come_in_order_and_none_is_lost(moods in moods()) {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let world = World::new().await;
            let receiver = Receiver::new().await;
            receiver.will(&moods);
            listening(&world, &receiver).await;
            let caller = world.caller();
            let first = there_and_back(&world).await;
            caller.look().await.unwrap();
            let second = world.handed_in(&world.sam).await;
            until_done(&world, &caller).await;
            let mut by_job: BTreeMap<String, Vec<(u64, String)>> = BTreeMap::new();
            for call in receiver.got() {
                let told: Value = serde_json::from_str(&call.body).unwrap();
                let job = told["data"]["job"].as_str().unwrap().to_owned();
                let entry = told["data"]["entry"].as_u64().unwrap();
                by_job.entry(job).or_default().push((entry, call.id));
            }
            for (job, count) in [(first, 2), (second, 1)] {
                let calls = &by_job[&job.to_string()];
                assert!(calls.is_sorted(), "out of order: {calls:?}");
                let once: BTreeSet<_> = calls.iter().collect();
                assert_eq!(once.len(), count, "{calls:?}");
            }
        });
    }
}

#[tokio::test]
async fn a_call_that_nobody_takes_is_given_up_and_can_be_sent_again() {
    let world = World::new().await;
    let receiver = Receiver::new().await;
    let webhook = listening(&world, &receiver).await;
    receiver.will(&[Mood::Answers(500); TRIES_MAX]);
    let begun = world.clock.now();
    let job = there_and_back(&world).await;
    let caller = world.caller();
    assert_eq!(until_done(&world, &caller).await, TRIES_MAX - 1);
    let took = world.clock.now().duration_since(begun);
    assert!(took > SignedDuration::from_hours(72), "{took:?}");
    assert!(took < SignedDuration::from_hours(96), "{took:?}");
    let got = receiver.got();
    assert_eq!(
        got.len(),
        TRIES_MAX + 1,
        "the later call goes out after all"
    );
    let ids: BTreeSet<&String> = got[..TRIES_MAX].iter().map(|call| &call.id).collect();
    assert_eq!(ids.len(), 1, "every try carries the same id");
    let line = world.desk.webhook(&world.sam, webhook).await.unwrap();
    assert_eq!(line.given_up.len(), 1);
    assert_eq!(line.given_up[0].why, "It answered 500.");
    assert_eq!(line.given_up[0].job, job);
    let call = &line.given_up[0].call;
    let theirs = world
        .desk
        .call_again(world.key(), &world.olga, webhook, call)
        .await;
    assert!(theirs.is_err());
    let key = world.key();
    for _ in 0..2 {
        // The request may come twice.
        let again = world
            .desk
            .call_again(key.clone(), &world.sam, webhook, call);
        again.await.unwrap();
    }
    until_done(&world, &caller).await;
    assert_eq!(&receiver.got().last().unwrap().id, call);
    assert_eq!(receiver.got().len(), TRIES_MAX + 2, "once more, not twice");
    let line = world.desk.webhook(&world.sam, webhook).await.unwrap();
    assert!(line.given_up.is_empty());
}

#[tokio::test]
async fn a_clock_that_is_set_back_holds_up_no_call() {
    let world = World::new().await;
    let receiver = Receiver::new().await;
    listening(&world, &receiver).await;
    let tess = world.joins(&world.sam, 70, Role::Technician).await;
    let job = world.begins(&tess, "look-once").await;
    world.clock.0.lock().unwrap().0 -= SignedDuration::from_hours(2);
    world.presses(&tess, job, "go").await;
    world.does(&tess, job, Input::HandIn).await;
    world.caller().look().await.unwrap();
    assert_eq!(receiver.got().len(), 1);
}

#[tokio::test]
async fn an_address_that_was_removed_is_called_no_more() {
    let world = World::new().await;
    let receiver = Receiver::new().await;
    let webhook = listening(&world, &receiver).await;
    there_and_back(&world).await;
    let key = world.key();
    world
        .desk
        .remove_webhook(key, &world.sam, webhook)
        .await
        .unwrap();
    until_done(&world, &world.caller()).await;
    assert!(receiver.got().is_empty());
    assert!(
        world
            .desk
            .webhook_secret(&world.sam, webhook)
            .await
            .is_err()
    );
}

#[tokio::test]
async fn private_addresses_are_not_called_unless_the_operator_allows_it() {
    use fanwright::desk::{Parts, Rules};
    use fanwright::store::{Memory, Store};
    let memory = Memory::new();
    let world = World::with_store(Arc::new(memory.clone())).await;
    let receiver = Receiver::new().await;
    let webhook = listening(&world, &receiver).await;
    there_and_back(&world).await;
    // The same folder, served again without that option.
    let store: Arc<dyn Store> = Arc::new(memory);
    let strict = fanwright::desk::Desk::new(Parts {
        store,
        clock: world.clock.clone(),
        chance: Arc::new(crate::desk::Counted::default()),
        keys: crate::desk::keys(),
        library: world.desk.library(&world.sam).await.unwrap(),
        goods: Default::default(),
        rules: Rules::default(),
    });
    let now: Timestamp = world.clock.now();
    let caller = Webhooks::new(strict, Arc::new(move || now)).unwrap();
    caller.look().await.unwrap();
    assert!(receiver.got().is_empty());
    let line = world.desk.webhook(&world.sam, webhook).await.unwrap();
    let (_, why) = line.failed.unwrap();
    assert!(why.contains("private network"), "{why}");
    // A name is looked at when it is resolved, too.
    let url = receiver.url.replace("127.0.0.1", "localhost");
    let refused = world
        .desk
        .set_webhook(world.key(), &world.sam, &url, &[].into())
        .await;
    assert!(refused.is_err(), "an address without events");
}
