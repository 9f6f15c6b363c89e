//! The hash chain that shows whether a stream was changed after it was written.
//!
//! Every entry's hash covers the stream's name, the entry's place, the hash of the entry before
//! and the exact bytes stored, so a change anywhere breaks the chain at a place that can be
//! named. Cutting entries off the end leaves a whole chain: the seal over the head is what
//! shows that.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::hex::Hex;
use super::stream::{Seq, StreamId};

/// Set before everything that an entry's hash covers, so that no other use of the hash function
/// in this program can give the hash of an entry.
const ENTRY_TAG: &[u8] = b"fanwright entry 1\n";

/// A BLAKE3 hash (256 bits), written as 64 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Hash(pub [u8; 32]);

impl Hash {
    /// What the first entry of a stream names as the hash before it.
    pub const NONE: Hash = Hash([0; 32]);

    /// The hash of these bytes and nothing else, as any BLAKE3 tool computes it.
    pub fn of(bytes: &[u8]) -> Hash {
        Hash(*blake3::hash(bytes).as_bytes())
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Hex(self.0).fmt(f)
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Hash({self})")
    }
}

/// A text that is not a hash.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("“{0}” is not a hash. A hash is 64 characters, each 0 to 9 or a to f.")]
pub struct NotAHash(pub String);

impl FromStr for Hash {
    type Err = NotAHash;

    fn from_str(text: &str) -> Result<Hash, NotAHash> {
        match Hex::read(text) {
            Some(Hex(bytes)) => Ok(Hash(bytes)),
            None => Err(NotAHash(text.to_owned())),
        }
    }
}

impl From<Hash> for String {
    fn from(hash: Hash) -> String {
        hash.to_string()
    }
}

impl TryFrom<String> for Hash {
    type Error = NotAHash;

    fn try_from(text: String) -> Result<Hash, NotAHash> {
        text.parse()
    }
}

/// One entry as it lies in its stream. The bytes are never rewritten.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stored {
    /// Its place.
    pub seq: Seq,
    /// The hash of the entry before it, [`Hash::NONE`] for the first.
    pub previous: Hash,
    /// Its own hash, [`entry_hash`].
    pub hash: Hash,
    /// What was stored.
    pub bytes: Vec<u8>,
}

impl Stored {
    /// The entry that follows `head` in `stream` and holds `bytes`.
    pub fn after(stream: StreamId, head: Head, bytes: Vec<u8>) -> Stored {
        let seq = head.seq.next();
        let hash = entry_hash(stream, seq, head.hash, &bytes);
        Stored {
            seq,
            previous: head.hash,
            hash,
            bytes,
        }
    }

    /// The head of the stream once this entry is its last.
    pub fn head(&self) -> Head {
        Head {
            seq: self.seq,
            hash: self.hash,
        }
    }
}

/// The end of a stream: place and hash of its last entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// Place of the last entry.
    pub seq: Seq,
    /// Hash of the last entry, which stands for everything before it too.
    pub hash: Hash,
}

impl Head {
    /// The head of a stream without entries.
    pub const NONE: Head = Head {
        seq: Seq::NONE,
        hash: Hash::NONE,
    };
}

/// The hash of one entry: BLAKE3 over a tag, the stream's text form and a line break, the place
/// as 8 bytes (least first), the hash before, and the bytes.
pub fn entry_hash(stream: StreamId, seq: Seq, previous: Hash, bytes: &[u8]) -> Hash {
    let mut hasher = blake3::Hasher::new();
    hasher.update(ENTRY_TAG);
    hasher.update(stream.to_string().as_bytes());
    hasher.update(b"\n");
    hasher.update(&seq.0.to_le_bytes());
    hasher.update(&previous.0);
    hasher.update(bytes);
    Hash(*hasher.finalize().as_bytes())
}

/// Where and how a chain is broken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Break {
    /// The bytes, place or stream of an entry do not give the hash that was written with it.
    #[error(
        "Entry {seq} of {stream} was changed after it was written: it does not match its hash."
    )]
    Changed {
        /// The stream looked at.
        stream: StreamId,
        /// The entry that was changed.
        seq: Seq,
    },
    /// An entry agrees with its own hash, but the next one was written after another entry.
    #[error(
        "Entry {seq} of {stream} was replaced: entry {} was written after a different one.",
        seq.next()
    )]
    Replaced {
        /// The stream looked at.
        stream: StreamId,
        /// The entry that was replaced.
        seq: Seq,
    },
    /// Another entry stands where the next one should.
    #[error("Entry {expected} of {stream} is missing: entry {found} stands in its place.")]
    Missing {
        /// The stream looked at.
        stream: StreamId,
        /// The entry that should stand here.
        expected: Seq,
        /// The entry that does.
        found: Seq,
    },
}

/// Checks a whole stream from its first entry and gives its head.
///
/// # Errors
/// The first [`Break`], which says in words which entry was changed.
pub fn verify_chain(stream: StreamId, entries: &[Stored]) -> Result<Head, Break> {
    verify_after(stream, Head::NONE, entries)
}

