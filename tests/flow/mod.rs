//! The flow language: expressions and templates.

mod differential;
mod expression;
mod look_again;
mod regulation;
mod scope;
mod shipped;
mod template;
