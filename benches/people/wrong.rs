//! What goes wrong on purpose: so many calls in a hundred fail, so many updates come again.

use std::sync::atomic::{AtomicBool, Ordering};

use crate::dice::Dice;

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
    pub dice: Dice,
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

    fn is_one_of(&self, of_a_hundred: u64) -> bool {
        of_a_hundred > 0
            && !self.stopped.load(Ordering::SeqCst)
            && self.dice.number() % 100 < of_a_hundred
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
        is_wrong.then(|| faults[(self.dice.number() % 4) as usize])
    }

    /// Whether this update comes once more.
    pub fn comes_again(&self) -> bool {
        self.is_one_of(self.again)
    }
}
