//! A small generator: the same numbers for the same seed.

/// The generator, with its state.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    /// SplitMix64, by G. Steele and others, "Fast splittable pseudorandom number generators"
    /// (OOPSLA 2014).
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % (end.max(1) as u64)).unwrap()
    }

    pub(crate) fn of<'l, T>(&mut self, list: &'l [T]) -> &'l T {
        &list[self.below(list.len())]
    }
}
