//! How fast messages may go out.

use std::collections::{HashMap, VecDeque};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use tokio::time::Instant;

/// What the public platform asks of bots, per its own guide: about 30 messages a second in all,
/// one a second to one chat, 20 a minute to a group.
const PUBLIC: Limits = Limits {
    overall: Some(Duration::from_nanos(1_000_000_000 / 30)),
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

/// When which chat was written to, and whose turn it is.
#[derive(Debug)]
pub(super) struct Pace {
    limits: Limits,
    /// A fair lock: who came first sends first.
    next: tokio::sync::Mutex<Option<Instant>>,
    sent: Mutex<HashMap<i64, VecDeque<Instant>>>,
}

/// Chats whose last message is older than any limit are forgotten when there are this many.
const CHATS_REMEMBERED: usize = 4096;

impl Pace {
    pub(super) fn new(limits: Limits) -> Pace {
        Pace {
            limits,
            next: tokio::sync::Mutex::new(None),
            sent: Mutex::default(),
        }
    }

    /// Waits until a message may go to this chat. One message of a chat at a time may wait.
    pub(super) async fn turn(&self, chat: i64) {
        let wait = self.chat_waits(chat, Instant::now());
        tokio::time::sleep(wait).await;
        if let Some(gap) = self.limits.overall {
            let mut next = self.next.lock().await;
            if let Some(next) = *next {
                tokio::time::sleep_until(next).await;
            }
            *next = Some(Instant::now() + gap);
        }
        self.note(chat, Instant::now());
    }

    /// How long this chat has to wait for its own sake.
    fn chat_waits(&self, chat: i64, now: Instant) -> Duration {
        let sent = self.sent.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(times) = sent.get(&chat) else {
            return Duration::ZERO;
        };
        let after_last = self.limits.chat.zip(times.back());
        let after_last = after_last.map(|(gap, last)| *last + gap);
        let window = self.limits.group.filter(|_| is_group(chat));
        let after_window = window.and_then(|(count, span)| {
            let first = times.len().checked_sub(count)?;
            times.get(first).map(|time| *time + span)
        });
        let earliest = after_last.max(after_window);
        earliest.map_or(Duration::ZERO, |at| at.saturating_duration_since(now))
    }

    fn note(&self, chat: i64, now: Instant) {
        if self.limits.chat.is_none() && self.limits.group.is_none() {
            return;
        }
        let kept = if is_group(chat) {
            self.limits.group.map_or(1, |(count, _)| count)
        } else {
            1
        };
        let mut sent = self.sent.lock().unwrap_or_else(PoisonError::into_inner);
        let times = sent.entry(chat).or_default();
        times.push_back(now);
        while times.len() > kept {
            times.pop_front();
        }
        if sent.len() > CHATS_REMEMBERED {
            let span = self.limits.group.map_or(Duration::ZERO, |(_, span)| span);
            let longest = span.max(self.limits.chat.unwrap_or_default());
            sent.retain(|_, times| times.back().is_some_and(|last| *last + longest > now));
        }
    }
}

/// Groups have negative numbers.
fn is_group(chat: i64) -> bool {
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
    fn a_chat_waits_a_second_and_a_group_for_its_minute() {
        let pace = Pace::new(PUBLIC);
        let start = Instant::now();
        let after = |seconds| start + Duration::from_secs(seconds);
        assert_eq!(pace.chat_waits(7, start), Duration::ZERO);
        pace.note(7, start);
        assert_eq!(pace.chat_waits(7, start), Duration::from_secs(1));
        assert_eq!(pace.chat_waits(8, start), Duration::ZERO, "another chat");
        assert_eq!(pace.chat_waits(7, after(1)), Duration::ZERO);
        for second in 0..20 {
            assert_eq!(pace.chat_waits(-7, after(second)), Duration::ZERO);
            pace.note(-7, after(second));
        }
        assert_eq!(pace.chat_waits(-7, after(20)), Duration::from_secs(40));
        assert_eq!(pace.chat_waits(-7, after(60)), Duration::ZERO);
    }

    #[tokio::test]
    async fn messages_to_all_chats_keep_the_overall_gap() {
        let pace = Pace::new(Limits::towards(false, Some(100.0)));
        let start = Instant::now();
        for chat in 0..6 {
            pace.turn(chat).await;
        }
        assert!(start.elapsed() >= Duration::from_millis(50));
    }
}
