//! The flow language: expressions and templates.

mod differential;
mod expression;
mod look_again;
mod regulation;
pub(crate) mod scope;
mod shipped;
mod template;
