//! What waits for one chat, in its order.

use std::collections::VecDeque;

use super::super::pace::{Limits, Moment, Spent};
use super::{Like, Rank};

/// A turn among the chats, and what tells equal turns apart.
pub(super) type Turn = (Moment, u64);

#[derive(Debug)]
pub(super) struct Item<K, T> {
    pub(super) rank: Rank,
    pub(super) due: Turn,
    pub(super) not_before: Moment,
    pub(super) like: Like<K>,
    pub(super) is_owed: bool,
    pub(super) messages: usize,
    pub(super) what: T,
}

/// Where a chat stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spot {
    /// It may be written to.
    Ready(Rank, Turn),
    /// It may not be written to before.
    Waiting(Moment),
    /// Nothing waits for it; what was spent is remembered until then.
    Resting(Moment),
    /// What is on its way to it has to be answered first.
    Sending,
}

#[derive(Debug)]
pub(super) struct Lane<K, T> {
    pub(super) items: VecDeque<Item<K, T>>,
    /// Since when something other than an emergency is on its way, and as how many messages the
    /// platform counts it.
    pub(super) sending: Option<(Moment, usize)>,
    /// An emergency is on its way.
    pub(super) is_alarming: bool,
    pub(super) spent: Spent,
    pub(super) held_until: Moment,
    /// The turn of the last thing that was offered.
    pub(super) turn: Moment,
    pub(super) spot: Spot,
}

impl<K, T> Lane<K, T> {
    pub(super) fn new() -> Lane<K, T> {
        Lane {
            items: VecDeque::new(),
            sending: None,
            is_alarming: false,
            spent: Spent::default(),
            held_until: Moment::ZERO,
            turn: Moment::ZERO,
            spot: Spot::Sending,
        }
    }

    /// How many emergencies wait, all of them at the front.
    pub(super) fn emergencies(&self) -> usize {
        let is_one = |item: &&Item<K, T>| item.rank == Rank::Emergency;
        self.items.iter().take_while(is_one).count()
    }

    pub(super) fn spot(&self, chat: i64, limits: &Limits, now: Moment) -> Spot {
        let is_emergency = |item: &Item<K, T>| item.rank == Rank::Emergency;
        let overtakes = self.items.front().is_some_and(is_emergency);
        if self.is_alarming || (self.sending.is_some() && !overtakes) {
            return Spot::Sending;
        }
        let Some(first) = self.items.front() else {
            let forgotten = self.spent.forgotten_at(chat, limits);
            return Spot::Resting(forgotten.max(self.held_until).max(self.turn));
        };
        let urgent = self.items.iter().map(|item| (item.rank, item.due)).min();
        let (rank, due) = urgent.unwrap_or((first.rank, first.due));
        let (since, under_way) = self.sending.unwrap_or_default();
        let wanted = (first.messages + under_way, rank == Rank::Quiet);
        let free = self.spent.free_at(chat, limits, wanted);
        // What is overtaken has a second to be answered in; mostly it is.
        let gap = limits.chat.filter(|_| overtakes && under_way > 0);
        let overtaken = since.saturating_add(gap.unwrap_or_default());
        let at = free.max(overtaken).max(self.held_until);
        let at = at.max(first.not_before);
        if at > now {
            return Spot::Waiting(at);
        }
        Spot::Ready(rank, due)
    }
}
