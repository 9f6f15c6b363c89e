//! Takes updates in, each once: one queue a place, all places at the same time. Emergencies have a
//! queue of their own there, so that no photo that is slow to arrive holds them up.
//!
//! An update is finished when everything that it does is durable; only then is it confirmed to
//! the platform. What is delivered again meanwhile waits for the first, and has no other effect.

use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use std::panic::AssertUnwindSafe;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use futures_util::FutureExt;
use teloxide::types::{Update, UpdateKind};
use tokio::sync::{Semaphore, SemaphorePermit, watch};
use tokio_util::task::TaskTracker;
use tracing::Instrument;

use super::chat_mark::ChatMark;
use super::decode::{Arrived, Came, InGroup, Inbound, Place, decode};
use super::flood::{Fate, FloodBounds, Floods};
use super::quick;
use super::talk::Talk;
use crate::metrics::{Stopwatch, metrics};

/// So many updates are handled at the same time, and emergencies besides.
const AT_ONCE_MAX: usize = 128;

/// So many photos are fetched at the same time; they may be slow.
const PHOTOS_AT_ONCE_MAX: usize = 8;

/// When so many updates wait in all, no more are fetched or taken from a push: the platform keeps
/// them and brings them later.
const WAITING_MAX: usize = 5_000;

/// So many finished updates are remembered.
const REMEMBERED: usize = 10_000;

/// Takes updates in. Clones are cheap and share everything.
#[derive(Clone)]
pub(super) struct Intake {
    inner: Arc<Inner>,
}

struct Inner {
    talk: Arc<Talk>,
    tasks: TaskTracker,
    at_once: Semaphore,
    photos_at_once: Semaphore,
    floods: Floods,
    seen: Mutex<Seen>,
    /// A lane is in here as long as somebody works on its queue.
    lanes: Mutex<HashMap<Lane, VecDeque<Waiting>>>,
    /// Changes whenever an update is finished.
    finished: watch::Sender<u64>,
}

/// What is handled one after the other: the emergencies of a place, or everything else there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Lane {
    place: Place,
    is_urgent: bool,
}

/// An update that waits for its turn, and since when.
type Waiting = (u32, Arrived, Stopwatch);

/// What is known of updates.
#[derive(Debug, Default)]
struct Seen {
    unfinished: BTreeMap<u32, watch::Sender<bool>>,
    finished: BTreeSet<u32>,
    order: VecDeque<u32>,
    highest: Option<u32>,
}

impl Seen {
    /// The first update that the platform need not send again is the one before this.
    fn offset(&self) -> Option<u32> {
        let lowest = self.unfinished.keys().next().copied();
        lowest.or_else(|| self.highest.map(|highest| highest.saturating_add(1)))
    }

    /// An update that came before.
    fn known(&self, update: u32) -> Option<Taken> {
        let finished = match self.unfinished.get(&update) {
            Some(waiting) => waiting.subscribe(),
            None if self.finished.contains(&update) => watch::Sender::new(true).subscribe(),
            None => return None,
        };
        let is_new = false;
        Some(Taken { finished, is_new })
    }

    fn finish(&mut self, update: u32) {
        if let Some(waiting) = self.unfinished.remove(&update) {
            waiting.send_replace(true);
        }
        if self.finished.insert(update) {
            self.order.push_back(update);
        }
        while self.order.len() > REMEMBERED {
            if let Some(oldest) = self.order.pop_front() {
                self.finished.remove(&oldest);
            }
        }
    }
}

/// An update that was taken in.
pub(super) struct Taken {
    /// Turns true when it is finished.
    pub(super) finished: watch::Receiver<bool>,
    /// Whether it came for the first time.
    pub(super) is_new: bool,
}

impl Intake {
    pub(super) fn new(talk: Arc<Talk>, tasks: TaskTracker, bounds: FloodBounds) -> Intake {
        Intake {
            inner: Arc::new(Inner {
                talk,
                tasks,
                at_once: Semaphore::new(AT_ONCE_MAX),
                photos_at_once: Semaphore::new(PHOTOS_AT_ONCE_MAX),
                floods: Floods::within(bounds),
                seen: Mutex::default(),
                lanes: Mutex::default(),
                finished: watch::Sender::new(0),
            }),
        }
    }

    /// Takes an update in; the receiver turns true when it is finished.
    pub(super) fn take(&self, update: &Update) -> watch::Receiver<bool> {
        self.take_read(update).finished
    }

    /// Takes an update in as it was fetched; nothing if it does not even say its number.
    pub(super) fn take_fetched(&self, update: &str) -> Option<Taken> {
        // What came before need not be read again.
        if let Some(known) = quick::number(update).and_then(|id| self.inner.seen().known(id)) {
            return Some(known);
        }
        if let Some((id, press)) = quick::press(update) {
            return Some(self.take_in(id, Some(press)));
        }
        let update = serde_json::from_str::<Update>(update);
        let update = update
            .inspect_err(|error| tracing::warn!(%error, "no update"))
            .ok()?;
        Some(self.take_read(&update))
    }

    fn take_read(&self, update: &Update) -> Taken {
        let id = update.id.0;
        if matches!(update.kind, UpdateKind::Error(_)) {
            tracing::warn!(update = id, "an update cannot be read and is passed over");
        }
        let me = self.inner.talk.username.get().map(String::as_str);
        self.take_in(id, decode(update, me))
    }

