//! How much one person may send, so that a flood of one holds up nobody else and fills no memory.
//!
//! A person never comes near it. Whoever does is told once; what came after the sentence was not
//! taken in, and no part of it is kept. An emergency is always taken in.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};

use super::decode::{Arrived, Came};
use crate::channel::lately::{Lately, Pace};

/// How much one person may send, and how much may wait at one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FloodBounds {
    /// Messages and pressed buttons of one person.
    pub person: Pace,
    /// So much may wait to be handled in one chat or topic.
    pub waiting_max: usize,
}

/// Four a second for a minute, then four a second: no person types or presses so.
impl Default for FloodBounds {
    fn default() -> Self {
        FloodBounds {
            person: Pace {
                times: 240,
                within: SignedDuration::from_mins(1),
            },
            waiting_max: 128,
        }
    }
}

/// Nobody is told twice in so long a time.
const TOLD_AGAIN_AFTER: SignedDuration = SignedDuration::from_mins(1);

/// So many of those who were told are remembered; who was told longest ago may be told again.
const TOLD_MAX: usize = 1_024;

/// What becomes of something that arrived.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// It is handled.
    Taken,
    /// It is left, and the person is told.
    LeftAndTold,
    /// It is left without a word.
    Left,
}

/// What people sent lately.
#[derive(Default)]
pub(super) struct Floods {
    bounds: FloodBounds,
    lately: Lately<i64>,
    told: Mutex<HashMap<i64, Timestamp>>,
}

impl Floods {
    pub(super) fn within(bounds: FloodBounds) -> Floods {
        Floods {
            bounds,
            ..Floods::default()
        }
    }

    /// Counts what arrived while so much waits before it at its place: before an emergency only
    /// others wait, as it passes everything else.
    pub(super) fn look(&self, arrived: &Arrived, waiting: usize, now: Timestamp) -> Fate {
        let FloodBounds {
            person,
            waiting_max,
        } = self.bounds;
        if arrived.is_urgent() {
            // The answer to each is the same, and one of those that wait brings it.
            return match waiting < waiting_max {
                true => Fate::Taken,
                false => Fate::Left,
            };
        }
        let who = match &arrived.came {
            Came::Private(somebody, _) | Came::InGroup(somebody, _) | Came::Seeks(somebody, _) => {
                somebody.user
            }
            Came::Nameless(_) => arrived.place.chat,
            // The platform tells of a group; nobody sends that.
            Came::News(_) => return Fate::Taken,
        };
        let is_too_much = self.lately.take(who, person, now).is_err();
        if !is_too_much && waiting < waiting_max {
            return Fate::Taken;
        }
        match self.tells(who, now) {
            true => Fate::LeftAndTold,
            false => Fate::Left,
        }
    }

    /// Whether somebody is to be told; they are told by it.
    fn tells(&self, who: i64, now: Timestamp) -> bool {
        // Nothing that touches the map can panic half-way.
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let is_old = |at: &Timestamp| now.duration_since(*at) >= TOLD_AGAIN_AFTER;
        if told.get(&who).is_some_and(|at| !is_old(at)) {
            return false;
        }
        if told.len() >= TOLD_MAX {
            told.retain(|_, at| !is_old(at));
        }
        if told.len() >= TOLD_MAX {
            return false;
        }
        told.insert(who, now);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::telegram::decode::{Command, Inbound, Place, Somebody};

    fn sent(user: i64, command: Command) -> Arrived {
        Arrived {
            place: Place {
                chat: user,
                thread: None,
            },
            is_forum: false,
            native: String::new(),
            came: Came::Private(
                Somebody {
                    user,
                    first_name: "Toni".to_owned(),
                },
                Inbound::Command(command, String::new()),
            ),
        }
    }

    fn at(seconds: i64) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_secs(seconds)
    }

    #[test]
    fn a_flood_is_told_once_and_others_are_heard() {
        let floods = Floods::default();
        let help = |user| sent(user, Command::Help);
        let most = FloodBounds::default().person.times;
        for _ in 0..most {
            assert_eq!(floods.look(&help(1), 0, at(0)), Fate::Taken);
        }
        assert_eq!(floods.look(&help(1), 0, at(0)), Fate::LeftAndTold);
        for _ in 0..1_000 {
            assert_eq!(floods.look(&help(1), 0, at(0)), Fate::Left);
        }
        assert_eq!(floods.look(&help(2), 0, at(0)), Fate::Taken);
        assert_eq!(floods.look(&help(1), 0, at(1)), Fate::Taken, "it ebbs");
    }

    #[test]
    fn no_more_waits_at_a_place_than_is_bounded() {
        let floods = Floods::default();
        let full = FloodBounds::default().waiting_max;
        assert_eq!(
            floods.look(&sent(1, Command::Help), full - 1, at(0)),
            Fate::Taken
        );
        assert_eq!(
            floods.look(&sent(1, Command::Help), full, at(0)),
            Fate::LeftAndTold
        );
    }

    #[test]
    fn somebody_hurt_is_heard_through_their_own_flood() {
        let floods = Floods::default();
        for _ in 0..10_000 {
            floods.look(&sent(1, Command::Help), 0, at(0));
        }
        assert_eq!(floods.look(&sent(1, Command::Hurt), 0, at(0)), Fate::Taken);
    }

    #[test]
    fn a_crowd_that_floods_fills_no_memory() {
        let floods = Floods::within(FloodBounds {
            waiting_max: 0,
            ..FloodBounds::default()
        });
        for user in 0..5_000 {
            floods.look(&sent(user, Command::Help), 0, at(0));
        }
        assert!(floods.told.lock().unwrap().len() <= TOLD_MAX);
    }
}
