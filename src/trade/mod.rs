//! The computations of the trade, one topic per file. Pure: no clock, no files, no network.

pub mod formula;
pub mod gains;
pub mod goods;
pub mod kit;
pub mod quantity;
pub mod rows;
pub mod speed_book;
pub mod spread;
pub mod written;

use formula::Formula;

/// Every formula that a flow's `work_out` or the `work-out` command may name.
pub fn formulas() -> impl Iterator<Item = &'static Formula> {
    // Each topic file adds its own table here.
    [gains::FORMULAS].into_iter().flatten()
}

/// The formula called `name`.
pub fn formula_named(name: &str) -> Option<&'static Formula> {
    formulas().find(|formula| formula.name == name)
}
