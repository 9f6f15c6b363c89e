//! What a computation may look up beside its inputs: the crew's kit and speed book.

mod reading;
pub mod schema;

pub use reading::{Problem, Window};
pub(crate) use reading::{Reader, parse};

use super::kit::Kit;
use super::speed_book::SpeedBook;

/// The kit and speed book that a job was pinned to when it began.
///
/// Most formulas ignore them; only the choice of a replacement and of its speed looks inside.
#[derive(Clone, Copy, Debug)]
pub struct Goods<'a> {
    /// The assemblies on the truck.
    pub kit: &'a Kit,
    /// The evaporator models and what they need.
    pub speed_book: &'a SpeedBook,
}

/// One revision of a kit or speed book: the hash of its text, so that equal texts share it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Revision(String);

impl Revision {
    /// The revision of a text: its BLAKE3 hash in hexadecimal.
    pub fn of(text: &str) -> Self {
        Self(blake3::hash(text.as_bytes()).to_hex().to_string())
    }

    /// All 64 hexadecimal digits; nothing for goods that were never read from a text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}
