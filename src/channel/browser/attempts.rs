//! How often somebody tried a code in vain.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};

/// So many wrong codes are let pass from one place within [`WINDOW`].
pub(super) const WRONG_CODES_MAX: u32 = 10;

/// How long a wrong code counts.
pub(super) const WINDOW: SignedDuration = SignedDuration::from_mins(10);

/// So many places are counted at once; those counted longest ago are let go.
const PLACES_MAX: usize = 4_096;

/// Wrong codes by where they came from.
#[derive(Default)]
pub(super) struct Attempts {
    by_place: Mutex<HashMap<IpAddr, Count>>,
}

struct Count {
    since: Timestamp,
    wrong: u32,
}

impl Attempts {
    /// Whether this place has to wait.
    pub(super) fn must_wait(&self, from: IpAddr, now: Timestamp) -> bool {
        let by_place = self.by_place.lock().unwrap_or_else(PoisonError::into_inner);
        by_place
            .get(&place(from))
            .is_some_and(|count| count.counts(now) && count.wrong >= WRONG_CODES_MAX)
    }

    /// Counts a wrong code.
    pub(super) fn wrong(&self, from: IpAddr, now: Timestamp) {
        let mut by_place = self.by_place.lock().unwrap_or_else(PoisonError::into_inner);
        if by_place.len() >= PLACES_MAX {
            by_place.retain(|_, count| count.counts(now));
        }
        if by_place.len() >= PLACES_MAX {
            let mut times: Vec<Timestamp> = by_place.values().map(|count| count.since).collect();
            times.sort_unstable();
            let middle = times[times.len() / 2];
            by_place.retain(|_, count| count.since > middle);
        }
        let count = by_place.entry(place(from)).or_insert(Count {
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
        now.duration_since(self.since) <= WINDOW
    }
}

/// One household has a whole /64 of IPv6 addresses, so it counts as one place.
fn place(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V4(_) => from,
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            IpAddr::from([a, b, c, d, 0, 0, 0, 0])
        }
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
        let from: IpAddr = "2001:db8::1".parse().unwrap();
        let beside: IpAddr = "2001:db8::2".parse().unwrap();
        let elsewhere: IpAddr = "2001:db8:0:1::1".parse().unwrap();
        for _ in 0..WRONG_CODES_MAX {
            assert!(!attempts.must_wait(from, at(0)));
            attempts.wrong(from, at(0));
        }
        assert!(attempts.must_wait(from, at(10)));
        assert!(attempts.must_wait(beside, at(10)));
        assert!(!attempts.must_wait(elsewhere, at(10)));
        assert!(!attempts.must_wait(from, at(11)));
    }

    #[test]
    fn a_crowd_of_places_is_let_go_by_halves() {
        let attempts = Attempts::default();
        for number in 0..=PLACES_MAX {
            let number = u32::try_from(number).unwrap();
            let seconds = SignedDuration::from_millis(i64::from(number));
            attempts.wrong(IpAddr::from(number.to_be_bytes()), at(0) + seconds);
        }
        assert!(attempts.by_place.lock().unwrap().len() <= PLACES_MAX / 2 + 1);
    }
}
