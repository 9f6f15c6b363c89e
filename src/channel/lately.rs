//! What was asked for lately: so much in so long a time, for each who asks.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};

/// So much in so long a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace {
    /// So often.
    pub times: i32,
    /// In so long; then it comes back evenly.
    pub within: SignedDuration,
}

/// So many of those who ask are counted at once; those who asked longest ago are let go.
const COUNTED_MAX: usize = 8_192;

/// For each asker the time at which everything taken so far would be spread out evenly: the
/// generic cell rate algorithm of ITU-T I.371.
#[derive(Debug)]
pub struct Lately<K>(Mutex<HashMap<K, Timestamp>>);

impl<K> Default for Lately<K> {
    fn default() -> Self {
        Lately(Mutex::default())
    }
}

impl<K: Hash + Eq> Lately<K> {
    /// Takes one.
    ///
    /// # Errors
    /// How long to wait for it.
    pub fn take(&self, asker: K, pace: Pace, now: Timestamp) -> Result<(), SignedDuration> {
        // Nothing that touches the map can panic half-way.
        let mut lately = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        make_room(&mut lately, now);
        // Further ahead than anybody can take is only what was taken before the clock was set back.
        let taken = lately.get(&asker).copied();
        let taken = taken.filter(|spread| spread.duration_since(now) <= pace.within);
        let spread = taken.unwrap_or(now).max(now);
        let ahead = spread.duration_since(now);
        let one = pace.within / pace.times;
        let room = pace.within - one;
        if ahead > room {
            return Err(ahead - room);
        }
        lately.insert(asker, spread.checked_add(one).unwrap_or(spread));
        Ok(())
    }
}

fn make_room<K: Hash + Eq>(lately: &mut HashMap<K, Timestamp>, now: Timestamp) {
    if lately.len() < COUNTED_MAX {
        return;
    }
    lately.retain(|_, spread| *spread > now);
    if lately.len() >= COUNTED_MAX {
        let mut times: Vec<Timestamp> = lately.values().copied().collect();
        times.sort_unstable();
        let middle = times[times.len() / 2];
        lately.retain(|_, spread| *spread > middle);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const PACE: Pace = Pace {
        times: 6,
        within: SignedDuration::from_mins(1),
    };

    fn at(seconds: i64) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_secs(seconds)
    }

    #[test]
    fn six_a_minute_come_at_once_and_then_one_every_ten_seconds() {
        let lately = Lately::default();
        for _ in 0..6 {
            assert_eq!(lately.take(1, PACE, at(0)), Ok(()));
        }
        assert_eq!(
            lately.take(1, PACE, at(0)),
            Err(SignedDuration::from_secs(10))
        );
        assert_eq!(
            lately.take(2, PACE, at(0)),
            Ok(()),
            "others are not held up"
        );
        assert_eq!(
            lately.take(1, PACE, at(9)),
            Err(SignedDuration::from_secs(1))
        );
        assert_eq!(lately.take(1, PACE, at(10)), Ok(()));
        assert_eq!(
            lately.take(1, PACE, at(11)),
            Err(SignedDuration::from_secs(9))
        );
    }

    #[test]
    fn a_clock_that_is_set_back_holds_nobody_up() {
        let lately = Lately::default();
        for _ in 0..6 {
            assert_eq!(lately.take(1, PACE, at(86_400)), Ok(()));
        }
        for _ in 0..6 {
            assert_eq!(lately.take(1, PACE, at(0)), Ok(()));
        }
        let next = lately.take(1, PACE, at(0));
        assert_eq!(next, Err(SignedDuration::from_secs(10)));
    }

    #[test]
    fn a_crowd_is_let_go_by_halves() {
        let lately = Lately::default();
        for asker in 0..=COUNTED_MAX {
            let now = at(0) + SignedDuration::from_micros(asker as i64);
            lately.take(asker, PACE, now).unwrap();
        }
        assert!(lately.0.lock().unwrap().len() <= COUNTED_MAX / 2 + 1);
    }

    proptest! {
        #[test]
        fn never_more_than_twice_the_pace_in_any_such_time(
            gaps in proptest::collection::vec(0_i64..20, 1..200),
        ) {
            let lately = Lately::default();
            let (mut now, mut taken) = (0, Vec::new());
            for gap in gaps {
                now += gap;
                if lately.take((), PACE, at(now)).is_ok() {
                    taken.push(now);
                }
            }
            for first in &taken {
                let window = first..&(first + 60);
                let count = taken.iter().filter(|at| window.contains(at)).count();
                prop_assert!(count < 12);
            }
        }
    }
}
