//! How long something took.

use std::time::Instant;

/// Measures how long something takes. What it measures decides nothing and stands in no record:
/// whoever needs to know the time asks the desk's clock.
#[derive(Clone, Copy, Debug)]
pub struct Stopwatch(Instant);

impl Stopwatch {
    /// Begins to measure.
    #[expect(
        clippy::disallowed_methods,
        reason = "what it measures is only shown to whoever operates the server"
    )]
    pub fn started() -> Stopwatch {
        Stopwatch(Instant::now())
    }

    /// The seconds since then.
    pub fn seconds(self) -> f64 {
        self.0.elapsed().as_secs_f64()
    }
}
