//! Run capacitors: their value under load and on a meter, their charge and how long it lasts.

use std::f64::consts::{SQRT_2, TAU};

use uom::si::capacitance::microfarad;
use uom::si::f64::{
    Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance, Frequency, Power, Ratio,
    Time,
};
use uom::si::ratio::ratio;

use super::formula::CannotWorkOut;
use super::rating::Band;
use super::typed::{Measured, above_zero, from_to, not_negative, result, row_value};
use super::worded::worded;

mod formulas;

pub(crate) use formulas::FORMULAS;

/// Below this a charge no longer counts as one of a live part, V.
const TOUCH_LIMIT_ROW: &str = "never_dead_voltage";

worded! {
    /// How a measured capacitor stands against its printed value.
    pub enum CapacitorVerdict {
        /// Within the tolerance.
        Good = "good",
        /// Below it: replace.
        Low = "low",
        /// Above it: replace.
        High = "high",
        /// The limit lies within the meter's own error.
        TooCloseToCall = "too_close_to_call",
        /// Practically nothing: open or lost.
        Failed = "failed",
    }
}

worded! {
    /// Whether another capacitor may take the place of the old one.
    pub enum CapacitorFit {
        /// Equal capacitance, equal or higher voltage.
        Fits = "fits",
        /// Another capacitance.
        WrongCapacitance = "wrong_capacitance",
        /// A lower voltage rating.
        VoltageTooLow = "voltage_too_low",
    }
}

/// The factor that turns amperes per volt into microfarads: 10⁶/(2πf), 2652.58 at 60 Hz.
///
/// # Errors
/// When the frequency is not above zero.
pub fn under_load_factor(frequency: Frequency) -> Result<f64, CannotWorkOut> {
    let hertz = above_zero("The frequency", frequency)?;
    let factor: Ratio = result("The factor", 1e6 / (TAU * hertz))?;
    Ok(factor.si())
}

/// A capacitor's value while it works: C = I/(2πfV), with I through it and V across it.
///
/// # Errors
/// When voltage or frequency is not above zero, or the current is below zero.
pub fn under_load(
    current: ElectricCurrent,
    across: ElectricPotential,
    frequency: Frequency,
) -> Result<Capacitance, CannotWorkOut> {
    let amps = not_negative("The current", current)?;
    let volts = above_zero("The voltage across the capacitor", across)?;
    result(
        "The capacitance",
        1e-6 * under_load_factor(frequency)? * amps / volts,
    )
}

/// The current that a healthy capacitor draws: I = 2πfCV. The inverse of [`under_load`].
///
/// # Errors
/// When a value is not above zero.
pub fn expected_current(
    capacitance: Capacitance,
    across: ElectricPotential,
    frequency: Frequency,
) -> Result<ElectricCurrent, CannotWorkOut> {
    let farads = above_zero("The capacitance", capacitance)?;
    let volts = above_zero("The voltage across the capacitor", across)?;
    result(
        "The current",
        TAU * above_zero("The frequency", frequency)? * farads * volts,
    )
}

/// The values that the printed tolerance allows: C·(1 − t) to C·(1 + t).
///
/// The printed tolerance governs; ±6 % is usual (trade pages), ±5 and ±10 % are also sold.
///
/// # Errors
/// When the printed value is not above zero or the tolerance not from 0 to 50 %.
pub fn tolerance_band(
    printed: Capacitance,
    tolerance: Ratio,
) -> Result<Band<Capacitance>, CannotWorkOut> {
    let farads = above_zero("The printed capacitance", printed)?;
    let share = Ratio::new::<ratio>;
    let tolerance = from_to("The tolerance", tolerance, share(0.0), share(0.5))?;
    Ok(Band {
        low: result("The band", farads * (1.0 - tolerance))?,
        high: result("The band", farads * (1.0 + tolerance))?,
    })
}

/// Judges a measured capacitor. `accuracy` is the meter's error as a share of the reading;
/// zero takes the reading as exact. Below a tenth of the printed value it has failed.
///
/// # Errors
/// As [`tolerance_band`]; also when the reading is below zero.
pub fn judge(
    measured: Capacitance,
    printed: Capacitance,
    tolerance: Ratio,
    accuracy: Ratio,
) -> Result<CapacitorVerdict, CannotWorkOut> {
    let band = tolerance_band(printed, tolerance)?;
    let farads = not_negative("The measured capacitance", measured)?;
    let share = Ratio::new::<ratio>;
    let error = farads * from_to("The meter's accuracy", accuracy, share(0.0), share(0.2))?;
    let slack = 1e-9 * farads;
    let below = farads < band.low.si() - slack;
    let above = farads > band.high.si() + slack;
    let near = |limit: f64| error > 0.0 && (farads - limit).abs() <= error;
    Ok(if farads < 0.1 * printed.si() {
        CapacitorVerdict::Failed
    } else if near(band.low.si()) || near(band.high.si()) {
        CapacitorVerdict::TooCloseToCall
    } else if below {
        CapacitorVerdict::Low
    } else if above {
        CapacitorVerdict::High
    } else {
        CapacitorVerdict::Good
    })
}