    fn take_in(&self, id: u32, arrived: Option<Arrived>) -> Taken {
        let finished = {
            let mut seen = self.inner.seen();
            seen.highest = seen.highest.max(Some(id));
            if let Some(known) = seen.known(id) {
                return known;
            }
            let waiting = watch::Sender::new(false);
            let receiver = waiting.subscribe();
            seen.unfinished.insert(id, waiting);
            receiver
        };
        match arrived {
            Some(arrived) => self.queue(id, arrived),
            None => self.inner.finish(id),
        }
        let is_new = true;
        Taken { finished, is_new }
    }

    /// From where on the platform has to send updates.
    pub(super) fn offset(&self) -> Option<u32> {
        self.inner.seen().offset()
    }

    /// Whether more can be taken in now.
    pub(super) fn has_room(&self) -> bool {
        self.inner.seen().unfinished.len() < WAITING_MAX
    }

    /// Whether something is not finished yet.
    pub(super) fn is_busy(&self) -> bool {
        !self.inner.seen().unfinished.is_empty()
    }

    /// Returns when something that was taken in is finished, or nothing is to be.
    pub(super) async fn progress(&self) {
        let mut finished = self.inner.finished.subscribe();
        if self.is_busy() {
            // The sender lives as long as this.
            drop(finished.changed().await);
        }
    }

    /// Returns when everything that was taken in is finished.
    pub(super) async fn settled(&self) {
        let mut finished = self.inner.finished.subscribe();
        while self.is_busy() {
            if finished.changed().await.is_err() {
                return;
            }
        }
    }

    fn queue(&self, id: u32, arrived: Arrived) {
        let lane = Lane {
            place: arrived.place,
            is_urgent: arrived.is_urgent(),
        };
        let mut lanes = self.inner.lanes();
        let waiting = lanes.get(&lane).map_or(0, VecDeque::len);
        let now = self.inner.talk.clock.now();
        let fate = self.inner.floods.look(&arrived, waiting, now);
        if fate != Fate::Taken {
            drop(lanes);
            return self.leave(id, lane.place, fate);
        }
        let is_idle = !lanes.contains_key(&lane);
        let taken = Stopwatch::started();
        lanes
            .entry(lane)
            .or_default()
            .push_back((id, arrived, taken));
        drop(lanes);
        if is_idle {
            let inner = Arc::clone(&self.inner);
            self.inner
                .tasks
                .spawn(async move { inner.empty(lane).await });
        }
    }

    /// Leaves an update that is one of a flood.
    fn leave(&self, id: u32, place: Place, fate: Fate) {
        if fate == Fate::LeftAndTold {
            tracing::warn!(
                update = id,
                chat = place.chat,
                "somebody sends more than a person can; the rest is left"
            );
            self.inner.talk.say(place, super::words::FLOOD);
        }
        self.inner.finish(id);
    }
}

impl Inner {
    fn seen(&self) -> MutexGuard<'_, Seen> {
        // Nothing that touches it can panic half-way.
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn lanes(&self) -> MutexGuard<'_, HashMap<Lane, VecDeque<Waiting>>> {
        self.lanes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn finish(&self, id: u32) {
        self.seen().finish(id);
        self.finished
            .send_modify(|count| *count = count.wrapping_add(1));
    }

    fn next(&self, lane: Lane) -> Option<Waiting> {
        let mut lanes = self.lanes();
        let next = lanes.get_mut(&lane).and_then(VecDeque::pop_front);
        if next.is_none() {
            lanes.remove(&lane);
        }
        next
    }

    /// Waits until there is room to handle this; an emergency waits for nothing.
    async fn permit(&self, arrived: &Arrived) -> Option<SemaphorePermit<'_>> {
        if arrived.is_urgent() {
            return None;
        }
        self.talk.sender.room().await;
        let permits = match arrived.came {
            Came::Private(_, Inbound::Photo(_))
            | Came::InGroup(_, InGroup::Photo(..) | InGroup::Posted(_)) => &self.photos_at_once,
            _ => &self.at_once,
        };
        // Nobody ever closes the semaphore.
        permits.acquire().await.ok()
    }

    /// Handles what waits in a lane, in order, until nothing does.
    async fn empty(&self, lane: Lane) {
        let place = lane.place;
        while let Some((id, arrived, taken)) = self.next(lane) {
            let permit = self.permit(&arrived).await;
            let talk = &self.talk;
            let chat = ChatMark(place.chat);
            let span = tracing::info_span!("update", id, %chat);
            let handled = Box::pin(talk.handle(arrived)).instrument(span);
            // A panic ends this update and nothing else.
            if AssertUnwindSafe(handled).catch_unwind().await.is_err() {
                tracing::error!(update = id, %chat, "handling an update panicked");
                self.talk.say(place, super::words::PANICKED);
            }
            drop(permit);
            metrics().update_is_durable(taken);
            self.finish(id);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_offset_stays_at_the_lowest_unfinished_update() {
        let mut seen = Seen::default();
        assert_eq!(seen.offset(), None);
        for id in [5, 6, 7] {
            seen.unfinished.insert(id, watch::Sender::new(false));
            seen.highest = seen.highest.max(Some(id));
        }
        seen.finish(6);
        seen.finish(7);
        assert_eq!(seen.offset(), Some(5));
        seen.finish(5);
        assert_eq!(seen.offset(), Some(8));
        assert!(seen.finished.contains(&6));
    }

    #[test]
    fn only_so_many_finished_updates_are_remembered() {
        let mut seen = Seen::default();
        for id in 0..20_000 {
            seen.finish(id);
        }
        assert_eq!(seen.finished.len(), REMEMBERED);
        assert!(seen.finished.contains(&19_999));
    }
}
