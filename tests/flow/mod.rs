//! The flow language: expressions and templates.

mod differential;
mod expression;
mod scope;
mod shipped;
mod template;
