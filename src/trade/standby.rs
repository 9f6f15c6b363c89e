//! A fan that stands still on purpose: defrost, fan delay, a missing speed signal.

use uom::si::f64::{ElectricPotential, ThermodynamicTemperature, Time};

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::rating::Band;
use super::typed::{
    DURATION, Measured, TEMPERATURE, TRUE_OR_FALSE, VOLTAGE, above_zero, given, maybe, maybe_truth,
    not_negative, row_value,
};
use super::worded::worded;

worded! {
    /// What a still EC fan says, from its supply and its speed signal.
    pub enum EcState {
        /// No supply: look upstream, not at the motor.
        NoSupply = "no_supply",
        /// Supply, but no speed signal: standing by, not a dead motor.
        Standby = "standby",
        /// Supply and signal, but its soft start may not be over.
        StillStarting = "still_starting",
        /// Supply and signal, waited out, and still: suspect the motor, by its sheet.
        SuspectMotor = "suspect_motor",
    }
}

worded! {
    /// Why fans are off on purpose.
    pub enum MeantOff {
        /// A defrost is running.
        Defrost = "defrost",
        /// The coil drips off.
        Drip = "drip",
        /// The coil is not yet cold enough for the fans.
        FanDelay = "fan_delay",
        /// The door is open.
        DoorOpen = "door_open",
        /// No cooling is called for and the fans cycle with it.
        CallSatisfied = "call_satisfied",
        /// Nothing keeps them off: look further.
        NotMeant = "not_meant",
    }
}

worded! {
    /// How a defrost's time limit stands against common settings.
    pub enum FailsafeVerdict {
        /// Shorter than common.
        Short = "short",
        /// In the common range.
        Usual = "usual",
        /// Longer than common.
        Long = "long",
    }
}

/// What is known of fans that stand still.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StillFans {
    /// A defrost is running.
    pub defrosting: bool,
    /// The drip time after a defrost is running.
    pub dripping: bool,
    /// The coil's temperature, if the fans are held until it is cold.
    pub held_at: Option<ThermodynamicTemperature>,
    /// The coil temperature that releases the fans; else the row `fan_delay_release`.
    pub released_at: Option<ThermodynamicTemperature>,
    /// The door is open and its switch stops the fans.
    pub door_open: bool,
    /// No cooling is called for and the fans cycle with it.
    pub call_satisfied: bool,
}

/// Judges a still EC fan. A signal below the row `speed_signal_missing` counts as missing; the
/// soft start is the row `soft_start_wait`. By its sheet: makes differ. From memory.
///
/// `signal` is `None` where the motor needs none.
///
/// # Errors
/// When the waiting time is below zero or the signal is not a number.
pub fn judge_ec(
    supply_in_band: bool,
    signal: Option<ElectricPotential>,
    waited: Time,
) -> Result<EcState, CannotWorkOut> {
    let waited = not_negative("The time waited", waited)?;
    let missing: ElectricPotential = row_value("speed_signal_missing")?;
    let soft_start: Time = row_value("soft_start_wait")?;
    let absent = match signal {
        None => false,
        Some(signal) if signal.si().is_finite() => signal.si() < missing.si(),
        Some(_) => {
            return Err(CannotWorkOut(
                "The speed signal is not a number; type what the meter shows, like 6 V.".into(),
            ));
        }
    };
    Ok(if !supply_in_band {
        EcState::NoSupply
    } else if absent {
        EcState::Standby
    } else if waited < soft_start.si() {
        EcState::StillStarting
    } else {
        EcState::SuspectMotor
    })
}

/// Why still fans are off on purpose, the first that holds. Common practice, no source.
///
/// # Errors
/// When a temperature is not above absolute zero.
pub fn meant_off(fans: &StillFans) -> Result<MeantOff, CannotWorkOut> {
    let held = match fans.held_at {
        None => false,
        Some(coil) => {
            let release = match fans.released_at {
                Some(release) => release,
                None => row_value("fan_delay_release")?,
            };
            above_zero("The coil's temperature", coil)?
                > above_zero("The release temperature", release)?
        }
    };
    Ok(if fans.defrosting {
        MeantOff::Defrost
    } else if fans.dripping {
        MeantOff::Drip
    } else if held {
        MeantOff::FanDelay
    } else if fans.door_open {
        MeantOff::DoorOpen
    } else if fans.call_satisfied {
        MeantOff::CallSatisfied
    } else {
        MeantOff::NotMeant
    })
}

