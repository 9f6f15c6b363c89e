//! How many steps in a second, and how long each took.

use std::fmt;
use std::time::Duration;

/// What was counted.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// How long each answer took.
    took: Vec<Duration>,
    /// Messages beyond one for each step.
    pub extra: usize,
    /// How long after the last thing that went wrong an answer came, at most.
    pub latest: Duration,
    /// Those who waited in vain.
    pub lost: usize,
    /// How long was counted.
    pub counted: Duration,
}

impl Figures {
    /// Somebody was answered after so long.
    pub fn answered(&mut self, took: Duration) {
        self.took.push(took);
    }

    /// Somebody was answered so long after the last thing that went wrong.
    pub fn late(&mut self, after: Duration) {
        self.latest = self.latest.max(after);
    }

    /// Those of somebody else too.
    pub fn add(&mut self, other: Figures) {
        self.took.extend(other.took);
        self.extra += other.extra;
        self.latest = self.latest.max(other.latest);
        self.lost += other.lost;
    }

    /// How many were answered.
    pub fn steps(&self) -> usize {
        self.took.len()
    }

    /// Steps in a second.
    pub fn rate(&self) -> f64 {
        self.took.len() as f64 / self.counted.as_secs_f64()
    }

    /// So many of a thousand took no longer.
    fn of_a_thousand(&self, part: usize) -> Duration {
        let mut took = self.took.clone();
        took.sort_unstable();
        let at = (took.len() * part / 1000).min(took.len().saturating_sub(1));
        took.get(at).copied().unwrap_or_default()
    }
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ms = |part| self.of_a_thousand(part).as_secs_f64() * 1000.0;
        write!(
            f,
            "{:>7.0} steps/s | p50 {:>8.2} ms | p99 {:>8.2} ms | p99.9 {:>8.2} ms | lost {} | extra {}",
            self.rate(),
            ms(500),
            ms(990),
            ms(999),
            self.lost,
            self.extra
        )
    }
}
