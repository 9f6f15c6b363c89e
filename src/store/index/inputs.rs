//! Which inputs were handled: their hashes with the times, by day, in blocks.
//!
//! A block is open until it is full. So many inputs change few keys of the index, and a day is
//! forgotten whole. A filter in memory tells of nearly every new input that it is new.

use std::collections::BTreeMap;
use std::ops::Bound;
use std::sync::{PoisonError, RwLock};

use jiff::Timestamp;

use super::filter::Filter;
use super::{Changes, Index, keys};
use crate::record::chain::Hash;
use crate::store::batch::InputKey;
use crate::store::codec::{time_bytes, time_from};
use crate::store::{INPUTS_KEPT, StoreError};

/// So many parts a day's inputs are in, so that few blocks are read to find one.
const PARTS: u8 = 16;

/// So many inputs are in a block that is closed.
const INPUTS_A_BLOCK: usize = 64;

/// So many blocks are read at once at opening.
const BLOCKS_AT_ONCE: usize = 1_000;

/// Bytes of an input in a block: hash and time.
const INPUT_BYTES: usize = 16 + 16;

const SECONDS_A_DAY: i64 = 24 * 60 * 60;

/// A day since 1970, in UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::store) struct Day(i32);

impl Day {
    pub(in crate::store) fn of(at: Timestamp) -> Day {
        let day = at.as_second().div_euclid(SECONDS_A_DAY);
        // Times reach from year -9999 to 9999.
        Day(i32::try_from(day).unwrap_or(i32::MAX))
    }

    /// The first day of which inputs may be remembered on this one.
    pub(in crate::store) fn first_kept(self) -> Day {
        let kept = INPUTS_KEPT.as_secs() / SECONDS_A_DAY.unsigned_abs();
        Day(self
            .0
            .saturating_sub(i32::try_from(kept).unwrap_or(i32::MAX)))
    }

    /// Bytes that sort as the days do.
    pub(super) fn to_bytes(self) -> [u8; 4] {
        (self.0 ^ i32::MIN).to_be_bytes()
    }

    pub(super) fn from_bytes(bytes: [u8; 4]) -> Day {
        Day(i32::from_be_bytes(bytes) ^ i32::MIN)
    }
}

/// What is kept of an input's key: half a BLAKE3 hash, 128 bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(in crate::store) struct InputHash([u8; 16]);

impl InputHash {
    pub(in crate::store) fn of(key: &InputKey) -> InputHash {
        let Hash(hash) = Hash::of(key.0.as_bytes());
        InputHash(hash.first_chunk().copied().unwrap_or_default())
    }

    /// In which part of a day it is found.
    pub(in crate::store) fn part(self) -> u8 {
        self.0[0] % PARTS
    }

    pub(super) fn bits(self) -> u128 {
        u128::from_le_bytes(self.0)
    }
}

/// Adds an input to a block; whether the block is full then.
pub(super) fn add_input(block: &mut Vec<u8>, input: InputHash, at: Timestamp) -> bool {
    block.extend(input.0);
    block.extend(time_bytes(at));
    block.len() >= INPUTS_A_BLOCK * INPUT_BYTES
}

/// The inputs in a block, each with its time; none where other bytes lie.
pub(in crate::store) fn inputs_in(
    block: &[u8],
) -> impl Iterator<Item = Option<(InputHash, Timestamp)>> {
    block.chunks(INPUT_BYTES).map(|input| {
        let (hash, at) = input.split_first_chunk()?;
        Some((InputHash(*hash), time_from(at.try_into().ok()?)?))
    })
}

/// What is known in memory of the inputs of each day.
#[derive(Debug, Default)]
pub(in crate::store) struct Inputs {
    days: RwLock<BTreeMap<Day, Filter>>,
}

impl Inputs {
    /// What an index knows.
    pub(in crate::store) fn in_index(index: &dyn Index) -> Result<Inputs, StoreError> {
        let inputs = Inputs::default();
        let all = keys::all_inputs();
        let mut from = Bound::Included(all.clone());
        loop {
            let range = (from.as_ref().map(Vec::as_slice), Bound::Unbounded);
            let blocks = index.range_under(Changes::new(), &all, range, BLOCKS_AT_ONCE)?;
            for (_, block) in &blocks {
                for kept in inputs_in(block) {
                    let (input, at) = kept.ok_or_else(keys::wrong_value)?;
                    inputs.note(input, at);
                }
            }
            match blocks.into_iter().next_back() {
                Some((last, _)) => from = Bound::Excluded(last),
                None => return Ok(inputs),
            }
        }
    }

    /// Notes that an input was handled.
    pub(in crate::store) fn note(&self, input: InputHash, at: Timestamp) {
        let day = Day::of(at);
        let mut days = self.days.write().unwrap_or_else(PoisonError::into_inner);
        if !days.contains_key(&day) {
            *days = days.split_off(&day.first_kept());
        }
        days.entry(day).or_default().add(input.bits());
    }

    /// The days on which the input may have been handled and is still remembered now.
    pub(in crate::store) fn days_of(&self, input: InputHash, now: Timestamp) -> Vec<Day> {
        let days = self.days.read().unwrap_or_else(PoisonError::into_inner);
        let days = days.range(Day::of(now).first_kept()..);
        let may_hold = days.filter(|(_, filter)| filter.may_hold(input.bits()));
        may_hold.map(|(day, _)| *day).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_sort_as_their_bytes_and_a_week_reaches_into_an_eighth_day() {
        let day = |text: &str| Day::of(text.parse().unwrap());
        let before = day("1969-12-31T23:59:59Z");
        let first = day("1970-01-01T00:00:00Z");
        assert_eq!((before, first), (Day(-1), Day(0)));
        assert!(before.to_bytes() < first.to_bytes());
        assert_eq!(Day::from_bytes(before.to_bytes()), before);
        assert_eq!(day("1970-01-08T12:00:00Z").first_kept(), first);
    }

    #[test]
    fn a_block_gives_back_what_was_added() {
        let (mut block, mut added) = (Vec::new(), Vec::new());
        for number in 0..INPUTS_A_BLOCK {
            let input = InputHash::of(&InputKey(format!("page:{number}")));
            let at = Timestamp::from_second(number as i64).unwrap();
            let full = add_input(&mut block, input, at);
            assert_eq!(full, number + 1 == INPUTS_A_BLOCK);
            added.push(Some((input, at)));
        }
        assert_eq!(inputs_in(&block).collect::<Vec<_>>(), added);
        assert_eq!(inputs_in(&block[..40]).last(), Some(None));
    }
}
