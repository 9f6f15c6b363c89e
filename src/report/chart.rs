//! Charts of a job as SVG: the speed steps, before and after, a reading against its band.
//!
//! Plain bars, dark text on white, every value written beside its mark, so that a chart says the
//! same in print, on a phone and without colours.

mod band;
mod canvas;
mod gains;
mod steps;

pub use band::{Band, reading_in_band};
pub use gains::{Pair, before_and_after};
pub use steps::{Step, Wanted, speed_steps};

/// Why a chart could not be drawn: one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotDraw(pub String);
