//! The engine: (edition, state, input, now) gives entries and the next prompt, or a refusal.
//! Pure: no clock, no files, no network.
//!
//! Read [`decide`] first, then [`apply`], then [`prompt`](fn@prompt).

mod answer;
mod apply;
mod ask;
mod before;
pub mod check_ins;
mod competence;
pub mod context;
mod course;
mod decide;
mod draft;
mod group_lockout;
mod guard;
pub mod input;
mod notes;
mod progress;
pub mod prompt;
pub mod proof;
pub mod reading;
mod redo;
pub mod refusal;
pub mod rehearsal;
mod settle;
pub mod share;
mod show;
pub mod state;
mod together;
mod twice;
mod way_back;

pub use apply::apply;
pub use before::begin_knowing;
pub use decide::{Decided, begin, decide, decide_and_apply};
pub use draft::here;
pub use notes::{proof_failure, void_reason};
pub use redo::step_label;
pub use show::prompt;
pub use state::State;
pub use twice::looks_twice;

/// The key of a button that only goes on.
pub const GO: &str = "go";
/// The key that confirms the present state of the sources as recorded.
pub const AS_RECORDED: &str = "as_recorded";
/// The key that says that something at the panel is different.
pub const STATE_CHANGED: &str = "changed";
