//! What the server runs on: a clock, a chance, and what is left of the machine between two lives.

use std::sync::Mutex;
use std::time::Duration;

use fanwright::desk::chance::{Chance, NoChance};
use fanwright::desk::clock::Clock;
use jiff::{SignedDuration, Timestamp};
use tokio::time::Instant;

use crate::walk::Dice;

/// A clock that goes with the runtime's own, which only passes when everybody waits.
#[derive(Debug)]
pub(super) struct SimClock {
    began: Instant,
    day: Mutex<Timestamp>,
}

impl SimClock {
    /// A clock that shows this now. Inside the runtime only.
    pub(super) fn showing(now: Timestamp) -> SimClock {
        SimClock {
            began: Instant::now(),
            day: Mutex::new(now),
        }
    }

    /// Somebody sets it forward or back.
    pub(super) fn jump(&self, by: SignedDuration) {
        let mut day = self.day.lock().unwrap();
        *day = day.checked_add(by).unwrap();
    }

    /// How long it is until this, if nobody sets the clock meanwhile.
    pub(super) fn left_until(&self, until: Timestamp) -> Duration {
        let left = self.now().duration_until(until);
        Duration::try_from(left).unwrap_or_default()
    }
}

impl Clock for SimClock {
    fn now(&self) -> Timestamp {
        let went_by = SignedDuration::try_from(self.running()).unwrap();
        *self.day.lock().unwrap() + went_by
    }

    fn running(&self) -> Duration {
        self.began.elapsed()
    }
}

/// Chance that a seed repeats.
#[derive(Debug)]
pub(super) struct Drawn(Mutex<Dice>);

impl Drawn {
    pub(super) fn from(seed: u64) -> Drawn {
        Drawn(Mutex::new(Dice::new(seed)))
    }
}

impl Chance for Drawn {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoChance> {
        let mut dice = self.0.lock().unwrap();
        for byte in bytes {
            *byte = u8::try_from(dice.roll(256)).unwrap();
        }
        Ok(())
    }
}
