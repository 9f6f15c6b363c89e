//! A set that forgets which members it has, but knows of nearly everything else that it is none.
//!
//! A chain of Bloom filters, each with room for twice as many as the one before. Two bytes a
//! member and seven bits set of each: at most one in a thousand that is no member seems to be one,
//! for each filter of the chain (Bloom, Communications of the ACM 13 (7), 1970, 422–426).

/// So many members the first filter of a chain has room for.
const FIRST_ROOM: usize = 4_096;

const BITS_A_MEMBER: usize = 16;

const BITS_SET: u64 = 7;

/// A set of hashes.
#[derive(Debug, Default)]
pub(super) struct Filter {
    chain: Vec<Bloom>,
}

#[derive(Debug)]
struct Bloom {
    words: Vec<u64>,
    /// How many more it takes.
    room: usize,
}

impl Filter {
    /// Adds a hash.
    pub(super) fn add(&mut self, hash: u128) {
        if self.chain.last().is_none_or(|last| last.room == 0) {
            let room = FIRST_ROOM << self.chain.len().min(24);
            let words = vec![0; room * BITS_A_MEMBER / 64];
            self.chain.push(Bloom { words, room });
        }
        if let Some(last) = self.chain.last_mut() {
            last.room -= 1;
            for bit in last.bits(hash) {
                last.words[bit / 64] |= 1 << (bit % 64);
            }
        }
    }

    /// Whether a hash may have been added; if not, it surely was not.
    pub(super) fn may_hold(&self, hash: u128) -> bool {
        let is_set = |bloom: &Bloom, bit: usize| bloom.words[bit / 64] & (1 << (bit % 64)) != 0;
        let mut chain = self.chain.iter();
        chain.any(|bloom| bloom.bits(hash).all(|bit| is_set(bloom, bit)))
    }
}

impl Bloom {
    /// The bits of a hash: its two halves make as many as are needed (Kirsch and Mitzenmacher,
    /// Random Structures and Algorithms 33 (2), 2008, 187–218).
    fn bits(&self, hash: u128) -> impl Iterator<Item = usize> + use<> {
        let (one, other) = ((hash >> 64) as u64, hash as u64 | 1);
        // The length is a power of two.
        let mask = (self.words.len() * 64 - 1) as u64;
        (0..BITS_SET).map(move |turn| (one.wrapping_add(turn.wrapping_mul(other)) & mask) as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::chain::Hash;

    fn hash(number: usize) -> u128 {
        let Hash(hash) = Hash::of(&number.to_le_bytes());
        u128::from_le_bytes(hash[..16].try_into().unwrap())
    }

    #[test]
    fn every_member_is_found_and_hardly_anything_else() {
        const MEMBERS: usize = 5 * FIRST_ROOM;
        let mut filter = Filter::default();
        for number in 0..MEMBERS {
            filter.add(hash(number));
        }
        assert!((0..MEMBERS).all(|number| filter.may_hold(hash(number))));
        let others = MEMBERS..3 * MEMBERS;
        let wrong = others
            .filter(|number| filter.may_hold(hash(*number)))
            .count();
        assert!(wrong <= 2 * MEMBERS * 3 / 1_000, "{wrong}");
        assert_eq!(filter.chain.len(), 3);
    }

    #[test]
    fn an_empty_set_holds_nothing() {
        assert!(!Filter::default().may_hold(hash(1)));
    }
}