/// The common settings of the time that ends a defrost whatever the coil says: 20 to 40 min.
///
/// Source: a trade article on defrost controls; rows `defrost_failsafe_least` and `…_most`.
///
/// # Errors
/// When a row is missing.
pub fn failsafe_band() -> Result<Band<Time>, CannotWorkOut> {
    Ok(Band {
        low: row_value("defrost_failsafe_least")?,
        high: row_value("defrost_failsafe_most")?,
    })
}

/// Judges a defrost's time limit against [`failsafe_band`].
///
/// # Errors
/// When the setting is not above zero.
pub fn judge_failsafe(set: Time) -> Result<FailsafeVerdict, CannotWorkOut> {
    let seconds = above_zero("The time limit", set)?;
    let band = failsafe_band()?;
    Ok(if seconds < band.low.si() {
        FailsafeVerdict::Short
    } else if seconds > band.high.si() {
        FailsafeVerdict::Long
    } else {
        FailsafeVerdict::Usual
    })
}

const PRACTICE: &str = "common practice, no source";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "ec_fan_state",
        version: 1,
        about: "What a still EC fan says, from its supply and its speed signal.",
        symbols: "supply → signal → soft start → motor",
        source: "common practice, no source; by the motor's sheet",
        confidence: Confidence::CommonPractice,
        takes: &[
            Parameter::needed(
                "supply_in_band",
                TRUE_OR_FALSE,
                "volts at the motor in its band",
            ),
            Parameter::optional(
                "signal",
                VOLTAGE,
                "the motor needs none",
                "0 to 10 V signal",
            ),
            Parameter::optional("waited", DURATION, "not waited", "since supply and signal"),
        ],
        gives: &[Output::of(
            "state",
            ValueType::Word(EcState::WORDS),
            "what it says",
        )],
        run: ec_fan_state,
    },
    Formula {
        name: "fans_meant_off",
        version: 1,
        about: "Whether still fans are off on purpose.",
        symbols: "defrost, drip, delay, door, call",
        source: PRACTICE,
        confidence: Confidence::CommonPractice,
        takes: &[
            Parameter::optional("defrosting", TRUE_OR_FALSE, "false", "a defrost is running"),
            Parameter::optional(
                "dripping",
                TRUE_OR_FALSE,
                "false",
                "the drip time is running",
            ),
            Parameter::optional(
                "coil",
                TEMPERATURE,
                "no fan delay",
                "the coil's temperature",
            ),
            Parameter::optional(
                "released_at",
                TEMPERATURE,
                "25 °F",
                "what lets the fans start",
            ),
            Parameter::optional(
                "door_open",
                TRUE_OR_FALSE,
                "false",
                "its switch stops the fans",
            ),
            Parameter::optional(
                "call_satisfied",
                TRUE_OR_FALSE,
                "false",
                "fans cycle with it",
            ),
        ],
        gives: &[Output::of(
            "reason",
            ValueType::Word(MeantOff::WORDS),
            "why, or not meant",
        )],
        run: fans_meant_off,
    },
    Formula {
        name: "defrost_failsafe",
        version: 1,
        about: "The common time limits of a defrost, and how a setting stands against them.",
        symbols: "20 to 40 min",
        source: "trade article on defrost controls, read 2026",
        confidence: Confidence::Seen,
        takes: &[Parameter::optional(
            "set",
            DURATION,
            "only the range",
            "the limit that is set",
        )],
        gives: &[
            Output::of("low", DURATION, "the shortest common limit"),
            Output::of("high", DURATION, "the longest common limit"),
            Output::of(
                "verdict",
                ValueType::Word(FailsafeVerdict::WORDS),
                "of the setting",
            ),
        ],
        run: |arguments, _| {
            let band = failsafe_band()?;
            let results = Results::default()
                .put("low", band.low)
                .put("high", band.high);
            Ok(match maybe(arguments, "set")? {
                Some(set) => results.put_word("verdict", judge_failsafe(set)?.word()),
                None => results,
            })
        },
    },
];

