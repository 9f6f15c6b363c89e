//! A queue, a platform that counts, and the time between them, which only passes when told to.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap, HashMap, VecDeque};

use super::super::*;

/// How a request fares.
#[derive(Clone, Copy, Debug)]
pub(super) enum Answer {
    Taken,
    /// It cannot be told; again after so long.
    Unclear(Duration),
    /// 429 with so many seconds.
    Refused(Duration),
}

/// How long a request is under way, each way.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flight {
    pub(super) there: Duration,
    pub(super) back: Duration,
    pub(super) answer: Answer,
}

#[derive(Clone, Debug)]
pub(super) struct Message {
    pub(super) number: u64,
    pub(super) chat: i64,
    pub(super) rank: Rank,
    pub(super) offered: Moment,
    /// As how many the platform counts it.
    pub(super) messages: usize,
}

/// What the platform would have seen, held against its limits by counting.
#[derive(Default)]
struct Platform {
    limits: Limits,
    begun: VecDeque<Moment>,
    arrived: HashMap<i64, VecDeque<Moment>>,
    /// From when on a chat may be written to again.
    free: HashMap<i64, Moment>,
    held: HashMap<i64, Moment>,
    broken: Vec<String>,
}

impl Platform {
    fn begins(&mut self, message: &Message, now: Moment, there: Duration) {
        let Message { chat, messages, .. } = *message;
        if self.held.get(&chat).is_some_and(|until| now < *until) {
            self.broken.push(format!("{chat} was on hold at {now:?}"));
        }
        let second = Duration::from_secs(1);
        self.begun.retain(|begun| *begun + second > now);
        self.begun.extend(std::iter::repeat_n(now, messages));
        if self.limits.overall.is_some() && self.begun.len() > 30 {
            let count = self.begun.len();
            self.broken
                .push(format!("{count} in the second before {now:?}"));
        }
        let arrives = now + there;
        let arrived = self.arrived.entry(chat).or_default();
        let gap = self.limits.chat.unwrap_or_default();
        let free = self.free.get(&chat).copied().unwrap_or_default();
        // An emergency overtakes what takes long: the platform bears a short burst.
        if free > arrives && message.rank != Rank::Emergency {
            self.broken
                .push(format!("{chat} at {arrives:?}, not free before {free:?}"));
        }
        // All of an album arrive at once, and it takes the seconds that all of them would.
        arrived.extend(std::iter::repeat_n(arrives, messages));
        let seconds = gap * u32::try_from(messages).unwrap();
        self.free.insert(chat, free.max(arrives + seconds));
        if let Some((count, span)) = self.limits.group.filter(|_| chat < 0) {
            arrived.retain(|at| *at + span > arrives);
            if arrived.len() > count {
                let count = arrived.len();
                self.broken.push(format!("{count} to {chat} in a minute"));
            }
        }
    }
}

/// A queue, a platform, and the time between them.
pub(super) struct World {
    pub(super) queue: Queue<u8, Message>,
    pub(super) now: Moment,
    platform: Platform,
    air: BinaryHeap<Reverse<(Moment, u64)>>,
    flights: HashMap<u64, (Sending<u8, Message>, Answer)>,
    count: u64,
    offered: u64,
    /// How long each thing waited before it was first sent.
    pub(super) waits: Vec<(Rank, Duration)>,
    sent: BTreeSet<u64>,
    pub(super) taken: Vec<Message>,
    pub(super) replaced: Vec<Message>,
    pub(super) left_out: Vec<Message>,
}

impl World {
    pub(super) fn new(limits: Limits) -> World {
        World {
            queue: Queue::new(limits),
            now: Moment::ZERO,
            platform: Platform {
                limits,
                ..Platform::default()
            },
            air: BinaryHeap::new(),
            flights: HashMap::new(),
            count: 0,
            offered: 0,
            waits: Vec::new(),
            sent: BTreeSet::new(),
            taken: Vec::new(),
            replaced: Vec::new(),
            left_out: Vec::new(),
        }
    }

    /// Offers so many alike to a chat; gives the number of the last.
    pub(super) fn offer(&mut self, to: (i64, Rank), how: (Like<u8>, bool), count: usize) -> u64 {
        self.offer_albums(to, how, (count, 1))
    }

