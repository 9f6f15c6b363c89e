//! The engine: (edition, state, input, now) gives entries and the next prompt, or a refusal.
//! Pure: no clock, no files, no network.

pub mod context;
pub mod input;
pub mod prompt;
pub mod refusal;