/// Whether a new capacitor may replace the old: equal microfarads, equal or higher volts.
///
/// Source: from memory; the motor's sheet governs.
///
/// # Errors
/// When a value is not above zero.
pub fn replacement(
    old: (Capacitance, ElectricPotential),
    new: (Capacitance, ElectricPotential),
) -> Result<CapacitorFit, CannotWorkOut> {
    let farads = |value| above_zero("The capacitance", value);
    let volts = |value| above_zero("The voltage rating", value);
    let (old_farads, new_farads) = (farads(old.0)?, farads(new.0)?);
    Ok(if (new_farads / old_farads - 1.0).abs() > 1e-6 {
        CapacitorFit::WrongCapacitance
    } else if volts(new.1)? < volts(old.1)? * (1.0 - 1e-9) {
        CapacitorFit::VoltageTooLow
    } else {
        CapacitorFit::Fits
    })
}

/// The peak of an alternating voltage, which may stand on a capacitor: √2·V.
///
/// # Errors
/// When the voltage is below zero.
pub fn peak(effective: ElectricPotential) -> Result<ElectricPotential, CannotWorkOut> {
    result("The peak", SQRT_2 * not_negative("The voltage", effective)?)
}

/// How long a resistor takes to discharge a capacitor: t = R·C·ln(V₀/V). Zero if the charge is
/// at or below `to` already.
///
/// # Errors
/// When resistance, capacitance or `to` is not above zero, or `from` is below zero.
pub fn discharge_time(
    resistance: ElectricalResistance,
    capacitance: Capacitance,
    from: ElectricPotential,
    to: ElectricPotential,
) -> Result<Time, CannotWorkOut> {
    let constant = time_constant(resistance, capacitance)?;
    let (start, end) = (
        not_negative("The first voltage", from)?,
        above_zero("The end voltage", to)?,
    );
    let time = if start <= end {
        0.0
    } else {
        constant * (start / end).ln()
    };
    result("The discharge time", time)
}

/// The voltage left after a time: V = V₀·e^(−t/RC). The inverse of [`discharge_time`].
///
/// # Errors
/// When resistance or capacitance is not above zero, or another value is below zero.
pub fn voltage_after(
    resistance: ElectricalResistance,
    capacitance: Capacitance,
    from: ElectricPotential,
    time: Time,
) -> Result<ElectricPotential, CannotWorkOut> {
    let constant = time_constant(resistance, capacitance)?;
    let share = (-not_negative("The time", time)? / constant).exp();
    result(
        "The voltage",
        not_negative("The first voltage", from)? * share,
    )
}

fn time_constant(
    resistance: ElectricalResistance,
    capacitance: Capacitance,
) -> Result<f64, CannotWorkOut> {
    let product =
        above_zero("The resistor", resistance)? * above_zero("The capacitance", capacitance)?;
    let constant: Time = result("The time constant", product)?;
    above_zero("The time constant", constant)
}

/// The power that a bleed resistor takes in the first instant: V₀²/R.
///
/// # Errors
/// When the resistance is not above zero or the voltage is below zero.
pub fn bleed_peak_power(
    from: ElectricPotential,
    resistance: ElectricalResistance,
) -> Result<Power, CannotWorkOut> {
    let volts = not_negative("The voltage", from)?;
    result(
        "The peak power",
        volts * volts / above_zero("The resistor", resistance)?,
    )
}

/// How long to wait before the charge of a drive or capacitor is measured: the nameplate's
/// time, else the row `stored_charge_wait`. The wait never replaces the measurement.
///
/// # Errors
/// When the nameplate's time is below zero.
pub fn wait(nameplate: Option<Time>) -> Result<Time, CannotWorkOut> {
    match nameplate {
        Some(time) => result("The wait", not_negative("The nameplate's wait", time)?),
        None => row_value("stored_charge_wait"),
    }
}

