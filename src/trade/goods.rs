//! What a computation may look up beside its inputs: the crew's kit and speed book.

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
