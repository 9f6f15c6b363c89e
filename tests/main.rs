//! One test program: a module for each part of the project.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that finds something missing must fail loudly, also in its helpers"
)]
#![allow(
    clippy::disallowed_methods,
    reason = "a test may look at the clock to see how long something took"
)]

mod api;
mod broken_disk;
mod browser;
mod check;
mod desk;
mod draw;
mod flow;
mod formats;
mod fuzz;
mod killed;
mod mutants;
mod record;
mod schema;
mod security;
mod simulation;
mod store_contract;
mod store_journal;
mod stories;
mod support;
mod telegram;
mod tidy;
mod trade;
mod walk;