    /// The same for things that the platform counts as so many messages each.
    pub(super) fn offer_albums(
        &mut self,
        (chat, rank): (i64, Rank),
        (like, is_owed): (Like<u8>, bool),
        (count, messages): (usize, usize),
    ) -> u64 {
        let mut offers = Vec::new();
        for _ in 0..count {
            self.offered += 1;
            let (number, offered) = (self.offered, self.now);
            let what = Message {
                number,
                chat,
                rank,
                offered,
                messages,
            };
            let like = like.clone();
            offers.push(Offer {
                like,
                is_owed,
                messages,
                what,
            });
        }
        let removed = self.queue.offer(self.now, (chat, rank), offers);
        self.replaced.extend(removed.replaced);
        self.left_out.extend(removed.left_out);
        self.offered
    }

    /// How much was offered.
    pub(super) fn count_offered(&self) -> u64 {
        self.offered
    }

    /// Lets the time pass.
    pub(super) fn pass(&mut self, until: Moment, flight: &mut impl FnMut(&Message) -> Flight) {
        loop {
            let wake = match self.queue.next(self.now) {
                Next::Send(sending) => {
                    self.begin(sending, flight);
                    continue;
                }
                Next::At(at) => {
                    assert!(at > self.now, "woken for nothing at {at:?}");
                    at
                }
                Next::Nothing => Moment::MAX,
            };
            let lands = self.air.peek().map_or(Moment::MAX, |Reverse((at, _))| *at);
            let next = wake.min(lands);
            if next > until {
                self.now = until;
                return;
            }
            self.now = next;
            if lands == next {
                self.land();
            }
        }
    }

    /// Lets the time pass until everything left.
    pub(super) fn pass_all(&mut self, flight: &mut impl FnMut(&Message) -> Flight) {
        while !self.queue.is_done() {
            let before = (self.now, self.waits.len());
            self.pass(self.now + Duration::from_secs(60), flight);
            assert!(before.0 < Duration::from_secs(1_000_000), "it never ends");
        }
    }

    fn begin(
        &mut self,
        sending: Sending<u8, Message>,
        flight: &mut impl FnMut(&Message) -> Flight,
    ) {
        let message = sending.what().clone();
        if self.sent.insert(message.number) {
            self.waits.push((message.rank, self.now - message.offered));
        }
        let flight = flight(&message);
        self.platform.begins(&message, self.now, flight.there);
        self.count += 1;
        let lands = self.now + flight.there + flight.back;
        self.air.push(Reverse((lands, self.count)));
        self.flights.insert(self.count, (sending, flight.answer));
    }

    fn land(&mut self) {
        let Some(Reverse((_, number))) = self.air.pop() else {
            return;
        };
        let (sending, answer) = self.flights.remove(&number).unwrap();
        match answer {
            Answer::Taken => self.taken.push(self.queue.finished(self.now, sending)),
            Answer::Unclear(wait) => {
                self.replaced
                    .extend(self.queue.again(self.now, sending, wait));
            }
            Answer::Refused(wait) => {
                self.platform.held.insert(sending.chat, self.now + wait);
                self.replaced
                    .extend(self.queue.refused(self.now, sending, wait));
            }
        }
    }

    /// Nothing broke a limit, and everything that was offered left in one way.
    pub(super) fn is_kept(&self) -> Result<(), String> {
        if let Some(broken) = self.platform.broken.first() {
            return Err(broken.clone());
        }
        let all = [&self.taken, &self.replaced, &self.left_out];
        let mut numbers: Vec<u64> = all.into_iter().flatten().map(|one| one.number).collect();
        numbers.sort_unstable();
        match numbers == (1..=self.offered).collect::<Vec<_>>() {
            true => Ok(()),
            false => Err(format!("of {} left {numbers:?}", self.offered)),
        }
    }
}

pub(super) fn quick(_: &Message) -> Flight {
    Flight {
        there: Duration::from_millis(40),
        back: Duration::from_millis(40),
        answer: Answer::Taken,
    }
}
