//! Whose turn it is: everything that waits to be sent, in an order that keeps the limits.
//!
//! Each chat has a queue of its own, and its order is kept; only an emergency goes before. Among
//! the chats the most urgent goes first: what waits in a chat is as urgent as the most urgent thing
//! in its queue. A chat with much to say has a turn a second, so that it holds up nobody; and every
//! rank has a share of all turns, so that none of them starves. One thing is on its way to a chat
//! at a time, and an emergency besides: it does not wait for a file that is slow to go up.
//!
//! Nothing here reads a clock: the time comes in, and what is to be sent comes out.

mod lane;

use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use std::time::Duration;

use super::pace::{Limits, Moment, is_group};
use lane::{Item, Lane, Spot, Turn};

/// When more than this waits for one chat, newer answers of a kind replace older ones.
pub(super) const WAITING_CALM: usize = 8;

/// When more than this waits for one chat, the oldest is left out.
pub(super) const WAITING_MAX: usize = 64;

/// So many things are on their way at the same time; an emergency goes even then.
const AT_ONCE_MAX: usize = 128;

/// A chat that says much gets a turn among the others so often.
const TURN: Duration = Duration::from_secs(1);

/// However much a chat said, its next turn is no further away.
const TURNS_AHEAD: Duration = Duration::from_secs(64);

/// When so many private chats are refused at the same time, it is not about any one of them.
const REFUSED_TOGETHER: usize = 3;

/// How urgent something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    /// Somebody is hurt. Goes before everything, in its chat too.
    Emergency,
    /// Somebody waits for it: they just did something, or stand before a step.
    Answer,
    /// What others have to know.
    News,
    /// What may come a little later: reminders, the state of a room.
    Quiet,
}

impl Rank {
    const ALL: [Rank; 4] = [Rank::Emergency, Rank::Answer, Rank::News, Rank::Quiet];

    /// One of so many turns is for this rank if anything of it waits, whatever else waits.
    fn share(self) -> u32 {
        match self {
            Rank::Emergency | Rank::Answer => 1,
            Rank::News => 8,
            Rank::Quiet => 24,
        }
    }
}

/// What something makes needless that still waits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Like<K> {
    /// Nothing.
    Nothing,
    /// The like of it, as soon as much waits.
    WhenMuchWaits(K),
    /// The like of it always, whose place it takes: another state of the same message.
    Always(K),
}

/// Something to be sent.
#[derive(Debug)]
pub(super) struct Offer<K, T> {
    pub(super) like: Like<K>,
    /// Somebody keeps account of it, so it may not be left out.
    pub(super) is_owed: bool,
    /// As how many messages the platform counts it; at least 1.
    pub(super) messages: usize,
    pub(super) what: T,
}

/// What left the queue unsent.
#[derive(Debug)]
pub(super) struct Removed<T> {
    /// Something newer takes its place.
    pub(super) replaced: Vec<T>,
    /// Too much waited for the chat.
    pub(super) left_out: Vec<T>,
}

/// Something whose turn it is. It comes back to the queue when its answer came.
#[derive(Debug)]
pub(super) struct Sending<K, T> {
    pub(super) chat: i64,
    item: Item<K, T>,
}

impl<K, T> Sending<K, T> {
    pub(super) fn what(&self) -> &T {
        &self.item.what
    }

    pub(super) fn what_mut(&mut self) -> &mut T {
        &mut self.item.what
    }
}

/// What is to be done next.
#[derive(Debug)]
pub(super) enum Next<K, T> {
    /// Send this.
    Send(Sending<K, T>),
    /// Nothing before this moment.
    At(Moment),
    /// Nothing before something is offered or answered.
    Nothing,
}

/// Everything that waits.
#[derive(Debug)]
pub(super) struct Queue<K, T> {
    limits: Limits,
    lanes: HashMap<i64, Lane<K, T>>,
    ready: BTreeMap<Rank, BTreeSet<(Turn, i64)>>,
    waiting: BTreeSet<(Moment, i64)>,
    resting: BTreeSet<(Moment, i64)>,
    /// How many turns each rank was passed over since its last.
    passed_over: BTreeMap<Rank, u32>,
    /// No turn before.
    next_turn: Moment,
    held_until: Moment,
    /// Private chats that the platform asked to leave alone for a while.
    refused: BTreeMap<i64, Moment>,
    count: u64,
    waits: usize,
    on_the_way: usize,
}

impl<K: Eq, T> Queue<K, T> {
    pub(super) fn new(limits: Limits) -> Queue<K, T> {
        Queue {
            limits,
            lanes: HashMap::new(),
            ready: BTreeMap::new(),
            waiting: BTreeSet::new(),
            resting: BTreeSet::new(),
            passed_over: BTreeMap::new(),
            next_turn: Moment::ZERO,
            held_until: Moment::ZERO,
            refused: BTreeMap::new(),
            count: 0,
            waits: 0,
            on_the_way: 0,
        }
    }

    /// How much waits.
    pub(super) fn len(&self) -> usize {
        self.waits
    }

