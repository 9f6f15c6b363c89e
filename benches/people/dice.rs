//! Numbers that nobody foresees, and that are the same in every run.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// SplitMix64 (Steele, Lea and Flood, 2014).
#[derive(Debug, Default)]
pub struct Dice {
    state: AtomicU64,
}

impl Dice {
    /// Other numbers than those of other seeds.
    pub fn of(seed: u64) -> Dice {
        Dice {
            state: AtomicU64::new(seed),
        }
    }

    /// So long on average: half as long to half as long again.
    pub fn around(&self, pace: Duration) -> Duration {
        pace / 2 + pace.mul_f64((self.number() % 1_000) as f64 / 1_000.0)
    }

    /// The next number.
    pub fn number(&self) -> u64 {
        let step = 0x9e37_79b9_7f4a_7c15;
        let before = self.state.fetch_add(step, Ordering::Relaxed);
        let mut mixed = before.wrapping_add(step);
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }
}
