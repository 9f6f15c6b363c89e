//! Bytes as hexadecimal text, in one form only: lower case, without gaps.

use std::fmt;

use serde::{Deserialize, Serialize};

/// So many bytes, written as twice as many of the digits 0 to 9 and a to f.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Hex<const BYTES: usize>(pub [u8; BYTES]);

impl<const BYTES: usize> Hex<BYTES> {
    /// Reads the text; none if it is any other than [`Hex`] writes.
    pub fn read(text: &str) -> Option<Self> {
        let digits = text.as_bytes();
        if digits.len() != BYTES * 2 {
            return None;
        }
        let mut bytes = [0; BYTES];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = value(pair[0])? * 16 + value(pair[1])?;
        }
        Some(Self(bytes))
    }
}

fn value(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    }
}

impl<const BYTES: usize> fmt::Display for Hex<BYTES> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl<const BYTES: usize> fmt::Debug for Hex<BYTES> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl<const BYTES: usize> From<Hex<BYTES>> for String {
    fn from(hex: Hex<BYTES>) -> String {
        hex.to_string()
    }
}

impl<const BYTES: usize> TryFrom<String> for Hex<BYTES> {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        Self::read(&text).ok_or_else(|| {
            let digits = BYTES * 2;
            format!("“{text}” is not {digits} characters, each 0 to 9 or a to f")
        })
    }
}
