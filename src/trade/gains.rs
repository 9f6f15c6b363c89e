//! What the new motor saves: watts, box heat, coil capacity, energy, money, carbon dioxide.
//!
//! Every watt that goes into a fan motor inside the box ends up as heat in the box, and the
//! compressor has to carry it out again. So a watt saved saves 1 + 1/COP watts at the meter.

mod estimate;
mod formulas;

pub use estimate::{Estimate, Gains, Installation, KnownBy, Money};
pub use formulas::FORMULAS;

use uom::si::f64::{Energy, Mass, MassPerEnergy, Power, Ratio, Time};
use uom::si::mass_per_energy::kilogram_per_joule;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::time::second;

use super::formula::CannotWorkOut;
use super::rows::{self, Row};

/// Btu/h per watt: 3600 s/h over 1055.056 J/Btu, about 3.412.
const BTU_PER_WATT_HOUR: f64 = 3600.0 / 1_055.055_852_62;

/// The coefficient of performance of an energy efficiency ratio.
///
/// COP = EER / 3.412, with EER in Btu of cooling per watt-hour of electricity and COP in watts
/// per watt. Valid for EER above 0 and at most 60 (no machine reaches more).
///
/// # Errors
/// When the EER is outside this range.
///
/// Source: unit definition (1 Btu = 1055.056 J, NIST SP 811:2008).
pub fn cop_from_eer(eer: f64) -> Result<Ratio, CannotWorkOut> {
    if eer > 0.0 && eer <= 60.0 {
        Ok(Ratio::new::<ratio>(eer / BTU_PER_WATT_HOUR))
    } else {
        Err(CannotWorkOut(format!(
            "An EER of {eer} Btu/Wh cannot be right; refrigeration lies between 3 and 20 Btu/Wh."
        )))
    }
}

/// How many watts the meter sees for every fan watt: 1 + 1/COP.
///
/// COP is that of the whole system at its suction level, in watts per watt; valid above 0.2 and
/// at most 18.
///
/// # Errors
/// When the COP is outside this range.
///
/// Source: New South Wales Energy Savings Scheme, HEAB activity F5 (the form of the formula).
pub fn interactive_factor(cop: Ratio) -> Result<Ratio, CannotWorkOut> {
    let cop = cop.get::<ratio>();
    if cop > 0.2 && cop <= 18.0 {
        Ok(Ratio::new::<ratio>(1.0 + 1.0 / cop))
    } else {
        Err(CannotWorkOut(format!(
            "A coefficient of performance of {cop} cannot be right; a cooler has about 2 to 4, \
             a freezer about 1 to 2."
        )))
    }
}

/// Watts saved by `motors` motors that each drew `before` and draw `after`: n (W_old − W_new).
///
/// Both are electrical input. The result is negative where the new motor draws more.
///
/// Source: arithmetic.
pub fn watts_saved(before: Power, after: Power, motors: u32) -> Power {
    (before - after) * f64::from(motors)
}

/// Electrical energy saved in `time` of running: ΔE = P (1 + 1/COP) t.
///
/// `saved` is the fan power saved, `time` the hours that the fans run in the period.
///
/// # Errors
/// As [`interactive_factor`].
///
/// Source: New South Wales Energy Savings Scheme, HEAB activity F5 (the form of the formula).
pub fn energy_saved(saved: Power, time: Time, cop: Ratio) -> Result<Energy, CannotWorkOut> {
    Ok(saved * time * interactive_factor(cop)?)
}

/// What a scheme credits over the life of a motor: ((P (a − avg) + b)(1 + 1/COP) h L).
///
/// `rated` P is the new motor's input power, `a` and `b` the scheme's coefficients for the kind
/// of box, `average` the mean share of full power of a variable-speed motor, `running` the hours
/// run in a whole life (h L).
///
/// # Errors
/// As [`interactive_factor`].
///
/// Source: New South Wales Energy Savings Scheme, HEAB activity F5, as published in its rules as
/// code. The coefficients are the scheme's and are not part of this program.
pub fn lifetime_energy(
    rated: Power,
    coefficients: (f64, Power),
    average: Ratio,
    running: Time,
    cop: Ratio,
) -> Result<Energy, CannotWorkOut> {
    let (a, b) = coefficients;
    let base = rated * (a - average.get::<ratio>()) + b;
    Ok(base * interactive_factor(cop)? * running)
}