/// Checks entries that follow a head already checked, so that a long stream can be read in
/// pieces.
///
/// # Errors
/// The first [`Break`].
pub fn verify_after(stream: StreamId, head: Head, entries: &[Stored]) -> Result<Head, Break> {
    entries.iter().try_fold(head, |head, entry| {
        let expected = head.seq.next();
        if entry.seq != expected {
            return Err(Break::Missing {
                stream,
                expected,
                found: entry.seq,
            });
        }
        if entry.hash != entry_hash(stream, entry.seq, entry.previous, &entry.bytes) {
            return Err(Break::Changed {
                stream,
                seq: entry.seq,
            });
        }
        if entry.previous != head.hash {
            // Before the first entry there is nothing that could have been replaced.
            return Err(match head.seq {
                Seq::NONE => Break::Changed {
                    stream,
                    seq: entry.seq,
                },
                seq => Break::Replaced { stream, seq },
            });
        }
        Ok(entry.head())
    })
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::record::stream::StreamKind;

    fn job() -> StreamId {
        StreamId::new(StreamKind::Job, Uuid::from_u128(7))
    }

    fn chain_of(texts: &[&str]) -> Vec<Stored> {
        let mut head = Head::NONE;
        let next = |text: &&str| {
            let stored = Stored::after(job(), head, text.as_bytes().to_vec());
            head = stored.head();
            stored
        };
        texts.iter().map(next).collect()
    }

    #[test]
    fn an_untouched_chain_gives_its_head() {
        let entries = chain_of(&["begun", "opened", "locked"]);
        assert_eq!(verify_chain(job(), &entries), Ok(entries[2].head()));
        assert_eq!(verify_chain(job(), &[]), Ok(Head::NONE));
        let head = verify_chain(job(), &entries[..1]).unwrap();
        assert_eq!(
            verify_after(job(), head, &entries[1..]),
            Ok(entries[2].head())
        );
    }

    #[test]
    fn every_changed_bit_names_its_entry() {
        let entries = chain_of(&["begun", "opened", "locked"]);
        for at in 0..3 {
            for bit in 0..entries[at].bytes.len() * 8 {
                let mut changed = entries.clone();
                changed[at].bytes[bit / 8] ^= 1 << (bit % 8);
                let seq = entries[at].seq;
                let expected = Err(Break::Changed { stream: job(), seq });
                assert_eq!(verify_chain(job(), &changed), expected);
            }
        }
    }

    #[test]
    fn a_rehashed_entry_is_named_as_replaced() {
        let mut entries = chain_of(&["begun", "opened", "locked"]);
        entries[1] = Stored::after(job(), entries[0].head(), b"skipped".to_vec());
        let expected = Break::Replaced {
            stream: job(),
            seq: Seq(2),
        };
        assert_eq!(verify_chain(job(), &entries), Err(expected.clone()));
        assert_eq!(
            expected.to_string(),
            "Entry 2 of job:00000000-0000-0000-0000-000000000007 was replaced: \
             entry 3 was written after a different one."
        );
    }

    #[test]
    fn a_missing_or_swapped_entry_is_named() {
        let entries = chain_of(&["begun", "opened", "locked"]);
        let missing = |expected, found| {
            Err(Break::Missing {
                stream: job(),
                expected: Seq(expected),
                found: Seq(found),
            })
        };
        assert_eq!(verify_chain(job(), &entries[1..]), missing(1, 2));
        let without_second = [entries[0].clone(), entries[2].clone()];
        assert_eq!(verify_chain(job(), &without_second), missing(2, 3));
        let mut swapped = entries;
        swapped.swap(0, 1);
        assert_eq!(verify_chain(job(), &swapped), missing(1, 2));
    }

    #[test]
    fn a_record_passed_off_as_another_jobs_is_named() {
        let other = StreamId::new(StreamKind::Job, Uuid::from_u128(8));
        let entries = chain_of(&["begun"]);
        let expected = Err(Break::Changed {
            stream: other,
            seq: Seq(1),
        });
        assert_eq!(verify_chain(other, &entries), expected);
    }

    #[test]
    fn a_first_entry_that_claims_a_past_is_named() {
        let entries = chain_of(&["begun", "opened"]);
        let mut late = entries[1].clone();
        late.seq = Seq(1);
        late.hash = entry_hash(job(), Seq(1), late.previous, &late.bytes);
        let expected = Err(Break::Changed {
            stream: job(),
            seq: Seq(1),
        });
        assert_eq!(verify_chain(job(), &[late]), expected);
    }

    #[test]
    fn hash_matches_the_published_test_vector_and_reads_back() {
        // BLAKE3 team, test_vectors.json, input length 0.
        let empty = "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262";
        assert_eq!(Hash::of(b"").to_string(), empty);
        assert_eq!(empty.parse(), Ok(Hash::of(b"")));
        assert!(empty.to_uppercase().parse::<Hash>().is_err());
        assert!(empty[1..].parse::<Hash>().is_err());
    }
}