fn ec_fan_state(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let waited = if arguments.has("waited") {
        given(arguments, "waited")?
    } else {
        Time::of_si(0.0)
    };
    let state = judge_ec(
        arguments.truth("supply_in_band")?,
        maybe(arguments, "signal")?,
        waited,
    )?;
    let sentence = match state {
        EcState::NoSupply => "No good supply at the motor: look upstream.",
        EcState::Standby => "Standing by: the speed signal is missing. Not a dead motor.",
        EcState::StillStarting => "It may still be starting softly: wait before judging it.",
        EcState::SuspectMotor => "Supply and signal are there: suspect the motor, by its sheet.",
    };
    Ok(Results::default()
        .put_word("state", state.word())
        .warn("A speed signal of 0 V is never isolation: the fan can start at any time.")
        .say(sentence))
}

fn fans_meant_off(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let so = |name| maybe_truth(arguments, name).map(|truth| truth.unwrap_or(false));
    let reason = meant_off(&StillFans {
        defrosting: so("defrosting")?,
        dripping: so("dripping")?,
        held_at: maybe(arguments, "coil")?,
        released_at: maybe(arguments, "released_at")?,
        door_open: so("door_open")?,
        call_satisfied: so("call_satisfied")?,
    })?;
    let sentence = match reason {
        MeantOff::Defrost => "In defrost: the fans are meant to stand still. Wait it out.",
        MeantOff::Drip => "The coil drips off: the fans are meant to stand still. Wait.",
        MeantOff::FanDelay => "The coil is not cold enough yet for the fans. Wait.",
        MeantOff::DoorOpen => "The door switch holds the fans. Close the door and look again.",
        MeantOff::CallSatisfied => "No cooling is called for and the fans cycle with it.",
        MeantOff::NotMeant => "Nothing named here keeps the fans off: look further.",
    };
    Ok(Results::default()
        .put_word("reason", reason.word())
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::electric_potential::volt;
    use uom::si::thermodynamic_temperature::degree_fahrenheit;
    use uom::si::time::{minute, second};

    #[test]
    fn a_missing_signal_is_standby_not_a_dead_motor() {
        let state = |supply, signal: Option<f64>, waited| {
            judge_ec(
                supply,
                signal.map(ElectricPotential::new::<volt>),
                Time::new::<second>(waited),
            )
        };
        assert_eq!(state(true, Some(0.0), 600.0), Ok(EcState::Standby));
        assert_eq!(state(false, Some(0.0), 600.0), Ok(EcState::NoSupply));
        assert_eq!(state(true, Some(6.0), 5.0), Ok(EcState::StillStarting));
        assert_eq!(state(true, Some(6.0), 600.0), Ok(EcState::SuspectMotor));
        assert_eq!(state(true, None, 600.0), Ok(EcState::SuspectMotor));
        assert!(state(true, Some(f64::NAN), 600.0).is_err());
    }

    #[test]
    fn a_warm_coil_holds_the_fans() {
        let fans = |coil: f64| StillFans {
            held_at: Some(ThermodynamicTemperature::new::<degree_fahrenheit>(coil)),
            ..StillFans::default()
        };
        assert_eq!(meant_off(&fans(30.0)), Ok(MeantOff::FanDelay));
        assert_eq!(meant_off(&fans(20.0)), Ok(MeantOff::NotMeant));
        let defrosting = StillFans {
            defrosting: true,
            ..fans(30.0)
        };
        assert_eq!(meant_off(&defrosting), Ok(MeantOff::Defrost));
    }

    #[test]
    fn a_failsafe_of_half_an_hour_is_usual() {
        let verdict = |minutes| judge_failsafe(Time::new::<minute>(minutes));
        assert_eq!(verdict(10.0), Ok(FailsafeVerdict::Short));
        assert_eq!(verdict(30.0), Ok(FailsafeVerdict::Usual));
        assert_eq!(verdict(60.0), Ok(FailsafeVerdict::Long));
        assert!(verdict(0.0).is_err());
    }
}