    /// Whether nothing waits and nothing is on its way.
    pub(super) fn is_done(&self) -> bool {
        self.waits == 0 && self.on_the_way == 0
    }

    /// Puts these behind everything that waits for the chat, an emergency before it.
    pub(super) fn offer(
        &mut self,
        now: Moment,
        (chat, rank): (i64, Rank),
        offers: Vec<Offer<K, T>>,
    ) -> Removed<T> {
        let lane = self.lanes.entry(chat).or_insert_with(Lane::new);
        let before = lane.items.len();
        let mut replaced = Vec::new();
        for like in offers.iter().map(|offer| &offer.like) {
            if let Like::WhenMuchWaits(_) = like
                && lane.items.len() > WAITING_CALM
            {
                let is_older = |item: &Item<K, T>| !item.is_owed && item.like == *like;
                replaced.extend(taken_out(&mut lane.items, is_older));
            }
        }
        for offer in offers {
            if let Like::Always(_) = offer.like
                && let Some(older) = lane.items.iter_mut().find(|item| item.like == offer.like)
            {
                older.rank = older.rank.min(rank);
                older.is_owed = offer.is_owed;
                older.messages = offer.messages.max(1);
                replaced.push(std::mem::replace(&mut older.what, offer.what));
                continue;
            }
            self.count += 1;
            let turn = (now.saturating_add(TURNS_AHEAD)).min(lane.turn.saturating_add(TURN));
            lane.turn = turn.max(now);
            let item = Item {
                rank,
                due: (lane.turn, self.count),
                not_before: Moment::ZERO,
                like: offer.like,
                is_owed: offer.is_owed,
                messages: offer.messages.max(1),
                what: offer.what,
            };
            let emergencies = lane.emergencies();
            match rank {
                Rank::Emergency => lane.items.insert(emergencies, item),
                _ => lane.items.push_back(item),
            }
        }
        let mut left_out = Vec::new();
        while lane.items.len() > WAITING_MAX {
            let may_go = |item: &Item<K, T>| !item.is_owed && item.rank != Rank::Emergency;
            let Some(oldest) = lane.items.iter().position(may_go) else {
                break;
            };
            left_out.extend(lane.items.remove(oldest).map(|item| item.what));
        }
        self.waits = self.waits + lane.items.len() - before;
        self.settle_lane(chat, now);
        Removed { replaced, left_out }
    }

    /// Whose turn it is.
    pub(super) fn next(&mut self, now: Moment) -> Next<K, T> {
        self.come_of_age(now);
        let Some(rank) = self.rank_of_turn() else {
            let next = self.waiting.first();
            return next.map_or(Next::Nothing, |(at, _)| Next::At(*at));
        };
        if self.on_the_way >= AT_ONCE_MAX && rank != Rank::Emergency {
            return Next::Nothing;
        }
        let first = self.ready.get(&rank).and_then(BTreeSet::first).copied();
        let lane = first.and_then(|(_, chat)| Some((chat, self.lanes.get_mut(&chat)?)));
        let Some((chat, lane)) = lane else {
            return Next::Nothing;
        };
        let messages = lane.items.front().map_or(1, |item| item.messages);
        // An album goes out at once: the turns of its messages are left free before and after it,
        // so that no second has more than its share on either side.
        let gap = self.limits.overall.unwrap_or_default();
        let gaps = |count: usize| gap.saturating_mul(u32::try_from(count).unwrap_or(u32::MAX));
        let free = self.next_turn.saturating_add(gaps(messages - 1));
        let at = free.max(self.held_until);
        if at > now {
            return Next::At(at);
        }
        let Some(item) = lane.items.pop_front() else {
            return Next::Nothing;
        };
        match item.rank {
            Rank::Emergency => lane.is_alarming = true,
            _ => lane.sending = Some((now, messages)),
        }
        self.waits -= 1;
        self.on_the_way += 1;
        self.settle_lane(chat, now);
        self.take_turn(rank);
        self.next_turn = now.saturating_add(gaps(messages));
        Next::Send(Sending { chat, item })
    }

    /// The platform took it, or never will.
    pub(super) fn finished(&mut self, now: Moment, sending: Sending<K, T>) -> T {
        let Sending { chat, item } = sending;
        self.answered((chat, item.rank), item.messages, now);
        self.settle_lane(chat, now);
        item.what
    }

    /// It has to be tried again, not before `wait` is over. What it gives back is replaced by now.
    pub(super) fn again(
        &mut self,
        now: Moment,
        mut sending: Sending<K, T>,
        wait: Duration,
    ) -> Option<T> {
        sending.item.not_before = now.saturating_add(wait);
        self.put_back(now, sending)
    }

