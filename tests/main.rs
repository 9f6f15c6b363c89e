//! One test program: a module for each part of the project.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that finds something missing must fail loudly, also in its helpers"
)]

mod desk;
mod flow;
mod store_contract;
mod store_journal;
mod support;
mod telegram;
mod trade;
mod walk;
