//! A small generator: the same numbers for the same seed.

use crate::support::dice::split_mix;

/// The generator, with its state.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> u64 {
        split_mix(&mut self.0)
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % (end.max(1) as u64)).unwrap()
    }

    pub(crate) fn of<'l, T>(&mut self, list: &'l [T]) -> &'l T {
        &list[self.below(list.len())]
    }
}
