//! Entries, streams and the hash chain. Pure.

pub mod chain;
pub mod stream;
