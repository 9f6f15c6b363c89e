//! The least current that a motor circuit's conductors must carry.

use uom::si::f64::ElectricCurrent;

use super::formula::ValueType;
use super::formula::{Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results};
use super::goods::Goods;
use super::quantity::Kind;
use super::typed::{
    CURRENT, TRUE_OR_FALSE, above_zero, given, maybe, maybe_truth, not_negative, result, several,
};

/// The share of the full-load current that a continuous motor's conductors carry (NEC 430.22).
const CONTINUOUS: f64 = 1.25;

/// A load on the circuit that is no motor, such as defrost heaters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OtherLoad {
    /// Its current.
    pub current: ElectricCurrent,
    /// Whether it stays on for three hours or more.
    pub continuous: bool,
}

/// The least ampacity for a single motor in continuous duty: 125 % of its full-load current.
///
/// Source: NEC 430.22.
///
/// # Errors
/// When the current is not above zero.
pub fn for_one_motor(full_load: ElectricCurrent) -> Result<ElectricCurrent, CannotWorkOut> {
    let amps = above_zero("The full-load current", full_load)?;
    result("The least ampacity", CONTINUOUS * amps)
}

/// The least ampacity for several motors and other loads on one circuit: 125 % of the largest
/// motor, the full-load currents of the rest, other loads at 100 %, or 125 % if continuous.
///
/// Source: NEC 430.24, from memory.
///
/// # Errors
/// Without a motor, or when a current is not above zero (a load: below zero).
pub fn for_several_motors(
    full_load: &[ElectricCurrent],
    other: Option<OtherLoad>,
) -> Result<ElectricCurrent, CannotWorkOut> {
    let mut sum = 0.0;
    let mut largest: f64 = 0.0;
    for motor in full_load {
        let amps = above_zero("A full-load current", *motor)?;
        sum += amps;
        largest = largest.max(amps);
    }
    if full_load.is_empty() {
        return Err(CannotWorkOut(
            "No motor is given; list the full-load current of each motor.".into(),
        ));
    }
    if let Some(load) = other {
        let amps = not_negative("The other load", load.current)?;
        sum += if load.continuous {
            CONTINUOUS * amps
        } else {
            amps
        };
    }
    result("The least ampacity", sum + (CONTINUOUS - 1.0) * largest)
}

const MINIMUM: Output = Output::of(
    "minimum",
    CURRENT,
    "the least ampacity, before corrections for temperature",
);
const LICENSED: &str = "Sizing conductors is for a licensed electrician; local code governs.";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "conductor_minimum",
        version: 1,
        about: "The least ampacity of the conductors of one motor in continuous duty.",
        symbols: "1.25·I",
        source: "NEC 430.22",
        confidence: Confidence::Computed,
        takes: &[Parameter::needed(
            "full_load",
            CURRENT,
            "I, the motor's full-load current",
        )],
        gives: &[MINIMUM],
        run: |arguments, _| {
            let minimum = for_one_motor(given(arguments, "full_load")?)?;
            Ok(Results::default().put("minimum", minimum).warn(LICENSED))
        },
    },
    Formula {
        name: "conductor_minimum_several",
        version: 1,
        about: "The least ampacity of conductors that feed several motors and heaters.",
        symbols: "1.25·I₁ + ΣI + other (125 % if continuous)",
        source: "NEC 430.24, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed(
                "full_load",
                ValueType::Quantities(Kind::Current),
                "the full-load current of each motor",
            ),
            Parameter::optional("other", CURRENT, "no other load", "heaters and the like"),
            Parameter::optional(
                "other_continuous",
                TRUE_OR_FALSE,
                "not continuous",
                "whether the other load stays on for three hours or more",
            ),
        ],
        gives: &[MINIMUM],
        run: several_motors,
    },
];

fn several_motors(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let motors: Vec<ElectricCurrent> = several(arguments, "full_load")?;
    let continuous = maybe_truth(arguments, "other_continuous")?.unwrap_or(false);
    let other = maybe(arguments, "other")?.map(|current| OtherLoad {
        current,
        continuous,
    });
    let minimum = for_several_motors(&motors, other)?;
    Ok(Results::default().put("minimum", minimum).warn(LICENSED))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::electric_current::ampere;

    fn amps(list: &[f64]) -> Vec<ElectricCurrent> {
        list.iter()
            .map(|value| ElectricCurrent::new::<ampere>(*value))
            .collect()
    }

    #[test]
    fn four_equal_motors_count_one_quarter_extra() {
        let minimum = for_several_motors(&amps(&[4.4; 4]), None).unwrap();
        assert!((minimum.get::<ampere>() - 18.7).abs() < 1e-9);
    }

    #[test]
    fn one_motor_among_several_equals_one_motor_alone() {
        assert_eq!(
            for_several_motors(&amps(&[4.9]), None),
            for_one_motor(amps(&[4.9])[0])
        );
    }

    #[test]
    fn a_continuous_heater_counts_at_125_percent() {
        let load = |continuous| {
            Some(OtherLoad {
                current: amps(&[12.0])[0],
                continuous,
            })
        };
        let minimum = |continuous| {
            for_several_motors(&amps(&[2.2, 2.2]), load(continuous))
                .unwrap()
                .get::<ampere>()
        };
        assert!((minimum(false) - 16.95).abs() < 1e-9);
        assert!((minimum(true) - 19.95).abs() < 1e-9);
    }

    #[test]
    fn no_motor_is_refused() {
        assert!(for_several_motors(&[], None).is_err());
    }
}
