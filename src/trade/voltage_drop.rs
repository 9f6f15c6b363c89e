//! The voltage lost along a run of wire.

use uom::si::electrical_resistivity::ohm_meter;
use uom::si::f64::{
    Area, ElectricCurrent, ElectricPotential, ElectricalResistance, ElectricalResistivity, Length,
    Ratio,
};
use uom::si::length::foot;

use super::conductor::{CIRCULAR_MIL, Metal};
use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::quantity::{Kind, plain_number};
use super::typed::{
    CURRENT, LENGTH, Measured, RATIO, RESISTANCE, VOLTAGE, above_zero, given, maybe, maybe_chosen,
    not_negative, result,
};
use super::worded::worded;

worded! {
    /// The phases of a circuit.
    pub enum Phases {
        /// Two wires carry the current out and back.
        Single = "single_phase",
        /// Three wires.
        Three = "three_phase",
    }
}

worded! {
    /// How a voltage drop stands against the informational notes of NEC 210.19(A) and 215.2(A).
    /// They are recommendations, never a requirement.
    pub enum DropNote {
        /// At or under 3 % on the branch and 5 % in all.
        Within = "within_recommendation",
        /// Over 3 % on the branch circuit.
        BranchOver = "branch_over_3_percent",
        /// Over 5 % from the service to the motor.
        TotalOver = "total_over_5_percent",
    }
}

impl Phases {
    /// Conductor lengths that the current passes per one-way length: 2, or √3.
    fn lengths(self) -> f64 {
        match self {
            Self::Single => 2.0,
            Self::Three => 3.0_f64.sqrt(),
        }
    }
}

/// The resistivity K at about 75 °C: 12.9 Ω·cmil/ft for copper, 21.2 for aluminum.
///
/// Source: the K of the published examples of the voltage drop formula; it is the table's
/// resistance times its area. 10.4 is copper at 20 to 25 °C and reads low for a warm wire.
pub fn resistivity(metal: Metal) -> ElectricalResistivity {
    per_circular_mil_foot(match metal {
        Metal::Copper => 12.9,
        Metal::Aluminum => 21.2,
    })
}

/// A resistivity given in Ω·cmil/ft.
pub fn per_circular_mil_foot(k: f64) -> ElectricalResistivity {
    ElectricalResistivity::new::<ohm_meter>(k * CIRCULAR_MIL / Length::new::<foot>(1.0).si())
}

/// The voltage lost on a run: 2·K·I·L/CM on one phase, √3·K·I·L/CM on three.
///
/// `one_way` is the length from the supply to the load.
///
/// # Errors
/// When the area is not above zero or another value is below zero.
pub fn drop_by_area(
    phases: Phases,
    current: ElectricCurrent,
    one_way: Length,
    area: Area,
    k: ElectricalResistivity,
) -> Result<ElectricPotential, CannotWorkOut> {
    let k = k.get::<ohm_meter>();
    if !(k.is_finite() && k > 0.0) {
        return Err(CannotWorkOut(
            "K must be above zero: 12.9 for copper, 21.2 for aluminum.".into(),
        ));
    }
    let length = not_negative("The length", one_way)?;
    let ohms = k * length / above_zero("The wire's area", area)?;
    drop_by_resistance(phases, current, result("The resistance", ohms)?)
}

/// The voltage lost on a run whose one conductor has `resistance`: 2·I·R, or √3·I·R.
///
/// # Errors
/// When a value is below zero.
pub fn drop_by_resistance(
    phases: Phases,
    current: ElectricCurrent,
    resistance: ElectricalResistance,
) -> Result<ElectricPotential, CannotWorkOut> {
    let amps = not_negative("The current", current)?;
    let ohms = not_negative("The resistance", resistance)?;
    result("The voltage drop", phases.lengths() * amps * ohms)
}

/// A voltage drop as a share of the supply.
///
/// # Errors
/// When the supply is not above zero.
pub fn drop_share(
    drop: ElectricPotential,
    supply: ElectricPotential,
) -> Result<Ratio, CannotWorkOut> {
    let volts = above_zero("The supply voltage", supply)?;
    result("The share", not_negative("The voltage drop", drop)? / volts)
}

