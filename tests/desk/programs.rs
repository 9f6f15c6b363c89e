//! Addresses to call and tokens: what a crash or a second delivery of a form leaves of them.

use std::collections::BTreeSet;
use std::sync::Arc;

use fanwright::desk::tokens::NewToken;
use fanwright::desk::{Actor, Rules};
use fanwright::record::around::WebhookEvent;
use fanwright::record::scope::Scope;
use fanwright::store::faulty::Fault;
use fanwright::store::{Faulty, Store};
use uuid::Uuid;

use super::{World, desk_over};

impl World {
    async fn calls_somebody(&self, by: &Actor) -> Uuid {
        let events: BTreeSet<WebhookEvent> = WebhookEvent::ALL.into_iter().collect();
        let url = "https://office.example/fanwright";
        let set = self.desk.set_webhook(self.key(), by, url, &events).await;
        set.unwrap().webhook
    }
}

/// Does it with a store that fails once, then again in another process, for every call of the
/// store; then holds what it left to the test.
async fn with_every_fault<Held: Future<Output = ()>>(
    remove: bool,
    hold: impl Fn(Arc<World>, Actor, Uuid, String) -> Held,
) {
    for fault in [Fault::Before, Fault::After, Fault::Dies] {
        for call in 1.. {
            let world = Arc::new(World::new());
            let sam = world.supervisor().await;
            let webhook = world.calls_somebody(&sam).await;
            let old = world.desk.webhook_secret(&sam, webhook).await.unwrap();
            let store = Arc::new(Faulty::new(Arc::new(world.memory.clone()), call, fault));
            let failing = desk_over(store.clone(), &world.clock, &world.chance, Rules::default());
            let key = world.key();
            for desk in [&failing, &world.desk] {
                let done = match remove {
                    true => desk.remove_webhook(key.clone(), &sam, webhook).await,
                    false => desk.renew_webhook_secret(key.clone(), &sam, webhook).await,
                };
                let told = format!("call {call}, {fault:?}: {done:?}");
                assert!(done.is_ok() || std::ptr::eq(desk, &failing), "{told}");
            }
            hold(world, sam, webhook, old).await;
            if !store.met() {
                break;
            }
        }
    }
}

#[tokio::test]
async fn a_renewed_secret_is_another_one_whatever_failed_on_the_way() {
    with_every_fault(false, |world, sam, webhook, old| async move {
        let secret = world.desk.webhook_secret(&sam, webhook).await.unwrap();
        assert_ne!(secret, old);
    })
    .await;
}

#[tokio::test]
async fn no_secret_outlives_its_address_whatever_failed_on_the_way() {
    with_every_fault(true, |world, sam, webhook, _| async move {
        assert_eq!(world.memory.name(webhook).await.unwrap(), None);
        assert!(world.desk.webhooks(&sam).await.unwrap().is_empty());
    })
    .await;
}

#[tokio::test]
async fn the_second_delivery_of_a_form_is_no_error() {
    let world = World::new();
    let sam = world.supervisor().await;
    let webhook = world.calls_somebody(&sam).await;
    let new = NewToken {
        what_for: "month-end report".to_owned(),
        scopes: [Scope::ReadPeople].into(),
        days: 1,
    };
    let (_, token) = world.desk.make_token(world.key(), &sam, new).await.unwrap();
    let (removal, revocation) = (world.key(), world.key());
    for _ in 0..2 {
        let removed = world.desk.remove_webhook(removal.clone(), &sam, webhook);
        removed.await.unwrap();
        let revoked = world
            .desk
            .revoke_token(revocation.clone(), &sam, token.token);
        revoked.await.unwrap();
    }
    assert!(world.desk.tokens(&sam).await.unwrap().is_empty());
}