    /// The platform asks to wait exactly so long, and it has to be tried again then.
    ///
    /// The answer does not say whether it is about the chat or about the bot. A group has a limit
    /// of its own, so its refusal holds the group and nobody else. So does that of a private chat;
    /// but when several of them are refused at the same time, each of which was left its second, it
    /// is the bot that is too fast, and everything waits.
    pub(super) fn refused(
        &mut self,
        now: Moment,
        sending: Sending<K, T>,
        wait: Duration,
    ) -> Option<T> {
        let (chat, until) = (sending.chat, now.saturating_add(wait));
        if let Some(lane) = self.lanes.get_mut(&chat) {
            lane.held_until = lane.held_until.max(until);
        }
        if !is_group(chat) {
            self.refused.retain(|_, until| *until > now);
            self.refused.insert(chat, until);
            if self.refused.len() >= REFUSED_TOGETHER {
                let longest = self.refused.values().max().copied();
                self.hold_everything(longest.unwrap_or(until));
            }
        }
        self.put_back(now, sending)
    }

    /// Nothing goes out before this moment.
    pub(super) fn hold_everything(&mut self, until: Moment) {
        self.held_until = self.held_until.max(until);
    }

    /// What came back goes out before what else waits, but for an emergency; unless another state
    /// of the same message waits by now.
    fn put_back(&mut self, now: Moment, sending: Sending<K, T>) -> Option<T> {
        let Sending { chat, item } = sending;
        self.answered((chat, item.rank), item.messages, now);
        let lane = self.lanes.entry(chat).or_insert_with(Lane::new);
        let is_newer = |other: &Item<K, T>| other.like == item.like;
        let replaced = match &item.like {
            Like::Always(_) if lane.items.iter().any(is_newer) => Some(item.what),
            _ => {
                let at = match item.rank {
                    Rank::Emergency => 0,
                    _ => lane.emergencies(),
                };
                lane.items.insert(at, item);
                self.waits += 1;
                None
            }
        };
        self.settle_lane(chat, now);
        replaced
    }

    fn answered(&mut self, (chat, rank): (i64, Rank), messages: usize, now: Moment) {
        self.on_the_way -= 1;
        if let Some(lane) = self.lanes.get_mut(&chat) {
            match rank {
                Rank::Emergency => lane.is_alarming = false,
                _ => lane.sending = None,
            }
            lane.spent.note((chat, messages), &self.limits, now);
        }
    }

    /// The rank whose turn it is among those that are ready.
    fn rank_of_turn(&self) -> Option<Rank> {
        let is_ready = |rank: &Rank| self.ready.get(rank).is_some_and(|set| !set.is_empty());
        let best = Rank::ALL.into_iter().find(is_ready)?;
        if best == Rank::Emergency {
            return Some(best);
        }
        let passed_over = |rank: &Rank| self.passed_over.get(rank).copied().unwrap_or_default();
        let in_need = |rank: &Rank| is_ready(rank) && passed_over(rank) + 1 >= rank.share();
        // The one with the smallest share first: it is seldom in need.
        let needy = [Rank::Quiet, Rank::News].into_iter().find(in_need);
        Some(needy.unwrap_or(best))
    }

    fn take_turn(&mut self, taken: Rank) {
        for rank in [Rank::News, Rank::Quiet] {
            let passed_over = self.passed_over.entry(rank).or_default();
            *passed_over = match rank == taken {
                true => 0,
                false => passed_over.saturating_add(1).min(rank.share()),
            };
        }
    }

    /// Chats that waited become ready; those that rested are forgotten.
    fn come_of_age(&mut self, now: Moment) {
        while let Some(&(at, chat)) = self.waiting.first()
            && at <= now
        {
            self.waiting.pop_first();
            self.settle_lane(chat, now);
        }
        while let Some(&(at, chat)) = self.resting.first()
            && at <= now
        {
            self.resting.pop_first();
            self.lanes.remove(&chat);
        }
    }

    /// Puts a chat where it belongs.
    fn settle_lane(&mut self, chat: i64, now: Moment) {
        let Some(lane) = self.lanes.get_mut(&chat) else {
            return;
        };
        let spot = lane.spot(chat, &self.limits, now);
        match std::mem::replace(&mut lane.spot, spot) {
            Spot::Ready(rank, due) => {
                self.ready.entry(rank).or_default().remove(&(due, chat));
            }
            Spot::Waiting(at) => drop(self.waiting.remove(&(at, chat))),
            Spot::Resting(at) => drop(self.resting.remove(&(at, chat))),
            Spot::Sending => {}
        }
        match spot {
            Spot::Ready(rank, due) => {
                self.ready.entry(rank).or_default().insert((due, chat));
            }
            Spot::Waiting(at) => drop(self.waiting.insert((at, chat))),
            Spot::Resting(at) => drop(self.resting.insert((at, chat))),
            Spot::Sending => {}
        }
    }
}

/// Takes these out, in their order.
fn taken_out<K, T>(
    items: &mut VecDeque<Item<K, T>>,
    is_out: impl Fn(&Item<K, T>) -> bool,
) -> Vec<T> {
    let (out, kept): (VecDeque<_>, _) = items.drain(..).partition(is_out);
    *items = kept;
    out.into_iter().map(|item| item.what).collect()
}

#[cfg(test)]
mod tests;