/// The carbon dioxide of an amount of electricity: m = E f.
///
/// Source: arithmetic; the factor `f` is a named row of a region and a year.
pub fn carbon_dioxide(energy: Energy, factor: MassPerEnergy) -> Mass {
    energy * factor
}

/// The emission factor of `region` in `year`, as a named row with its source.
///
/// # Errors
/// When there is no such row; the message lists those there are.
pub fn emission_row(region: &str, year: u16) -> Result<&'static Row, CannotWorkOut> {
    let name = format!("co2_{region}_{year}");
    rows::row(&name).ok_or_else(|| {
        let known: Vec<&str> = rows::rows()
            .filter_map(|row| row.name.strip_prefix("co2_"))
            .collect();
        CannotWorkOut(format!(
            "There is no emission factor for {region} in {year}; give emission_factor yourself, \
             or use one of {}.",
            known.join(", ")
        ))
    })
}

/// The factor of an emission row.
pub fn emission_factor(row: &Row) -> MassPerEnergy {
    MassPerEnergy::new::<kilogram_per_joule>(row.si)
}

/// The share of the coil's capacity that is free for the product again: Q_fan / Q_coil.
///
/// `heat` is the fan heat no longer put into the box, `capacity` the coil's rated capacity.
///
/// # Errors
/// When the capacity is not above zero or smaller than the heat.
///
/// Source: arithmetic; fan power is all heat in the box (first law).
pub fn capacity_freed(heat: Power, capacity: Power) -> Result<Ratio, CannotWorkOut> {
    if capacity > Power::new::<watt>(0.0) && heat.abs() < capacity {
        Ok(heat / capacity)
    } else {
        Err(CannotWorkOut(
            "The coil's capacity must be larger than the heat of its own fans; read it from the \
             nameplate, such as 12000 Btu/h."
                .into(),
        ))
    }
}

/// How much less the compressor has to run in `period` of fan running: t Q_fan / Q_coil.
///
/// # Errors
/// As [`capacity_freed`].
///
/// Source: energy balance of the box, with everything but the fan heat unchanged.
pub fn run_time_less(heat: Power, capacity: Power, period: Time) -> Result<Time, CannotWorkOut> {
    Ok(period * capacity_freed(heat, capacity)?)
}

/// Power of the same fan at a lower speed by the cube law: P₂ = P₁ (n₂/n₁)³.
///
/// Applied to electrical input it promises the most that can be saved: the motor and its drive
/// get less efficient at low speed. Valid for a speed ratio above 0 and at most 1.5.
///
/// # Errors
/// When the ratio is outside this range.
///
/// Source: fan laws, ANSI/AMCA 210 (fixed density and system).
pub fn power_at_speed(full: Power, speed: Ratio) -> Result<Power, CannotWorkOut> {
    let speed = speed.get::<ratio>();
    if speed > 0.0 && speed <= 1.5 {
        Ok(full * speed.powi(3))
    } else {
        Err(CannotWorkOut(format!(
            "A speed ratio of {speed} is outside the fan laws' use here; give new rpm over old \
             rpm, between 0 and 1.5."
        )))
    }
}

/// Seconds in a year of 365 days.
pub fn year() -> Time {
    Time::new::<second>(365.0 * 86_400.0)
}

/// Hours a year that the fans run, when they stop only for defrost: t = year (1 − n d / day).
///
/// `defrosts` a day, each with the fans off for `length`.
///
/// # Errors
/// When the defrosts would take more than half of the day.
///
/// Source: arithmetic.
pub fn running_time(defrosts: f64, length: Time) -> Result<Time, CannotWorkOut> {
    let off = defrosts * length.get::<second>() / 86_400.0;
    if (0.0..=0.5).contains(&off) {
        Ok(year() * (1.0 - off))
    } else {
        Err(CannotWorkOut(
            "The defrosts take more than half of the day; check their number and length, such \
             as 4 a day of 20 min."
                .into(),
        ))
    }
}
