//! The full-load current of a single-phase motor, by the code's table.
//!
//! The table is for conductors and short-circuit protection; overload protection goes by the
//! nameplate (NEC 430.6(A)).

use uom::si::electric_current::ampere;
use uom::si::electric_potential::volt;
use uom::si::f64::{ElectricCurrent, ElectricPotential, Power};
use uom::si::power::watt;

use super::formula::{CannotWorkOut, Confidence, Formula, Output, Parameter, Results};
use super::typed::{CURRENT, Measured, POWER, VOLTAGE, above_zero, given};

/// One horsepower, W.
const HORSEPOWER: f64 = 745.699_871_582_270_2;
/// A horsepower that a person rounded still names its row.
const ROUNDING: f64 = 0.005;

/// Horsepower and amperes at 115, 200, 208 and 230 V: NEC Table 430.248.
const TABLE: &[(f64, [f64; 4])] = &[
    (1.0 / 6.0, [4.4, 2.5, 2.4, 2.2]),
    (1.0 / 4.0, [5.8, 3.3, 3.2, 2.9]),
    (1.0 / 3.0, [7.2, 4.1, 4.0, 3.6]),
    (1.0 / 2.0, [9.8, 5.6, 5.4, 4.9]),
    (3.0 / 4.0, [13.8, 7.9, 7.6, 6.9]),
    (1.0, [16.0, 9.2, 8.8, 8.0]),
    (1.5, [20.0, 11.5, 11.0, 10.0]),
    (2.0, [24.0, 13.8, 13.2, 12.0]),
    (3.0, [34.0, 19.6, 18.7, 17.0]),
    (5.0, [56.0, 32.2, 30.8, 28.0]),
    (7.5, [80.0, 46.0, 44.0, 40.0]),
    (10.0, [100.0, 57.5, 55.0, 50.0]),
];

/// The full-load current of a single-phase motor of `shaft` power and `rated` volts.
///
/// The columns hold for systems of 110 to 120 V, 200 V, 208 V and 220 to 240 V. Usual speeds
/// and normal torque are assumed; a low-speed, high-torque or multispeed motor may draw more.
///
/// Source: NEC Table 430.248.
///
/// # Errors
/// Below 1/6 hp, where the table does not reach and nothing may be extrapolated: the nameplate
/// governs. Also between its rows, above 10 hp, and at other volts.
pub fn full_load_current(
    shaft: Power,
    rated: ElectricPotential,
) -> Result<ElectricCurrent, CannotWorkOut> {
    let horsepower = above_zero("The shaft power", shaft)? / HORSEPOWER;
    let volts = above_zero("The rated voltage", rated)?;
    if horsepower < TABLE[0].0 * (1.0 - ROUNDING) {
        return Err(CannotWorkOut(format!(
            "A motor of {} is below the table, which starts at 1/6 hp: use the amps on its \
             nameplate.",
            Power::new::<watt>(shaft.si()).shown()
        )));
    }
    let row = TABLE
        .iter()
        .find(|(listed, _)| (horsepower / listed - 1.0).abs() <= ROUNDING);
    let Some((_, amps)) = row else {
        return Err(CannotWorkOut(format!(
            "The table has no row for {} hp: use the amps on the nameplate.",
            super::quantity::plain_number(horsepower)
        )));
    };
    let column = match volts {
        110.0..=120.0 => 0,
        200.0 => 1,
        208.0 => 2,
        220.0..=240.0 => 3,
        _ => {
            return Err(CannotWorkOut(format!(
                "The table has no column for {}: it knows 110-120, 200, 208 and 220-240 V. Use \
                 the amps on the nameplate.",
                ElectricPotential::new::<volt>(volts).shown()
            )));
        }
    };
    Ok(ElectricCurrent::new::<ampere>(amps[column]))
}

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "full_load_current",
    version: 1,
    about: "The table's full-load current of a single-phase motor of 1/6 hp or more.",
    symbols: "table",
    source: "NEC Table 430.248",
    confidence: Confidence::Seen,
    takes: &[
        Parameter::needed("shaft", POWER, "the nameplate's horsepower, 1/6 to 10 hp"),
        Parameter::needed("rated", VOLTAGE, "the nameplate's volts, single phase"),
    ],
    gives: &[Output::of(
        "current",
        CURRENT,
        "full-load current, for sizing conductors",
    )],
    run: |arguments, _| {
        let current = full_load_current(given(arguments, "shaft")?, given(arguments, "rated")?)?;
        Ok(Results::default()
            .put("current", current)
            .warn("For conductors and short-circuit protection only; overload by nameplate."))
    },
}];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_never_extrapolated() {
        let amps = |hp: f64, volts: f64| {
            full_load_current(
                Power::new::<watt>(hp * HORSEPOWER),
                ElectricPotential::new::<volt>(volts),
            )
        };
        assert!(amps(1.0 / 15.0, 115.0).unwrap_err().0.contains("nameplate"));
        assert!(amps(1.0 / 8.0, 115.0).is_err());
        assert!(amps(0.9, 115.0).is_err());
        assert!(amps(15.0, 230.0).is_err());
        assert!(amps(1.0, 277.0).is_err());
        assert_eq!(amps(0.167, 120.0).unwrap().get::<ampere>(), 4.4);
    }

    #[test]
    fn current_rises_with_power_and_falls_with_voltage() {
        for pair in TABLE.windows(2) {
            assert!((0..4).all(|column| pair[0].1[column] < pair[1].1[column]));
        }
        for (_, amps) in TABLE {
            assert!(amps.windows(2).all(|pair| pair[0] > pair[1]));
        }
    }
}
