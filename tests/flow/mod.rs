//! The flow language: expressions and templates.

mod differential;
mod expression;
mod regulation;
mod scope;
mod shipped;
mod template;
