//! Entries, streams and the hash chain. Pure.

pub mod around;
pub mod chain;
pub mod entry;
pub mod person;
pub mod stream;
