//! What goes wrong on purpose: so many calls in a hundred fail, so many updates come again.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What goes wrong with a call.
#[derive(Clone, Copy, Debug)]
pub enum Fault {
    /// 500.
    Refused,
    /// 429: wait a second.
    Wait,
    /// The line breaks before anything is done.
    LostBefore,
    /// The line breaks after it is done.
    LostAfter,
}

/// How much goes wrong.
#[derive(Debug, Default)]
pub struct Wrong {
    /// So many of a hundred calls fail.
    pub calls: u64,
    /// So many of a hundred updates come once more.
    pub again: u64,
    pub state: AtomicU64,
    pub stopped: AtomicBool,
}

impl Wrong {
    /// This much.
    pub fn of(calls: u64, again: u64) -> Wrong {
        Wrong {
            calls,
            again,
            ..Wrong::default()
        }
    }

    /// Nothing goes wrong any more.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::SeqCst);
    }

    /// SplitMix64 (Steele, Lea and Flood, 2014).
    fn number(&self) -> u64 {
        let step = 0x9e37_79b9_7f4a_7c15;
        let before = self.state.fetch_add(step, Ordering::Relaxed);
        let mut mixed = before.wrapping_add(step);
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn is_one_of(&self, of_a_hundred: u64) -> bool {
        of_a_hundred > 0
            && !self.stopped.load(Ordering::SeqCst)
            && self.number() % 100 < of_a_hundred
    }

    /// Whether this call fails, and how.
    pub fn draws(&self) -> Option<Fault> {
        let faults = [
            Fault::Refused,
            Fault::Wait,
            Fault::LostBefore,
            Fault::LostAfter,
        ];
        let is_wrong = self.is_one_of(self.calls);
        is_wrong.then(|| faults[(self.number() % 4) as usize])
    }

    /// Whether this update comes once more.
    pub fn comes_again(&self) -> bool {
        self.is_one_of(self.again)
    }
}
