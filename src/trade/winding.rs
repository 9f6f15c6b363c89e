//! Motor windings measured with an ohmmeter, de-energised and with the leads off.

use uom::si::f64::{
    ElectricalResistance, Ratio, TemperatureInterval, ThermodynamicTemperature, Time,
};
use uom::si::thermodynamic_temperature::degree_celsius;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::typed::{
    DURATION, Measured, RATIO, RESISTANCE, TEMPERATURE, TRUE_OR_FALSE, above_zero, from_to, given,
    maybe, maybe_truth, not_negative, result, row_value,
};
use super::worded::worded;

worded! {
    /// What the three readings of a PSC motor say.
    pub enum PscVerdict {
        /// Run and start add up to the total, as they must.
        SumHolds = "sum_holds",
        /// They do not: a shorted winding or a wrong lead.
        SumFails = "sum_fails",
        /// The largest reading is not run-to-start: the leads are named wrongly.
        LeadsMixedUp = "leads_mixed_up",
        /// A winding is open.
        Open = "open",
        /// A winding is open in a hot motor: its inner protector may have opened.
        OpenWhileHot = "open_while_hot",
    }
}

worded! {
    /// What a reading from a winding to the frame says.
    pub enum FrameVerdict {
        /// The meter shows no connection.
        NoConnection = "no_connection",
        /// There is one: the winding has failed to the frame.
        Connected = "connected",
    }
}

worded! {
    /// How a winding stands against that of a good sibling.
    pub enum SiblingVerdict {
        /// They agree.
        Alike = "alike",
        /// This one has less: turns may be shorted.
        Lower = "lower",
        /// This one has more: a bad joint, or another motor.
        Higher = "higher",
    }
}

/// A winding's resistance and the temperature it had when it was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Ohms.
    pub resistance: ElectricalResistance,
    /// The temperature of the winding, as near as it is known.
    pub temperature: ThermodynamicTemperature,
}

/// The readings between a PSC motor's leads. `None` is an open circuit, shown as OL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PscReadings {
    /// Common to run.
    pub common_run: Option<ElectricalResistance>,
    /// Common to start.
    pub common_start: Option<ElectricalResistance>,
    /// Run to start.
    pub run_start: Option<ElectricalResistance>,
    /// Whether the motor was hot to the touch.
    pub hot: bool,
}

/// A copper winding's resistance at another temperature: R₂ = R₁·(k + T₂)/(k + T₁), °C.
///
/// k is the row `copper_winding_zero`, 234.5 °C for pure copper (IEEE 118, IEEE 112; from
/// memory). From 77 °F to −10 °F it falls to 0.81. Temperatures from −60 to 200 °C.
///
/// # Errors
/// When the resistance is below zero or a temperature is out of range.
pub fn at_temperature(
    reading: Reading,
    to: ThermodynamicTemperature,
) -> Result<ElectricalResistance, CannotWorkOut> {
    let ohms = not_negative("The resistance", reading.resistance)?;
    let zero: TemperatureInterval = row_value("copper_winding_zero")?;
    let above = |at: ThermodynamicTemperature| -> Result<f64, CannotWorkOut> {
        let celsius = ThermodynamicTemperature::new::<degree_celsius>;
        from_to(
            "The winding's temperature",
            at,
            celsius(-60.0),
            celsius(200.0),
        )?;
        Ok(zero.si() + at.get::<degree_celsius>())
    };
    result(
        "The resistance",
        ohms * above(to)? / above(reading.temperature)?,
    )
}

