//! The flow language: model, loading with positions, expressions, editions. Pure.

pub mod expression;
pub mod model;
pub mod name;
pub mod problem;
pub mod suggestion;
pub mod template;
