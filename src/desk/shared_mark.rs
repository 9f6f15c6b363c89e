//! How a shared file is named: by a mark on buttons and in links, by its edition on its card.

use std::fmt;
use std::str::FromStr;

use super::error::DeskError;
use super::shared_flows::no_such;
use crate::record::chain::Hash;

/// So many letters of an edition's name are shown; nobody guesses them.
pub(super) const SHORT_LETTERS: usize = 16;

/// The beginning of an edition's name, as people see it.
pub fn edition_in_short(edition: &str) -> &str {
    edition.get(..SHORT_LETTERS).unwrap_or(edition)
}

/// A shared file within its crew: the beginning of the hash of its text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SharedMark(pub [u8; 16]);

impl SharedMark {
    pub(super) fn of(text: Hash) -> SharedMark {
        let Hash(bytes) = text;
        SharedMark(bytes.first_chunk().copied().unwrap_or_default())
    }
}

impl fmt::Display for SharedMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for SharedMark {
    type Err = DeskError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let read = uuid::Uuid::try_parse(text).ok();
        let read = read.filter(|_| text.len() == 32);
        read.map(|read| SharedMark(*read.as_bytes()))
            .ok_or_else(no_such)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_reads_back_from_a_link() {
        let mark = SharedMark::of(Hash::of(b"a file"));
        assert_eq!(mark.to_string().parse::<SharedMark>().unwrap(), mark);
        for wrong in [
            "",
            "00",
            "not a mark",
            "00000000-0000-7000-8000-000000000000",
        ] {
            assert!(wrong.parse::<SharedMark>().is_err(), "{wrong}");
        }
    }
}