/// Judges a PSC motor's windings: common-run lowest, common-start higher, run-start their sum
/// within the row `winding_sum_spread`. Common practice, no source.
///
/// # Errors
/// When a reading is not above zero: a short between leads reads near zero, not zero.
pub fn judge_psc(readings: &PscReadings) -> Result<PscVerdict, CannotWorkOut> {
    let PscReadings {
        common_run: Some(run),
        common_start: Some(start),
        run_start: Some(total),
        ..
    } = *readings
    else {
        return Ok(if readings.hot {
            PscVerdict::OpenWhileHot
        } else {
            PscVerdict::Open
        });
    };
    let run = above_zero("Common to run", run)?;
    let start = above_zero("Common to start", start)?;
    let total = above_zero("Run to start", total)?;
    let spread: f64 = row_value::<Ratio>("winding_sum_spread")?.si();
    let sum: ElectricalResistance = result("The sum", run + start)?;
    Ok(if total < run.max(start) {
        PscVerdict::LeadsMixedUp
    } else if (total - sum.si()).abs() > spread * total {
        PscVerdict::SumFails
    } else if run > start {
        PscVerdict::LeadsMixedUp
    } else {
        PscVerdict::SumHolds
    })
}

/// Judges a reading from a winding to the frame with an ohmmeter. `None` is OL. Any reading is
/// a connection; an ohmmeter that shows none does not prove the insulation good.
pub fn judge_frame(to_frame: Option<ElectricalResistance>) -> FrameVerdict {
    match to_frame {
        Some(_) => FrameVerdict::Connected,
        None => FrameVerdict::NoConnection,
    }
}

/// Compares a winding with that of a good sibling of the same make, within the row
/// `sibling_resistance_spread`. Common practice, no source.
///
/// # Errors
/// When the two are further apart in temperature than the row `sibling_temperature_spread`:
/// siblings are compared only at equal temperature. Also when a resistance is not above zero.
pub fn compare_siblings(own: Reading, sibling: Reading) -> Result<SiblingVerdict, CannotWorkOut> {
    let apart: TemperatureInterval = row_value("sibling_temperature_spread")?;
    let (own_kelvin, other_kelvin) = (
        above_zero("The temperature", own.temperature)?,
        above_zero("The temperature", sibling.temperature)?,
    );
    if (own_kelvin - other_kelvin).abs() > apart.si() + 1e-9 {
        return Err(CannotWorkOut(format!(
            "One winding is at {}, the other at {}; compare them only at the same temperature.",
            own.temperature.shown(),
            sibling.temperature.shown()
        )));
    }
    let share: Ratio = result(
        "The comparison",
        above_zero("This winding", own.resistance)?
            / above_zero("The sibling's winding", sibling.resistance)?,
    )?;
    let spread: f64 = row_value::<Ratio>("sibling_resistance_spread")?.si();
    Ok(if share.si() < 1.0 - spread {
        SiblingVerdict::Lower
    } else if share.si() > 1.0 + spread {
        SiblingVerdict::Higher
    } else {
        SiblingVerdict::Alike
    })
}

/// How long a hot motor with an open winding cools before it is condemned: the row
/// `inner_protector_cooling`.
///
/// # Errors
/// When the row is missing.
pub fn cooling_time() -> Result<Time, CannotWorkOut> {
    row_value("inner_protector_cooling")
}

