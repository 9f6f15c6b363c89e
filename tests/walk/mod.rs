//! The engine alone: what must hold on every path of the shipped flows, and what people type.

mod bench;
mod locks;
mod random;
mod reading;
mod rules;
