//! The engine alone: what must hold on every path of the shipped flows, and what people type.

mod bench;
mod charge;
mod circle;
mod competence;
mod every_order;
mod leads;
mod locks;
pub(crate) use bench::EDITION;
pub(crate) use random::{Dice, input as random_input};
mod lockout;
mod random;
mod reading;
mod redo;
mod rules;
mod sharing;
mod silence;
mod small_job;
mod stale_facts;
mod together;
mod waits;
mod way_back;
