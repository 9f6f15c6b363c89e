//! The one place where time is read.

use std::fmt;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Tells the time. A test or a simulation brings its own.
pub trait Clock: Send + Sync + fmt::Debug {
    /// The time of day.
    fn now(&self) -> Timestamp;

    /// Time since some moment of this process; it never goes back and never jumps.
    fn running(&self) -> Duration;

    /// The time zone that counts where nobody chose one.
    fn zone(&self) -> TimeZone {
        TimeZone::UTC
    }
}

/// The clock of the machine.
#[derive(Debug)]
pub struct MachineClock {
    began: Instant,
}

impl MachineClock {
    /// A clock whose running time begins at zero.
    #[expect(
        clippy::disallowed_methods,
        reason = "the one place where time is read"
    )]
    pub fn new() -> Self {
        Self {
            began: Instant::now(),
        }
    }
}

impl Default for MachineClock {
    fn default() -> Self {
        Self::new()
    }
}

impl Clock for MachineClock {
    #[expect(
        clippy::disallowed_methods,
        reason = "the one place where time is read"
    )]
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }

    fn running(&self) -> Duration {
        self.began.elapsed()
    }

    fn zone(&self) -> TimeZone {
        TimeZone::system()
    }
}
