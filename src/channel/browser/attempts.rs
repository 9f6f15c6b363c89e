//! How often somebody tried a code or a password in vain.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};

/// So many wrong ones are let pass from one place, or for one login, within [`WINDOW`].
pub(super) const WRONG_MAX: u32 = 10;

/// How long a wrong one counts.
pub(super) const WINDOW: SignedDuration = SignedDuration::from_mins(10);

/// So many are counted at once; those counted longest ago are let go.
const COUNTED_MAX: usize = 4_096;

/// What is counted.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) enum Tried {
    /// From one place, whatever was tried.
    From(IpAddr),
    /// Passwords for one login, wherever they came from.
    Login(String),
}

/// What was wrong, by where it came from and what it was for.
#[derive(Default)]
pub(super) struct Attempts {
    by_kind: Mutex<HashMap<Tried, Count>>,
}

struct Count {
    since: Timestamp,
    wrong: u32,
}

impl Attempts {
    /// Whether nobody may try that for a while.
    pub(super) fn must_wait(&self, tried: &Tried, now: Timestamp) -> bool {
        let by_kind = self.by_kind.lock().unwrap_or_else(PoisonError::into_inner);
        by_kind
            .get(tried)
            .is_some_and(|count| count.counts(now) && count.wrong >= WRONG_MAX)
    }

    /// Counts a wrong one.
    pub(super) fn wrong(&self, tried: Tried, now: Timestamp) {
        let mut by_kind = self.by_kind.lock().unwrap_or_else(PoisonError::into_inner);
        if by_kind.len() >= COUNTED_MAX {
            by_kind.retain(|_, count| count.counts(now));
        }
        if by_kind.len() >= COUNTED_MAX {
            let mut times: Vec<Timestamp> = by_kind.values().map(|count| count.since).collect();
            times.sort_unstable();
            let middle = times[times.len() / 2];
            by_kind.retain(|_, count| count.since > middle);
        }
        let count = by_kind.entry(tried).or_insert(Count {
            since: now,
            wrong: 0,
        });
        if !count.counts(now) {
            *count = Count {
                since: now,
                wrong: 0,
            };
        }
        count.wrong = count.wrong.saturating_add(1);
    }
}

impl Count {
    fn counts(&self, now: Timestamp) -> bool {
        // One from long after now was counted before the clock was set back.
        now.duration_since(self.since).abs() <= WINDOW
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_mins(minutes)
    }

    #[test]
    fn ten_wrong_codes_make_a_place_wait_for_ten_minutes() {
        let attempts = Attempts::default();
        let from = Tried::From("192.0.2.1".parse().unwrap());
        let elsewhere = Tried::From("192.0.2.2".parse().unwrap());
        let login = Tried::Login("K7QM3XTP".to_owned());
        for _ in 0..WRONG_MAX {
            assert!(!attempts.must_wait(&from, at(0)));
            attempts.wrong(from.clone(), at(0));
        }
        assert!(attempts.must_wait(&from, at(10)));
        assert!(!attempts.must_wait(&elsewhere, at(10)));
        assert!(!attempts.must_wait(&login, at(10)));
        assert!(!attempts.must_wait(&from, at(11)));
        assert!(
            !attempts.must_wait(&from, at(-60)),
            "the clock was set back"
        );
    }

    #[test]
    fn a_crowd_of_places_is_let_go_by_halves() {
        let attempts = Attempts::default();
        for number in 0..=COUNTED_MAX {
            let number = u32::try_from(number).unwrap();
            let seconds = SignedDuration::from_millis(i64::from(number));
            let from = Tried::From(IpAddr::from(number.to_be_bytes()));
            attempts.wrong(from, at(0) + seconds);
        }
        assert!(attempts.by_kind.lock().unwrap().len() <= COUNTED_MAX / 2 + 1);
    }
}
