//! Whoever carries messages from the outbox to the chats, over a line that loses some.

use std::collections::BTreeSet;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::Desk;
use fanwright::desk::clock::Clock;
use fanwright::desk::notice::Outgoing;
use fanwright::desk::reminders::Turn;
use fanwright::store::{Delivery, DeliveryMark, NoticeId};

use super::life::Life;
use super::machine::SimClock;

/// The outbox is looked at so often even if nothing is heard of it.
const LOOKED_AT_EVERY: Duration = Duration::from_secs(20);

/// After a failure so long is waited.
const AGAIN_AFTER: Duration = Duration::from_millis(700);

struct Carrier {
    desk: Desk,
    life: Arc<Life>,
    taken: Mutex<BTreeSet<NoticeId>>,
    /// Those that came through since the outbox was looked at last.
    through: Mutex<BTreeSet<NoticeId>>,
}

/// Carries messages as long as the process lives.
pub(super) async fn carry(desk: Desk, life: Arc<Life>, clock: Arc<SimClock>) {
    let carrier = Arc::new(Carrier {
        desk,
        life,
        taken: Mutex::default(),
        through: Mutex::default(),
    });
    loop {
        carrier.through.lock().unwrap().clear();
        if let Ok(page) = carrier.desk.pending(None, 256).await {
            for outgoing in page.items {
                // What came through meanwhile may have been found before.
                let is_through = carrier.through.lock().unwrap().contains(&outgoing.id);
                if !is_through && carrier.taken.lock().unwrap().insert(outgoing.id) {
                    carrier.life.on_the_way.fetch_add(1, Ordering::SeqCst);
                    let carrier = Arc::clone(&carrier);
                    tokio::spawn(async move {
                        let id = outgoing.id;
                        carrier.bring(outgoing).await;
                        carrier.taken.lock().unwrap().remove(&id);
                        carrier.through.lock().unwrap().insert(id);
                        carrier.life.on_the_way.fetch_sub(1, Ordering::SeqCst);
                        carrier.life.mail.notify_one();
                    });
                }
            }
        }
        let next = carrier.desk.next_pending().await.ok().flatten();
        let until = next.map(|due| clock.now().duration_until(due));
        let until = until.and_then(|until| Duration::try_from(until).ok());
        // What is due and on its way calls when it is through.
        let wait = until
            .filter(|until| !until.is_zero())
            .unwrap_or(LOOKED_AT_EVERY);
        tokio::select! {
            biased;
            () = carrier.life.mail.notified() => {}
            () = tokio::time::sleep(wait.min(LOOKED_AT_EVERY)) => {}
        }
    }
}

impl Carrier {
    async fn bring(&self, outgoing: Outgoing) {
        let outcome = match self.desk.turn_of(&outgoing).await {
            Ok(Turn::Told(_)) => {
                self.send(outgoing.id).await;
                Delivery::Delivered
            }
            Ok(Turn::Later(due)) => Delivery::Retry { due },
            Ok(Turn::Needless) => Delivery::GivenUp,
            Err(_) => return tokio::time::sleep(AGAIN_AFTER).await,
        };
        let mark = DeliveryMark {
            notice: outgoing.id,
            outcome,
        };
        if self.desk.mark(vec![mark]).await.is_err() {
            self.life.world.unmarked(outgoing.id);
            tokio::time::sleep(AGAIN_AFTER).await;
        }
    }

    /// Returns when it arrived and the answer did too.
    async fn send(&self, id: NoticeId) {
        loop {
            let millis = self.life.roll(400) as u64;
            tokio::time::sleep(Duration::from_millis(millis)).await;
            self.life.unless_over().await;
            let luck = match self.life.is_offline() {
                true => self.life.roll(2),
                false => self.life.roll(30),
            };
            // It may be lost on the way there, or its answer on the way back.
            self.life.world.sent(id, (luck > 0, luck > 1));
            if luck > 1 {
                return;
            }
            tokio::time::sleep(AGAIN_AFTER).await;
        }
    }
}
