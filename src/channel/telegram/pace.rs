//! How fast messages may go out: the limits, and what is spent of those of one chat.

use std::collections::VecDeque;
use std::time::Duration;

/// A moment, as the time since the channel began.
pub(super) type Moment = Duration;

/// What the public platform asks of bots, per its own guide (Bots FAQ, “My bot is hitting
/// limits”): about 30 messages a second in all, one a second to one chat, 20 a minute to a group.
const PUBLIC: Limits = Limits {
    overall: Some(Duration::from_nanos(1_000_000_000 / 30 + 1)),
    chat: Some(Duration::from_secs(1)),
    group: Some((20, Duration::from_secs(60))),
};

/// Limits of sending; what is `None` is not limited.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Limits {
    /// Between any two messages.
    pub overall: Option<Duration>,
    /// Between two messages to one chat.
    pub chat: Option<Duration>,
    /// So many to one group in so long.
    pub group: Option<(usize, Duration)>,
}

impl Limits {
    /// The limits towards a server: the public one asks for some; at any other one only its own
    /// refusals count. `rate`, in messages a second, replaces the overall limit.
    pub fn towards(is_public: bool, rate: Option<f64>) -> Limits {
        let mut limits = if is_public { PUBLIC } else { Limits::default() };
        if let Some(rate) = rate {
            let gap = Duration::try_from_secs_f64(1.0 / rate).ok();
            limits.overall = gap.filter(|gap| !gap.is_zero());
        }
        limits
    }
}

/// One part of so many of a group's minute is for those who wait.
const KEPT_FREE: usize = 4;

/// When one chat was last written to.
///
/// A request counts from the moment its answer came. The platform counts it when it arrives, which
/// is never later; so a slow line cannot push two of them closer together there than they may be.
#[derive(Debug, Default)]
pub(super) struct Spent(VecDeque<Moment>);

impl Spent {
    /// The first moment at which so many messages may go to the chat at once. What can wait leaves
    /// a part of a group's minute to those who cannot.
    pub(super) fn free_at(
        &self,
        chat: i64,
        limits: &Limits,
        (messages, can_wait): (usize, bool),
    ) -> Moment {
        let last = limits.chat.zip(self.0.back());
        let last = last.map(|(gap, last)| last.saturating_add(gap));
        let window = limits.group.filter(|_| is_group(chat));
        let window = window.and_then(|(count, span)| {
            let kept_free = if can_wait { count / KEPT_FREE } else { 0 };
            // With these the minute is just full. More than a whole minute's go when it is empty.
            let before = count.saturating_sub(kept_free + messages.saturating_sub(1));
            let first = self.0.len().checked_sub(before.max(1))?;
            self.0.get(first).map(|first| first.saturating_add(span))
        });
        last.max(window).unwrap_or_default()
    }

    /// The moment from which nothing of it matters any more.
    pub(super) fn forgotten_at(&self, chat: i64, limits: &Limits) -> Moment {
        let window = limits.group.filter(|_| is_group(chat));
        let longest = window.map(|(_, span)| span).max(limits.chat);
        let last = self.0.back().copied().unwrap_or_default();
        last.saturating_add(longest.unwrap_or_default())
    }

    /// Something that was sent to the chat was answered. What counts as several messages takes the
    /// seconds of all of them.
    pub(super) fn note(&mut self, (chat, messages): (i64, usize), limits: &Limits, now: Moment) {
        let gap = limits.chat.unwrap_or_default();
        // An emergency may be answered while the seconds of an album are not over.
        let mut at = self.0.back().map_or(now, |last| now.max(*last));
        for _ in 0..messages.max(1) {
            self.0.push_back(at);
            at = at.saturating_add(gap);
        }
        let window = limits.group.filter(|_| is_group(chat));
        let kept = window.map_or(1, |(count, _)| count.max(1));
        while self.0.len() > kept {
            self.0.pop_front();
        }
    }
}

/// How long to wait after so many failures: half a second longer each time, since somebody waits
/// and one failure says little of the next; from the fourth on doubled, at most a minute.
pub(super) fn pause(failures: u32) -> Duration {
    let half_seconds = match failures {
        0..=3 => failures.max(1),
        more => 3_u32.saturating_mul(2_u32.saturating_pow(more - 3)),
    };
    Duration::from_millis(500)
        .saturating_mul(half_seconds)
        .min(Duration::from_secs(60))
}

/// Groups have negative numbers.
pub(super) fn is_group(chat: i64) -> bool {
    chat < 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_public_server_is_limited_unless_a_rate_is_given() {
        assert_eq!(Limits::towards(false, None), Limits::default());
        assert_eq!(Limits::towards(true, None), PUBLIC);
        let given = Limits::towards(true, Some(4.0));
        assert_eq!(given.overall, Some(Duration::from_millis(250)));
        assert_eq!(given.chat, PUBLIC.chat);
        assert_eq!(Limits::towards(false, Some(0.0)).overall, None);
    }

    #[test]
    fn the_first_failures_hold_nobody_up_for_long() {
        let millis = [1, 2, 3, 4, 5, 20].map(|failures| pause(failures).as_millis());
        assert_eq!(millis, [500, 1_000, 1_500, 3_000, 6_000, 60_000]);
    }

    #[test]
    fn a_chat_waits_a_second_and_a_group_for_its_minute() {
        let at = Duration::from_secs;
        let mut chat = Spent::default();
        assert_eq!(chat.free_at(7, &PUBLIC, (1, false)), at(0));
        chat.note((7, 1), &PUBLIC, at(5));
        assert_eq!(chat.free_at(7, &PUBLIC, (1, false)), at(6));
        assert_eq!(chat.forgotten_at(7, &PUBLIC), at(6));
        let mut group = Spent::default();
        for second in 0..20 {
            assert!(group.free_at(-7, &PUBLIC, (1, false)) <= at(second));
            group.note((-7, 1), &PUBLIC, at(second));
        }
        assert_eq!(group.free_at(-7, &PUBLIC, (1, false)), at(60));
        group.note((-7, 1), &PUBLIC, at(60));
        assert_eq!(
            group.free_at(-7, &PUBLIC, (1, false)),
            at(61),
            "the second is a minute old then"
        );
        assert_eq!(
            group.free_at(-7, &PUBLIC, (1, true)),
            at(66),
            "five of the minute are kept free"
        );
        assert_eq!(group.forgotten_at(-7, &PUBLIC), at(120));
    }

    #[test]
    fn an_album_takes_the_turns_of_all_its_photos() {
        let at = Duration::from_secs;
        let mut chat = Spent::default();
        chat.note((7, 10), &PUBLIC, at(5));
        assert_eq!(chat.free_at(7, &PUBLIC, (1, false)), at(15));
        let mut group = Spent::default();
        group.note((-7, 10), &PUBLIC, at(0));
        assert_eq!(
            group.free_at(-7, &PUBLIC, (10, false)),
            at(10),
            "twenty of the minute"
        );
        group.note((-7, 1), &PUBLIC, at(10));
        assert_eq!(
            group.free_at(-7, &PUBLIC, (9, false)),
            at(11),
            "just full with it"
        );
        assert_eq!(
            group.free_at(-7, &PUBLIC, (10, false)),
            at(60),
            "the first is a minute old then"
        );
    }
}