/// The voltage to which a charge is led off: the row `never_dead_voltage`. It is a limit for
/// the arithmetic of the resistor, never a pass for a proof.
///
/// # Errors
/// When the row is missing.
pub fn discharged() -> Result<ElectricPotential, CannotWorkOut> {
    row_value(TOUCH_LIMIT_ROW)
}

/// The tolerance where none is printed: the row `run_capacitor_tolerance`.
///
/// # Errors
/// When the row is missing.
pub fn usual_tolerance() -> Result<Ratio, CannotWorkOut> {
    row_value("run_capacitor_tolerance")
}

/// A capacitance as its label prints it.
fn microfarads(value: Capacitance) -> String {
    format!(
        "{} µF",
        super::quantity::plain_number(value.get::<microfarad>())
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::electric_potential::volt;
    use uom::si::electrical_resistance::ohm;
    use uom::si::frequency::hertz;

    fn uf(value: f64) -> Capacitance {
        Capacitance::new::<microfarad>(value)
    }

    fn share(value: f64) -> Ratio {
        Ratio::new::<ratio>(value)
    }

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    /// Arithmetic seen on trade pages: 7.5 µF ±6 % ends at 7.05, so 7.02 fails; 40 at 37.6.
    #[test]
    fn the_printed_tolerance_decides() {
        let verdict = |measured, printed, error| {
            judge(uf(measured), uf(printed), share(0.06), share(error)).unwrap()
        };
        assert_eq!(verdict(7.02, 7.5, 0.0), CapacitorVerdict::Low);
        assert_eq!(verdict(7.05, 7.5, 0.0), CapacitorVerdict::Good);
        assert_eq!(verdict(7.02, 7.5, 0.01), CapacitorVerdict::TooCloseToCall);
        assert_eq!(verdict(37.6, 40.0, 0.0), CapacitorVerdict::Good);
        assert_eq!(verdict(8.0, 7.5, 0.0), CapacitorVerdict::High);
        assert_eq!(verdict(0.0, 7.5, 0.0), CapacitorVerdict::Failed);
    }

    #[test]
    fn a_replacement_keeps_the_microfarads_and_at_least_the_volts() {
        let fit = |farads, rated| {
            replacement((uf(5.0), volts(370.0)), (uf(farads), volts(rated))).unwrap()
        };
        assert_eq!(fit(5.0, 440.0), CapacitorFit::Fits);
        assert_eq!(fit(5.0, 330.0), CapacitorFit::VoltageTooLow);
        assert_eq!(fit(7.5, 440.0), CapacitorFit::WrongCapacitance);
    }

    #[test]
    fn an_empty_capacitor_needs_no_time() {
        let time = discharge_time(
            ElectricalResistance::new::<ohm>(15_000.0),
            uf(10.0),
            volts(40.0),
            volts(50.0),
        );
        assert_eq!(time.unwrap().si(), 0.0);
    }

    proptest! {
        #[test]
        fn discharge_time_and_voltage_after_are_inverse(
            ohms in 1.0_f64..1e6, farads in 0.1_f64..100.0, start in 51.0_f64..1000.0,
        ) {
            let (r, c) = (ElectricalResistance::new::<ohm>(ohms), uf(farads));
            let time = discharge_time(r, c, volts(start), volts(50.0)).unwrap();
            let left = voltage_after(r, c, volts(start), time).unwrap();
            prop_assert!((left.si() - 50.0).abs() < 1e-6);
        }

        #[test]
        fn capacitance_and_current_are_inverse(
            farads in 0.1_f64..100.0, across in 1.0_f64..600.0, f in 40.0_f64..70.0,
        ) {
            let f = Frequency::new::<hertz>(f);
            let amps = expected_current(uf(farads), volts(across), f).unwrap();
            let back = under_load(amps, volts(across), f).unwrap();
            prop_assert!((back.get::<microfarad>() / farads - 1.0).abs() < 1e-9);
        }

        #[test]
        fn any_input_gives_a_number_or_a_refusal(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY, c in prop::num::f64::ANY,
        ) {
            let value = under_load(
                ElectricCurrent::of_si(a), ElectricPotential::of_si(b), Frequency::of_si(c),
            );
            prop_assert!(value.is_err() || value.unwrap().si().is_finite());
            let time = discharge_time(
                ElectricalResistance::of_si(a), Capacitance::of_si(b), volts(c), volts(50.0),
            );
            prop_assert!(time.is_err() || time.unwrap().si().is_finite());
            let left = voltage_after(
                ElectricalResistance::of_si(a), Capacitance::of_si(b), volts(400.0),
                Time::of_si(c),
            );
            prop_assert!(left.is_err() || left.unwrap().si().is_finite());
        }
    }
}
