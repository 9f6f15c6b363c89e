//! The engine alone: what must hold on every path of the shipped flows.

mod bench;
mod random;
mod rules;
