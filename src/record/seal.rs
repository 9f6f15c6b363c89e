//! The seal: an Ed25519 signature (RFC 8032) over the end of a record at a certain time.
//!
//! What is signed is a short text, so that any tool that knows Ed25519 can check a seal:
//!
//! ```text
//! fanwright seal 1: record
//! job:0190a6f2-7d3c-7c44-8000-000000000007
//! 24
//! <hash of entry 24, hexadecimal>
//! 2031-05-04T08:05:00Z
//! ```
//!
//! each line with a line break after it. The hash of an entry stands for everything before it
//! too ([`super::chain`]), so one signature covers a whole record up to there.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use ring::signature::{ED25519, Ed25519KeyPair, KeyPair, UnparsedPublicKey};
use serde::{Deserialize, Serialize};

use super::chain::Head;
use super::hex::Hex;
use super::stream::StreamId;

/// Bytes of the secret that a key is made of.
pub const SEED_BYTES: usize = 32;

/// Set before everything that is hashed into a fingerprint.
const FINGERPRINT_TAG: &[u8] = b"fanwright key 1\n";

/// What a seal is over; no seal over the one can pass for a seal over the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A record up to one of its entries.
    Record,
    /// A file that a record was written out to.
    Export,
    /// The list of what a backup holds.
    Backup,
}

impl Subject {
    const fn domain(self) -> &'static str {
        match self {
            Subject::Record => "fanwright seal 1: record",
            Subject::Export => "fanwright seal 1: export",
            Subject::Backup => "fanwright seal 1: backup",
        }
    }
}

/// What a seal says: this stream ended so, at that time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Statement {
    /// What it is over.
    pub subject: Subject,
    /// Which stream.
    pub stream: StreamId,
    /// Its last entry. For an export the hash is that of the file before the seal.
    pub head: Head,
    /// When it was sealed.
    pub at: Timestamp,
}

impl Statement {
    fn bytes(&self) -> Vec<u8> {
        let domain = self.subject.domain();
        let Statement {
            stream, head, at, ..
        } = self;
        format!("{domain}\n{stream}\n{}\n{}\n{at}\n", head.seq, head.hash).into_bytes()
    }
}

/// A key that makes seals. Its secret is in no text form of it.
pub struct SigningKey {
    pair: Ed25519KeyPair,
    public: PublicKey,
}

impl SigningKey {
    /// The key of this secret; the same secret always gives the same key.
    ///
    /// # Errors
    /// [`NotAKey`] where the signature library does not take the secret.
    pub fn from_seed(seed: &[u8; SEED_BYTES]) -> Result<SigningKey, NotAKey> {
        let pair = Ed25519KeyPair::from_seed_unchecked(seed).map_err(|_| NotAKey)?;
        let public = pair.public_key().as_ref().try_into().map_err(|_| NotAKey)?;
        Ok(SigningKey {
            pair,
            public: PublicKey(Hex(public)),
        })
    }

    /// The half of it that everybody may know.
    pub fn public(&self) -> PublicKey {
        self.public
    }

    /// Seals a statement.
    pub fn seal(&self, statement: &Statement) -> Seal {
        let signed = self.pair.sign(&statement.bytes());
        let mut signature = [0; 64];
        // An Ed25519 signature has 64 bytes; one that had not would hold for nothing.
        if let Ok(bytes) = signed.as_ref().try_into() {
            signature = bytes;
        }
        Seal {
            key: self.public,
            signature: Hex(signature),
        }
    }
}

impl fmt::Debug for SigningKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SigningKey({})", self.public.fingerprint())
    }
}

/// A secret that gives no key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("This secret gives no signing key.")]
pub struct NotAKey;

/// The half of a key that everybody may know: 64 hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PublicKey(pub Hex<32>);

impl PublicKey {
    /// What people compare to know the key by.
    pub fn fingerprint(&self) -> Fingerprint {
        let mut hasher = blake3::Hasher::new();
        hasher.update(FINGERPRINT_TAG);
        hasher.update(&self.0.0);
        let mut short = [0; FINGERPRINT_BYTES];
        short.copy_from_slice(&hasher.finalize().as_bytes()[..FINGERPRINT_BYTES]);
        Fingerprint(short)
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A statement's signature, with the key that it was made with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seal {
    /// The key.
    pub key: PublicKey,
    /// The signature.
    pub signature: Hex<64>,
}

impl Seal {
    /// Whether it was made over exactly this statement with the key that it names.
    pub fn holds(&self, statement: &Statement) -> bool {
        UnparsedPublicKey::new(&ED25519, self.key.0.0)
            .verify(&statement.bytes(), &self.signature.0)
            .is_ok()
    }
}

/// 96 bits: finding another key with a given fingerprint is out of reach.
const FINGERPRINT_BYTES: usize = 12;

/// Four bits a letter; no vowels, so that no word comes about, and none that looks like another.
const LETTERS: &[u8; 16] = b"BCDFGHJKLMNPRSTX";

/// A short name of a public key, which people can compare and say: `KLBX-RDNP-…`, 24 letters in
/// groups of four.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint([u8; FINGERPRINT_BYTES]);

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, byte) in self.0.iter().enumerate() {
            let gap = if at > 0 && at % 2 == 0 { "-" } else { "" };
            let letter = |value: u8| char::from(LETTERS[usize::from(value & 15)]);
            write!(f, "{gap}{}{}", letter(byte >> 4), letter(*byte))?;
        }
        Ok(())
    }
}

