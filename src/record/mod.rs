//! Entries, streams, the hash chain and its seals. Pure.

pub mod answer;
pub mod around;
pub mod before;
pub mod chain;
pub mod check_in;
pub mod entry;
pub mod export;
pub mod hex;
pub mod person;
pub mod read_back;
pub mod scope;
pub mod seal;
pub mod sign_off;
pub mod stands_out;
pub mod step_ref;
pub mod stream;
pub mod verify;