const PRACTICE: &str = "common practice, no source";
const SELF_START: &str =
    "Its inner protector may have opened and can close again: the fan may restart by itself.";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "winding_resistance",
        version: 1,
        about: "A copper winding's ohms at another temperature.",
        symbols: "R₂ = R₁·(234.5 + T₂)/(234.5 + T₁)",
        source: "IEEE 118 and IEEE 112, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("resistance", RESISTANCE, "R₁, measured"),
            Parameter::needed("from", TEMPERATURE, "T₁ of the winding when measured"),
            Parameter::needed("to", TEMPERATURE, "T₂ wanted, −60 to 200 °C"),
        ],
        gives: &[Output::of("resistance", RESISTANCE, "R₂")],
        run: |arguments, _| {
            let reading = Reading {
                resistance: given(arguments, "resistance")?,
                temperature: given(arguments, "from")?,
            };
            let resistance = at_temperature(reading, given(arguments, "to")?)?;
            Ok(Results::default().put("resistance", resistance))
        },
    },
    Formula {
        name: "psc_windings",
        version: 1,
        about: "What the three readings between a PSC motor's leads say.",
        symbols: "R_common-run + R_common-start = R_run-start",
        source: PRACTICE,
        confidence: Confidence::CommonPractice,
        takes: &[
            Parameter::optional("common_run", RESISTANCE, "OL: open", "lowest of the three"),
            Parameter::optional("common_start", RESISTANCE, "OL: open", "higher"),
            Parameter::optional("run_start", RESISTANCE, "OL: open", "their sum"),
            Parameter::optional("hot", TRUE_OR_FALSE, "cold", "hot to the touch"),
        ],
        gives: &[
            Output::of("verdict", ValueType::Word(PscVerdict::WORDS), "the verdict"),
            Output::of(
                "cooling",
                DURATION,
                "how long to let a hot motor cool first",
            ),
        ],
        run: psc_windings,
    },
    Formula {
        name: "winding_to_frame",
        version: 1,
        about: "What an ohmmeter from a winding to the frame says.",
        symbols: "OL, or any reading",
        source: PRACTICE,
        confidence: Confidence::CommonPractice,
        takes: &[Parameter::optional(
            "to_frame",
            RESISTANCE,
            "OL",
            "the reading, if any",
        )],
        gives: &[Output::of(
            "verdict",
            ValueType::Word(FrameVerdict::WORDS),
            "the verdict",
        )],
        run: |arguments, _| {
            let verdict = judge_frame(maybe(arguments, "to_frame")?);
            let sentence = match verdict {
                FrameVerdict::Connected => "The winding is connected to the frame: condemn it.",
                FrameVerdict::NoConnection => "The ohmmeter shows no connection to the frame.",
            };
            Ok(Results::default()
                .put_word("verdict", verdict.word())
                .warn("An ohmmeter finds a plain short only; it does not test insulation.")
                .say(sentence))
        },
    },
    Formula {
        name: "sibling_windings",
        version: 1,
        about: "How a winding stands against a good sibling's at the same temperature.",
        symbols: "R/R_sibling",
        source: PRACTICE,
        confidence: Confidence::CommonPractice,
        takes: &[
            Parameter::needed("own", RESISTANCE, "this winding's ohms"),
            Parameter::needed("own_temperature", TEMPERATURE, "its temperature"),
            Parameter::needed("sibling", RESISTANCE, "the sibling's ohms"),
            Parameter::needed("sibling_temperature", TEMPERATURE, "its temperature"),
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(SiblingVerdict::WORDS),
                "the verdict",
            ),
            Output::of("share", RATIO, "R over the sibling's R"),
        ],
        run: sibling_windings,
    },
];

fn psc_windings(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let verdict = judge_psc(&PscReadings {
        common_run: maybe(arguments, "common_run")?,
        common_start: maybe(arguments, "common_start")?,
        run_start: maybe(arguments, "run_start")?,
        hot: maybe_truth(arguments, "hot")?.unwrap_or(false),
    })?;
    let results = Results::default().put_word("verdict", verdict.word());
    Ok(match verdict {
        PscVerdict::SumHolds => results.say("Run and start add up: the windings look good."),
        PscVerdict::SumFails => {
            results.say("Run and start do not add up: turns are shorted, or a lead is wrong.")
        }
        PscVerdict::LeadsMixedUp => {
            results.say("The readings are in the wrong order: check which lead is which.")
        }
        PscVerdict::Open => results.say("A winding is open: the motor has failed."),
        PscVerdict::OpenWhileHot => {
            let time = cooling_time()?;
            results.put("cooling", time).warn(SELF_START).say(format!(
                "Open, but hot: let it cool {}, then measure again.",
                time.shown()
            ))
        }
    })
}

