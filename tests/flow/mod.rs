//! The flow language: expressions and templates.

mod expression;
mod scope;
mod template;
