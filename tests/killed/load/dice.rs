//! Numbers drawn from a seed, so that a run can be repeated.

/// Draws numbers; SplitMix64 (Steele, Lea and Flood, 2014).
#[derive(Clone, Debug)]
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn seeded(seed: u64) -> Dice {
        Dice(seed)
    }

    /// Others for somebody else, who draws at their own pace.
    pub(super) fn of(&mut self) -> Dice {
        Dice(self.number())
    }

    fn number(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number below this one.
    pub(super) fn below(&mut self, end: u64) -> u64 {
        self.number() % end
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