fn sibling_windings(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let own = Reading {
        resistance: given(arguments, "own")?,
        temperature: given(arguments, "own_temperature")?,
    };
    let sibling = Reading {
        resistance: given(arguments, "sibling")?,
        temperature: given(arguments, "sibling_temperature")?,
    };
    let verdict = compare_siblings(own, sibling)?;
    let sentence = match verdict {
        SiblingVerdict::Alike => "The two windings agree.",
        SiblingVerdict::Lower => "This winding has less: turns may be shorted.",
        SiblingVerdict::Higher => "This winding has more: a bad joint, or another motor.",
    };
    let share: Ratio = result("The share", own.resistance.si() / sibling.resistance.si())?;
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .put("share", share)
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::electrical_resistance::ohm;
    use uom::si::thermodynamic_temperature::degree_fahrenheit;

    fn ohms(value: f64) -> ElectricalResistance {
        ElectricalResistance::new::<ohm>(value)
    }

    fn fahrenheit(value: f64) -> ThermodynamicTemperature {
        ThermodynamicTemperature::new::<degree_fahrenheit>(value)
    }

    fn psc(run: f64, start: f64, total: f64) -> PscVerdict {
        judge_psc(&PscReadings {
            common_run: Some(ohms(run)),
            common_start: Some(ohms(start)),
            run_start: Some(ohms(total)),
            hot: false,
        })
        .unwrap()
    }

    #[test]
    fn a_winding_in_a_freezer_reads_four_fifths() {
        let warm = Reading {
            resistance: ohms(100.0),
            temperature: fahrenheit(77.0),
        };
        let cold = at_temperature(warm, fahrenheit(-10.0)).unwrap();
        assert!((cold.get::<ohm>() - 81.4).abs() < 0.1);
    }

    #[test]
    fn run_and_start_add_up_to_the_total() {
        assert_eq!(psc(20.0, 45.0, 65.0), PscVerdict::SumHolds);
        assert_eq!(psc(20.0, 45.0, 50.0), PscVerdict::SumFails);
        assert_eq!(psc(65.0, 45.0, 20.0), PscVerdict::LeadsMixedUp);
        assert_eq!(psc(45.0, 20.0, 65.0), PscVerdict::LeadsMixedUp);
    }

    #[test]
    fn an_open_winding_in_a_hot_motor_is_not_condemned_at_once() {
        let open = |hot| {
            judge_psc(&PscReadings {
                common_run: None,
                common_start: Some(ohms(45.0)),
                run_start: None,
                hot,
            })
        };
        assert_eq!(open(true), Ok(PscVerdict::OpenWhileHot));
        assert_eq!(open(false), Ok(PscVerdict::Open));
    }

    #[test]
    fn siblings_are_compared_only_at_equal_temperature() {
        let at = |value, temperature| Reading {
            resistance: ohms(value),
            temperature: fahrenheit(temperature),
        };
        assert!(compare_siblings(at(40.0, 35.0), at(40.0, 70.0)).is_err());
        assert_eq!(
            compare_siblings(at(40.0, 35.0), at(41.0, 36.0)),
            Ok(SiblingVerdict::Alike)
        );
        assert_eq!(
            compare_siblings(at(30.0, 35.0), at(41.0, 36.0)),
            Ok(SiblingVerdict::Lower)
        );
        assert_eq!(
            compare_siblings(at(60.0, 35.0), at(41.0, 36.0)),
            Ok(SiblingVerdict::Higher)
        );
    }

    proptest! {
        #[test]
        fn correcting_there_and_back_changes_nothing(
            value in 0.01_f64..1e4, from in -60.0_f64..200.0, to in -60.0_f64..200.0,
        ) {
            let celsius = ThermodynamicTemperature::new::<degree_celsius>;
            let start = Reading { resistance: ohms(value), temperature: celsius(from) };
            let there = Reading {
                resistance: at_temperature(start, celsius(to)).unwrap(),
                temperature: celsius(to),
            };
            let back = at_temperature(there, celsius(from)).unwrap();
            prop_assert!((back.si() / value - 1.0).abs() < 1e-9);
        }

        #[test]
        fn any_input_gives_a_verdict_or_a_refusal(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY, c in prop::num::f64::ANY,
        ) {
            let reading =
                Reading { resistance: ohms(a), temperature: ThermodynamicTemperature::of_si(b) };
            let there = at_temperature(reading, ThermodynamicTemperature::of_si(c));
            prop_assert!(there.is_err() || there.unwrap().si().is_finite());
        }
    }
}
