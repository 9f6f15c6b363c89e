//! How often somebody is reminded: first after a while, then ever more seldom.

use jiff::{SignedDuration, Timestamp};

use super::matter::Kind;

/// Nobody gets more reminders than this within 24 hours, whatever waits for them.
pub const A_DAY_MAX: usize = 6;

/// Between two reminders to one person goes at least this time; what comes due meanwhile is told
/// together.
pub const APART: SignedDuration = SignedDuration::from_mins(30);

/// A day, as reminders count it.
const DAY: SignedDuration = SignedDuration::from_hours(24);

/// How often somebody is reminded of one matter.
struct Rhythm {
    /// After the matter is overdue.
    first: SignedDuration,
    /// Between one reminder and the next, in hours; the last goes on for good.
    gaps: &'static [i64],
}

/// Whoever stands at a hold point waits with cold hands, so they are spoken for sooner. All others
/// come at most daily.
fn rhythm(kind: Kind) -> Rhythm {
    let (first, gaps): (_, &'static [i64]) = match kind {
        Kind::Hold => (SignedDuration::from_mins(30), &[2, 6, 24]),
        Kind::LockedOut => (SignedDuration::ZERO, &[24, 48, 72, 168]),
        Kind::LookAgain => (SignedDuration::ZERO, &[24, 48, 96, 168]),
        Kind::SentBack => (SignedDuration::from_hours(4), &[24, 48, 96, 168]),
        Kind::ToReview => (SignedDuration::from_hours(24), &[24, 48, 96, 168]),
    };
    Rhythm { first, gaps }
}

/// What a person was told of a matter so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Told {
    /// How often.
    pub(super) count: u32,
    /// When last.
    pub(super) last: Timestamp,
}

/// When a person is told the next time of a matter that is overdue since `overdue`.
pub(super) fn next(kind: Kind, overdue: Timestamp, told: Told) -> Timestamp {
    let rhythm = rhythm(kind);
    let Some(before) = told.count.checked_sub(1) else {
        return plus(overdue, rhythm.first);
    };
    let gap = rhythm.gaps.get(before as usize);
    let gap = gap.or(rhythm.gaps.last()).copied().unwrap_or(24);
    plus(told.last, SignedDuration::from_hours(gap))
}

/// The first moment from `at` on at which one more message to a person is no nuisance, after
/// those sent at these times.
pub(super) fn paced(sent: &[Timestamp], at: Timestamp) -> Timestamp {
    let since = at.checked_sub(DAY).unwrap_or(Timestamp::MIN);
    let of_day: Vec<Timestamp> = sent.iter().copied().filter(|sent| *sent > since).collect();
    let after_last = of_day.iter().max().map_or(at, |last| plus(*last, APART));
    let full = of_day.len().checked_sub(A_DAY_MAX);
    let after_day = full
        .and_then(|at| of_day.get(at))
        .map(|sent| plus(*sent, DAY));
    after_day.unwrap_or(at).max(after_last).max(at)
}

/// The times that still count at `now`.
pub(super) fn still_counting(sent: Vec<Timestamp>, now: Timestamp) -> Vec<Timestamp> {
    let since = now.checked_sub(DAY).unwrap_or(Timestamp::MIN);
    sent.into_iter().filter(|sent| *sent > since).collect()
}

pub(super) fn plus(at: Timestamp, time: SignedDuration) -> Timestamp {
    at.checked_add(time).unwrap_or(Timestamp::MAX)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The hours after it was overdue at which somebody is told of a matter that nobody does.
    fn hours(kind: Kind) -> Vec<f64> {
        let overdue = Timestamp::UNIX_EPOCH;
        let mut told = Told::default();
        let mut hours = Vec::new();
        for _ in 0..6 {
            let at = next(kind, overdue, told);
            hours.push(at.duration_since(overdue).as_secs_f64() / 3600.0);
            told = Told {
                count: told.count + 1,
                last: at,
            };
        }
        hours
    }

    #[test]
    fn reminders_grow_ever_more_seldom() {
        assert_eq!(hours(Kind::Hold), [0.5, 2.5, 8.5, 32.5, 56.5, 80.5]);
        assert_eq!(
            hours(Kind::LockedOut),
            [0.0, 24.0, 72.0, 144.0, 312.0, 480.0]
        );
        assert_eq!(
            hours(Kind::LookAgain),
            [0.0, 24.0, 72.0, 168.0, 336.0, 504.0]
        );
        assert_eq!(
            hours(Kind::SentBack),
            [4.0, 28.0, 76.0, 172.0, 340.0, 508.0]
        );
        assert_eq!(
            hours(Kind::ToReview),
            [24.0, 48.0, 96.0, 192.0, 360.0, 528.0]
        );
    }

    proptest! {
        #[test]
        fn nobody_is_told_too_often(wishes in proptest::collection::vec(0i64..4_000, 1..60)) {
            // Each wish comes so many seconds after the one before was granted.
            let mut sent: Vec<Timestamp> = Vec::new();
            let mut at = Timestamp::UNIX_EPOCH;
            for seconds in wishes {
                at = paced(&sent, plus(at, SignedDuration::from_secs(seconds)));
                if let Some(last) = sent.last() {
                    prop_assert!(at.duration_since(*last) >= APART);
                }
                sent = still_counting(sent, at);
                sent.push(at);
                prop_assert!(sent.len() <= A_DAY_MAX);
            }
        }
    }
}
