//! Numbers drawn from a seed, so that a run can be repeated.

use crate::support::dice::split_mix;

/// Draws numbers.
#[derive(Clone, Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn seeded(seed: u64) -> Dice {
        Dice(seed)
    }

    /// Others for somebody else, who draws at their own pace.
    pub(super) fn of(&mut self) -> Dice {
        Dice(split_mix(&mut self.0))
    }

    /// A number below this one.
    pub(super) fn below(&mut self, end: u64) -> u64 {
        split_mix(&mut self.0) % end
    }

    /// One of so many times.
    pub(super) fn one_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }
}

#[test]
fn the_same_seed_draws_the_same() {
    let draw = |seed| {
        let mut dice = Dice::seeded(seed);
        [0; 8].map(|_| dice.below(1000))
    };
    assert_eq!(draw(7), draw(7));
    assert_ne!(draw(7), draw(8));
}
