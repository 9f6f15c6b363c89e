//! The federal rule on the fan motors of walk-in coolers and freezers.

use uom::si::electric_potential::volt;
use uom::si::f64::{ElectricPotential, Power};
use uom::si::power::horsepower;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::motor::MotorType;
use super::typed::{POWER, VOLTAGE, above_zero, chosen, given, maybe_chosen};
use super::worded::worded;

worded! {
    /// Which coil a fan serves.
    pub enum FanDuty {
        /// The evaporator, inside the box.
        Evaporator = "evaporator",
        /// The condenser, outside.
        Condenser = "condenser",
    }
}

worded! {
    /// What the rule says of a motor in a walk-in.
    pub enum WalkInVerdict {
        /// The rule allows it in a walk-in made today.
        Compliant = "compliant",
        /// The rule forbids it in a walk-in made on or after 2009-01-01.
        NotCompliant = "not_compliant",
        /// The rule does not reach it.
        NotCovered = "not_covered",
    }
}

/// A fan motor of a walk-in, as the rule looks at it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WalkInMotor {
    /// The year the walk-in was made; unknown counts as a walk-in made today.
    pub made: Option<i16>,
    /// Shaft power.
    pub shaft: Power,
    /// Rated volts.
    pub rated: ElectricPotential,
    /// Its type.
    pub motor: MotorType,
    /// What the fan serves.
    pub duty: FanDuty,
}

/// Whether a motor of under 1 hp and under 460 V may be in a walk-in made on or after
/// 2009-01-01: evaporator fans EC or three-phase only, condenser fans also PSC.
///
/// The duty is the maker's. Whether it reaches a like-for-like swap in an older box is not
/// settled here: ask.
///
/// Source: 10 CFR 431.306(a)(5) and (6); 42 USC 6313(f)(1)(E) and (F).
///
/// # Errors
/// When power or voltage is not above zero.
pub fn walk_in_rule(fan: &WalkInMotor) -> Result<WalkInVerdict, CannotWorkOut> {
    above_zero("The motor's power", fan.shaft)?;
    above_zero("The rated voltage", fan.rated)?;
    if fan.shaft.get::<horsepower>() >= 1.0 - 1e-4
        || fan.rated.get::<volt>() >= 460.0
        || fan.made.is_some_and(|year| year < 2009)
    {
        return Ok(WalkInVerdict::NotCovered);
    }
    Ok(match (fan.motor, fan.duty) {
        (MotorType::Ec | MotorType::ThreePhase, _) | (MotorType::Psc, FanDuty::Condenser) => {
            WalkInVerdict::Compliant
        }
        (MotorType::Psc | MotorType::ShadedPole, _) => WalkInVerdict::NotCompliant,
    })
}

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "walk_in_motor_rule",
    version: 1,
    about: "Whether the federal walk-in rule allows a fan motor in a box made since 2009.",
    symbols: "under 1 hp and under 460 V: EC or three-phase; condenser also PSC",
    source: "10 CFR 431.306(a)(5)-(6); 42 USC 6313(f)(1)(E)-(F)",
    confidence: Confidence::Seen,
    takes: &[
        Parameter::needed("shaft", POWER, "shaft power"),
        Parameter::needed("rated", VOLTAGE, "rated volts"),
        Parameter::needed(
            "motor",
            ValueType::Word(MotorType::WORDS),
            "the motor's type",
        ),
        Parameter::optional(
            "duty",
            ValueType::Word(FanDuty::WORDS),
            "evaporator",
            "which coil the fan serves",
        ),
        Parameter::optional(
            "made",
            ValueType::Number,
            "made on or after 2009-01-01",
            "the year the walk-in was made",
        ),
    ],
    gives: &[Output::of(
        "verdict",
        ValueType::Word(WalkInVerdict::WORDS),
        "the verdict",
    )],
    run: walk_in_motor_rule,
}];

fn walk_in_motor_rule(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let made = if arguments.has("made") {
        Some(year(arguments.number("made")?)?)
    } else {
        None
    };
    let verdict = walk_in_rule(&WalkInMotor {
        made,
        shaft: given(arguments, "shaft")?,
        rated: given(arguments, "rated")?,
        motor: chosen(arguments, "motor")?,
        duty: maybe_chosen(arguments, "duty")?.unwrap_or(FanDuty::Evaporator),
    })?;
    let sentence = match verdict {
        WalkInVerdict::Compliant => "The walk-in rule allows this motor.",
        WalkInVerdict::NotCompliant => {
            "The rule for walk-ins made since 2009 asks for an EC or three-phase motor here."
        }
        WalkInVerdict::NotCovered => "The walk-in rule does not reach this motor.",
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .warn("The duty is the maker's; ask whether it reaches a swap in an existing box.")
        .say(sentence))
}

fn year(number: f64) -> Result<i16, CannotWorkOut> {
    if number.fract() == 0.0 && (1900.0..=2200.0).contains(&number) {
        return Ok(number as i16);
    }
    Err(CannotWorkOut(format!(
        "{number} is not a year; write it with four digits, like 2012."
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn verdict(motor: MotorType, duty: FanDuty, hp: f64, volts: f64, made: i16) -> WalkInVerdict {
        walk_in_rule(&WalkInMotor {
            made: Some(made),
            shaft: Power::new::<horsepower>(hp),
            rated: ElectricPotential::new::<volt>(volts),
            motor,
            duty,
        })
        .unwrap()
    }

    #[test]
    fn each_motor_type_has_its_place() {
        use FanDuty::{Condenser, Evaporator};
        use MotorType::{Ec, Psc, ShadedPole, ThreePhase};
        use WalkInVerdict::{Compliant, NotCompliant};
        for (motor, duty, expected) in [
            (ShadedPole, Evaporator, NotCompliant),
            (Psc, Evaporator, NotCompliant),
            (Ec, Evaporator, Compliant),
            (ThreePhase, Evaporator, Compliant),
            (ShadedPole, Condenser, NotCompliant),
            (Psc, Condenser, Compliant),
            (Ec, Condenser, Compliant),
        ] {
            assert_eq!(
                verdict(motor, duty, 0.05, 208.0, 2015),
                expected,
                "{motor:?} {duty:?}"
            );
        }
    }

    #[test]
    fn the_rule_ends_at_one_horsepower_460_volts_and_2009() {
        let shaded =
            |hp, volts, made| verdict(MotorType::ShadedPole, FanDuty::Evaporator, hp, volts, made);
        assert_eq!(shaded(1.0, 208.0, 2015), WalkInVerdict::NotCovered);
        assert_eq!(shaded(0.5, 460.0, 2015), WalkInVerdict::NotCovered);
        assert_eq!(shaded(0.5, 208.0, 2008), WalkInVerdict::NotCovered);
        assert_eq!(shaded(0.99, 459.0, 2009), WalkInVerdict::NotCompliant);
    }
}
