//! How many requests a token may make: a bucket that fills slowly and holds a burst.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

/// So many requests may come at once.
pub(super) const BURST: i64 = 100;
/// So many come back every second.
pub(super) const A_SECOND: i64 = 10;

/// So many tokens are counted before those that are full again are let go.
const TOKENS_MAX: usize = 4_096;

/// What each token may still ask.
#[derive(Default)]
pub(super) struct Limits {
    buckets: Mutex<HashMap<Uuid, Bucket>>,
}

/// What is left for one token, in thousandths of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Bucket {
    left: i64,
    at: Timestamp,
}

impl Bucket {
    const FULL: i64 = BURST * 1_000;

    fn full(at: Timestamp) -> Bucket {
        Bucket {
            left: Bucket::FULL,
            at,
        }
    }

    /// The bucket as it is at this time. A clock that goes back gives nothing.
    fn filled(self, now: Timestamp) -> Bucket {
        let went_by = now.duration_since(self.at).max(SignedDuration::ZERO);
        let millis = i64::try_from(went_by.as_millis()).unwrap_or(i64::MAX);
        let more = millis.saturating_mul(A_SECOND);
        Bucket {
            left: self.left.saturating_add(more).min(Bucket::FULL),
            at: now,
        }
    }

    /// Takes one request out, or says how many seconds to wait for one.
    fn take(&mut self, now: Timestamp) -> Result<(), u64> {
        *self = self.filled(now);
        if self.left >= 1_000 {
            self.left -= 1_000;
            return Ok(());
        }
        let millis = (1_000 - self.left).div_euclid(A_SECOND) + 1;
        let seconds = millis.div_euclid(1_000) + 1;
        Err(seconds.unsigned_abs())
    }
}

impl Limits {
    /// Takes one request of this token, or says how many seconds it has to wait.
    pub(super) fn take(&self, token: Uuid, now: Timestamp) -> Result<(), u64> {
        // Nothing that touches the map can panic half-way.
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= TOKENS_MAX && !buckets.contains_key(&token) {
            buckets.retain(|_, bucket| bucket.filled(now).left < Bucket::FULL);
        }
        let bucket = buckets.entry(token).or_insert_with(|| Bucket::full(now));
        bucket.take(now)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn at(millis: i64) -> Timestamp {
        Timestamp::from_millisecond(millis).unwrap()
    }

    #[test]
    fn a_burst_is_let_pass_and_then_so_many_a_second() {
        let limits = Limits::default();
        let (one, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        for _ in 0..BURST {
            assert_eq!(limits.take(one, at(0)), Ok(()));
        }
        assert_eq!(limits.take(one, at(0)), Err(1));
        assert_eq!(limits.take(other, at(0)), Ok(()), "each has its own");
        for _ in 0..A_SECOND {
            assert_eq!(limits.take(one, at(1_000)), Ok(()));
        }
        assert_eq!(limits.take(one, at(1_000)), Err(1));
        assert_eq!(limits.take(one, at(0)), Err(1), "a clock that goes back");
    }

    proptest! {
        #[test]
        fn whoever_waits_as_told_is_let_pass(gaps in prop::collection::vec(0i64..400, 1..400)) {
            let mut bucket = Bucket::full(at(0));
            let mut now = 0;
            for gap in gaps {
                now += gap;
                if let Err(seconds) = bucket.take(at(now)) {
                    now += i64::try_from(seconds).unwrap() * 1_000;
                    prop_assert_eq!(bucket.take(at(now)), Ok(()));
                }
            }
        }

        #[test]
        fn no_more_pass_than_the_burst_and_the_rate(
            gaps in prop::collection::vec(0i64..50, 1..600),
        ) {
            let mut bucket = Bucket::full(at(0));
            let (mut now, mut passed) = (0, 0);
            for gap in gaps {
                now += gap;
                passed += i64::from(bucket.take(at(now)).is_ok());
            }
            prop_assert!(passed <= BURST + now * A_SECOND / 1_000);
        }
    }
}