impl fmt::Debug for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// A text that is not a fingerprint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("A fingerprint is 24 letters in groups of four, like {example}.", example = Fingerprint([0x12; 12]))]
pub struct NotAFingerprint;

impl FromStr for Fingerprint {
    type Err = NotAFingerprint;

    /// Reads what somebody typed: in capitals or not, with the gaps or without.
    fn from_str(text: &str) -> Result<Fingerprint, NotAFingerprint> {
        let letters = text.bytes().filter(|byte| !b"- ".contains(byte));
        let value = |letter: u8| {
            let letter = letter.to_ascii_uppercase();
            let at = LETTERS.iter().position(|known| *known == letter);
            at.and_then(|at| u8::try_from(at).ok())
                .ok_or(NotAFingerprint)
        };
        let values = letters.map(value).collect::<Result<Vec<u8>, _>>()?;
        let mut bytes = [0; FINGERPRINT_BYTES];
        if values.len() != 2 * FINGERPRINT_BYTES {
            return Err(NotAFingerprint);
        }
        for (byte, pair) in bytes.iter_mut().zip(values.chunks_exact(2)) {
            *byte = pair[0] * 16 + pair[1];
        }
        Ok(Fingerprint(bytes))
    }
}

impl Serialize for Fingerprint {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Fingerprint {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;
    use crate::record::chain::Hash;
    use crate::record::stream::{Seq, StreamKind};

    fn key(byte: u8) -> SigningKey {
        SigningKey::from_seed(&[byte; SEED_BYTES]).unwrap()
    }

    fn statement(job: u128, seq: u64, hash: [u8; 32], second: i64) -> Statement {
        Statement {
            subject: Subject::Record,
            stream: StreamId::new(StreamKind::Job, Uuid::from_u128(job)),
            head: Head {
                seq: Seq(seq),
                hash: Hash(hash),
            },
            at: Timestamp::from_second(second).unwrap(),
        }
    }

    #[test]
    fn keys_and_signatures_are_those_of_the_standard() {
        // RFC 8032, section 7.1, test 3.
        let seed = "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7";
        let public = "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025";
        let signature = "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac\
                         18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a";
        let key = SigningKey::from_seed(&Hex::read(seed).unwrap().0).unwrap();
        assert_eq!(key.public().to_string(), public);
        let signed = key.pair.sign(&[0xaf, 0x82]);
        assert_eq!(signed.as_ref(), Hex::<64>::read(signature).unwrap().0);
    }

    #[test]
    fn what_is_signed_is_the_text_that_is_told() {
        let bytes = statement(7, 24, [0xab; 32], 1_700_000_000).bytes();
        let told = format!(
            "fanwright seal 1: record\njob:00000000-0000-0000-0000-000000000007\n24\n{}\n\
             2023-11-14T22:13:20Z\n",
            "ab".repeat(32)
        );
        assert_eq!(String::from_utf8(bytes).unwrap(), told);
    }

    #[test]
    fn a_fingerprint_reads_back_as_people_type_it() {
        let print = key(1).public().fingerprint();
        let text = print.to_string();
        assert_eq!(text.len(), 24 + 5);
        for typed in [
            text.clone(),
            text.to_lowercase(),
            text.replace('-', ""),
            text.replace('-', " "),
        ] {
            assert_eq!(typed.parse(), Ok(print));
        }
        for wrong in [&text[1..], "", "AEIO-AEIO-AEIO-AEIO-AEIO-AEIO", "data/key"] {
            assert_eq!(wrong.parse::<Fingerprint>(), Err(NotAFingerprint));
        }
    }

    #[test]
    fn no_text_form_of_a_key_tells_its_secret() {
        let told = format!("{:?}", key(0x5a));
        assert!(!told.to_lowercase().contains("5a5a"), "{told}");
        assert!(told.contains(&key(0x5a).public().fingerprint().to_string()));
    }

    proptest! {
        #[test]
        fn a_seal_holds_for_its_own_statement_and_for_no_other(
            (job, seq, hash, second) in
                (any::<u128>(), any::<u64>(), any::<[u8; 32]>(), 0_i64..4_000_000_000),
            seed in any::<[u8; 32]>(),
            bit in 0_usize..256,
        ) {
            let key = SigningKey::from_seed(&seed).unwrap();
            let said = statement(job, seq, hash, second);
            let seal = key.seal(&said);
            prop_assert!(seal.holds(&said));
            let mut hash = hash;
            hash[bit / 8] ^= 1 << (bit % 8);
            let others = [
                Statement { subject: Subject::Export, ..said },
                statement(job ^ 1, seq, said.head.hash.0, second),
                statement(job, seq ^ 1, said.head.hash.0, second),
                statement(job, seq, hash, second),
                statement(job, seq, said.head.hash.0, second + 1),
            ];
            for other in others {
                prop_assert!(!seal.holds(&other), "{other:?}");
            }
        }

        #[test]
        fn a_seal_changed_in_any_bit_or_under_another_key_does_not_hold(
            bit in 0_usize..512,
            other in 1_u8..255,
        ) {
            let said = statement(7, 24, [1; 32], 1_700_000_000);
            let seal = key(0).seal(&said);
            let mut changed = seal;
            changed.signature.0[bit / 8] ^= 1 << (bit % 8);
            prop_assert!(!changed.holds(&said));
            let under_another = Seal { key: key(other).public(), ..seal };
            prop_assert!(!under_another.holds(&said));
        }
    }
}
