//! The computations of the trade, one topic per file. Pure: no clock, no files, no network.

pub mod air;
pub mod ampacity;
pub mod capacitor;
pub mod chart;
pub mod coil;
pub mod coil_drop;
pub mod compare;
pub mod conductor;
pub mod convert;
pub mod curve;
pub mod duty;
pub mod fan;
pub mod formula;
pub mod full_load;
pub mod gains;
pub mod gauge;
pub mod goods;
pub mod heater;
pub mod insulation;
pub mod isolation;
pub mod kit;
pub mod lockout;
mod monotone;
pub mod motor;
pub mod place;
pub mod product;
pub mod protection;
pub mod quantity;
pub mod rating;
pub mod refrigerant;
pub mod regulation;
mod root;
pub mod rows;
pub mod saturation;
pub mod selection;
pub mod sensible;
pub mod speed_book;
pub mod spread;
pub mod standby;
pub mod substitution;
pub mod supply;
pub mod system;
mod typed;
pub mod velocity;
pub mod voltage_drop;
pub mod winding;
pub mod window;
mod worded;
pub mod written;

use formula::Formula;

/// Every formula that a flow's `work_out` or the `work-out` command may name.
pub fn formulas() -> impl Iterator<Item = &'static Formula> {
    // Each topic file adds its own table here.
    [
        air::formulas::FORMULAS,
        coil::formulas::FORMULAS,
        curve::formulas::FORMULAS,
        fan::formulas::FORMULAS,
        refrigerant::formulas::FORMULAS,
        sensible::FORMULAS,
        velocity::FORMULAS,
        gains::FORMULAS,
        convert::FORMULAS,
        product::FORMULAS,
        selection::FORMULAS,
        speed_book::FORMULAS,
        rating::FORMULAS,
        supply::FORMULAS,
        system::FORMULAS,
        conductor::FORMULAS,
        voltage_drop::FORMULAS,
        full_load::FORMULAS,
        ampacity::FORMULAS,
        motor::FORMULAS,
        regulation::FORMULAS,
        capacitor::FORMULAS,
        heater::FORMULAS,
        winding::FORMULAS,
        insulation::FORMULAS,
        protection::FORMULAS,
        isolation::FORMULAS,
        lockout::FORMULAS,
        place::FORMULAS,
        standby::FORMULAS,
        substitution::FORMULAS,
        compare::FORMULAS,
    ]
    .into_iter()
    .flatten()
}

/// The formula called `name`.
pub fn formula_named(name: &str) -> Option<&'static Formula> {
    formulas().find(|formula| formula.name == name)
}
