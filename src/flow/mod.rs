//! The flow language: model, loading with positions, expressions, editions. Pure.

mod bind;
pub(crate) mod circles;
pub mod difference;
pub mod duty;
pub mod edition;
pub mod embedded;
pub mod expression;
pub mod heading;
pub mod library;
mod load;
pub use load::scope::OUTCOME;
pub mod model;
pub mod name;
pub mod problem;
pub mod schema;
pub mod stand_in;
pub mod suggestion;
pub mod template;
pub mod tree;