/// How a drop stands against the informational notes: 3 % on the branch, 5 % in all.
///
/// Source: NEC 210.19(A) and 215.2(A), informational notes; not enforceable.
pub fn drop_note(branch: Ratio, total: Option<Ratio>) -> DropNote {
    if branch.si() > 0.03 {
        DropNote::BranchOver
    } else if total.is_some_and(|total| total.si() > 0.05) {
        DropNote::TotalOver
    } else {
        DropNote::Within
    }
}

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "voltage_drop",
    version: 1,
    about: "The voltage lost between the supply and the motor.",
    symbols: "2·K·I·L/CM, √3·K·I·L/CM, or 2·I·R, √3·I·R",
    source: "NEC Chapter 9 Table 8; K = 12.9 Ω·cmil/ft; NEC 210.19(A), 215.2(A) notes",
    confidence: Confidence::Computed,
    takes: &[
        Parameter::needed("supply", VOLTAGE, "V at the supply end, above zero"),
        Parameter::needed("current", CURRENT, "I, zero or above"),
        Parameter::needed("one_way", LENGTH, "L from the supply to the motor"),
        Parameter::optional(
            "area",
            ValueType::Quantity(Kind::Area),
            "by resistance_per_kft instead",
            "CM, one conductor's area",
        ),
        Parameter::optional("k", ValueType::Number, "by the metal", "K in Ω·cmil/ft"),
        Parameter::optional("metal", ValueType::Word(Metal::WORDS), "copper", "gives K"),
        Parameter::optional(
            "resistance_per_kft",
            RESISTANCE,
            "by the area instead",
            "R of 1000 ft of one conductor",
        ),
        Parameter::optional(
            "phases",
            ValueType::Word(Phases::WORDS),
            "single_phase",
            "the circuit's phases",
        ),
    ],
    gives: &[
        Output::of("drop", VOLTAGE, "the voltage lost"),
        Output::of("share", RATIO, "the drop as a share of the supply"),
        Output::of(
            "note",
            ValueType::Word(DropNote::WORDS),
            "against the recommendation for a branch circuit; never a requirement",
        ),
    ],
    run: voltage_drop,
}];

fn voltage_drop(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let phases = maybe_chosen(arguments, "phases")?.unwrap_or(Phases::Single);
    let current: ElectricCurrent = given(arguments, "current")?;
    let one_way: Length = given(arguments, "one_way")?;
    let drop = match (
        maybe(arguments, "area")?,
        maybe(arguments, "resistance_per_kft")?,
    ) {
        (Some(area), None) => {
            let metal = maybe_chosen(arguments, "metal")?.unwrap_or(Metal::Copper);
            let k = if arguments.has("k") {
                per_circular_mil_foot(arguments.number("k")?)
            } else {
                resistivity(metal)
            };
            drop_by_area(phases, current, one_way, area, k)?
        }
        (None, Some(per_kft)) => {
            let ohms: ElectricalResistance = per_kft;
            let feet = one_way.get::<foot>();
            let whole = result("The resistance", ohms.si() * feet / 1000.0)?;
            drop_by_resistance(phases, current, whole)?
        }
        _ => {
            return Err(CannotWorkOut(
                "Give either the wire's area or its resistance per 1000 ft, not both.".into(),
            ));
        }
    };
    let share = drop_share(drop, given(arguments, "supply")?)?;
    let note = drop_note(share, None);
    let results = Results::default()
        .put("drop", drop)
        .put("share", share)
        .put_word("note", note.word());
    let sentence = format!(
        "{} lost at {}, {}% of the supply.",
        drop.shown(),
        current.shown(),
        plain_number(100.0 * share.si())
    );
    let results = results.say(sentence);
    Ok(match note {
        DropNote::Within => results,
        _ => results.warn("Over 3 % on a branch circuit: a recommendation of the NEC, no rule."),
    })
}

#[cfg(test)]
mod tests {
    use super::super::conductor::{Gauge, area};
    use super::*;
    use proptest::prelude::*;
    use uom::si::area::square_meter;
    use uom::si::electric_current::ampere;

    /// 3-phase formula of the exam-prep pages: 1.732·12.9·I·L/CM.
    #[test]
    fn three_phases_lose_the_root_of_three_quarters_of_one_phase() {
        let drop = |phases| {
            drop_by_area(
                phases,
                ElectricCurrent::new::<ampere>(15.0),
                Length::new::<foot>(100.0),
                area(Gauge::Awg12),
                resistivity(Metal::Copper),
            )
            .unwrap()
            .si()
        };
        assert!((drop(Phases::Three) - 1.732 * 12.9 * 15.0 * 100.0 / 6530.0).abs() < 0.001);
        assert!((drop(Phases::Three) / drop(Phases::Single) - 0.75_f64.sqrt()).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn the_drop_is_a_number_or_a_refusal(
            amps in prop::num::f64::ANY, feet in prop::num::f64::ANY, mils in prop::num::f64::ANY,
        ) {
            let drop = drop_by_area(
                Phases::Single,
                ElectricCurrent::of_si(amps),
                Length::new::<foot>(feet),
                Area::new::<square_meter>(mils),
                resistivity(Metal::Copper),
            );
            prop_assert!(drop.is_err() || drop.unwrap().si().is_finite());
        }
    }
}
