//! Insulation tests of a winding: the voltage, the correction, the verdict, and the refusal.

use uom::si::electric_potential::volt;
use uom::si::electrical_resistance::megaohm;
use uom::si::f64::{
    ElectricPotential, ElectricalResistance, TemperatureInterval, ThermodynamicTemperature,
};
use uom::si::thermodynamic_temperature::degree_celsius;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::motor::MotorType;
use super::typed::{
    Measured, RESISTANCE, TEMPERATURE, TRUE_OR_FALSE, VOLTAGE, above_zero, chosen, from_to, given,
    maybe, maybe_chosen, maybe_truth, not_negative, result, row_value,
};
use super::worded::worded;

worded! {
    /// How a motor's coils are made.
    pub enum WindingBuild {
        /// Random-wound, or any winding below 1 kV.
        RandomWound = "random_wound",
        /// Form-wound.
        FormWound = "form_wound",
        /// Any winding made before about 1970.
        Before1970 = "before_1970",
    }
}

worded! {
    /// Whether an insulation test may be made at all.
    pub enum TestPermission {
        /// A qualified person may, on the motor's own leads, de-energised.
        Allowed = "allowed",
        /// Never: electronics are in the path.
        ThroughElectronics = "through_electronics",
        /// Not while a capacitor is connected.
        CapacitorConnected = "capacitor_connected",
        /// Not by this person.
        NotQualified = "not_qualified",
    }
}

worded! {
    /// What a small motor's insulation reading says. Below 1 hp every limit is guidance.
    pub enum InsulationVerdict {
        /// No question.
        Good = "good",
        /// Above the least value: usable, watch it.
        Usable = "usable",
        /// Below the least value: find out why.
        Doubtful = "doubtful",
        /// Likely wet: dry it and measure again.
        Wet = "wet",
    }
}

/// Whether a 500 V test may be made. Common practice, no source; the maker's sheet governs.
///
/// Never through an EC motor's electronics, never across a connected capacitor, never by a
/// person who is not qualified.
pub fn permission(motor: MotorType, capacitor_connected: bool, qualified: bool) -> TestPermission {
    if motor == MotorType::Ec {
        TestPermission::ThroughElectronics
    } else if capacitor_connected {
        TestPermission::CapacitorConnected
    } else if qualified {
        TestPermission::Allowed
    } else {
        TestPermission::NotQualified
    }
}

/// The direct voltage of the test, applied for one minute: 500 V for a winding rated below
/// 1000 V.
///
/// Source: IEEE 43-2000 Table 1.
///
/// # Errors
/// When the rating is not above zero, or is 1000 V or more: not a fan motor's.
pub fn test_voltage(rated: ElectricPotential) -> Result<ElectricPotential, CannotWorkOut> {
    if above_zero("The winding's rated voltage", rated)? < 1000.0 {
        return Ok(ElectricPotential::new::<volt>(500.0));
    }
    Err(CannotWorkOut(format!(
        "A winding rated {} is beyond a fan motor; this covers ratings below 1000 V.",
        rated.shown()
    )))
}

/// The least insulation resistance at 40 °C after one minute.
///
/// Source: IEEE 43-2000 clause 12, from memory, behind the rows `insulation_least_…`:
/// random-wound or below 1 kV 5 MΩ, form-wound 100 MΩ, before 1970 one MΩ more than the kV.
/// The standard starts at 1 hp: for a fan motor 5 MΩ is guidance.
///
/// # Errors
/// When the rating is not above zero.
pub fn least_resistance(
    build: WindingBuild,
    rated: ElectricPotential,
) -> Result<ElectricalResistance, CannotWorkOut> {
    let volts = above_zero("The winding's rated voltage", rated)?;
    match build {
        WindingBuild::RandomWound => row_value("insulation_least_random_wound"),
        WindingBuild::FormWound => row_value("insulation_least_form_wound"),
        WindingBuild::Before1970 => result("The least resistance", 1e6 * (volts / 1000.0 + 1.0)),
    }
}

/// A reading brought to 40 °C: R₄₀ = R·2^((T − 40)/10). It halves per 10 °C of rise.
///
/// Source: IEEE 43-2000, from memory, behind the row `insulation_halving`. From −40 to 120 °C.
///
/// # Errors
/// When the reading is below zero or the temperature out of range.
pub fn at_40_celsius(
    reading: ElectricalResistance,
    temperature: ThermodynamicTemperature,
) -> Result<ElectricalResistance, CannotWorkOut> {
    let ohms = not_negative("The insulation resistance", reading)?;
    let celsius = ThermodynamicTemperature::new::<degree_celsius>;
    from_to(
        "The winding's temperature",
        temperature,
        celsius(-40.0),
        celsius(120.0),
    )?;
    let halving: TemperatureInterval = row_value("insulation_halving")?;
    let steps = (temperature.get::<degree_celsius>() - 40.0) / halving.si();
    result("The insulation resistance", ohms * steps.exp2())
}

/// Judges a small motor's insulation by its reading at 40 °C and the rows `insulation_good`,
/// `insulation_least_random_wound` and `insulation_wet`.
///
/// # Errors
/// As [`at_40_celsius`].
pub fn judge(
    reading: ElectricalResistance,
    temperature: ThermodynamicTemperature,
) -> Result<InsulationVerdict, CannotWorkOut> {
    let corrected = at_40_celsius(reading, temperature)?.si();
    let limit = |name| row_value::<ElectricalResistance>(name).map(Measured::si);
    Ok(if corrected > limit("insulation_good")? {
        InsulationVerdict::Good
    } else if corrected >= limit("insulation_least_random_wound")? {
        InsulationVerdict::Usable
    } else if corrected > limit("insulation_wet")? {
        InsulationVerdict::Doubtful
    } else {
        InsulationVerdict::Wet
    })
}

const GUIDANCE: &str = "The standard starts at 1 hp: for a fan motor these limits are guidance.";
const MOTOR: Parameter = Parameter::needed(
    "motor",
    ValueType::Word(MotorType::WORDS),
    "the motor's type",
);
const RATED: Parameter = Parameter::needed("rated", VOLTAGE, "the winding's rated volts");

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "insulation_test",
        version: 1,
        about: "Whether an insulation test may be made, and with what voltage.",
        symbols: "500 V direct for one minute, below 1000 V rated",
        source: "IEEE 43-2000 Table 1; common practice, no source, for the refusals",
        confidence: Confidence::Seen,
        takes: &[
            MOTOR,
            RATED,
            Parameter::optional("qualified", TRUE_OR_FALSE, "not qualified", "the person is"),
            Parameter::optional(
                "capacitor_connected",
                TRUE_OR_FALSE,
                "connected",
                "whether a capacitor is still on the leads",
            ),
        ],
        gives: &[
            Output::of(
                "permission",
                ValueType::Word(TestPermission::WORDS),
                "may it be made",
            ),
            Output::of(
                "voltage",
                VOLTAGE,
                "the test voltage, where the test is allowed",
            ),
        ],
        run: insulation_test,
    },
    Formula {
        name: "insulation_least",
        version: 2,
        about: "The least insulation resistance of a winding, at 40 °C or as it reads elsewhere.",
        symbols: "R₄₀ by table; R = R₄₀/2^((T−40)/10)",
        source: "IEEE 43-2000 clause 12, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter {
                unless_given: Some("below 1000 V"),
                ..RATED
            },
            Parameter::optional(
                "temperature",
                TEMPERATURE,
                "40 °C",
                "T of the winding when it is read, −40 to 120 °C",
            ),
            Parameter::optional(
                "build",
                ValueType::Word(WindingBuild::WORDS),
                "random_wound",
                "how the coils are made",
            ),
        ],
        gives: &[Output::of("least", RESISTANCE, "at T after one minute")],
        run: |arguments, _| {
            let build = maybe_chosen(arguments, "build")?.unwrap_or(WindingBuild::RandomWound);
            let rated = match (maybe(arguments, "rated")?, build) {
                (Some(rated), _) => rated,
                (None, WindingBuild::Before1970) => given(arguments, "rated")?,
                // Their table does not ask for the volts.
                (None, _) => ElectricPotential::new::<volt>(230.0),
            };
            let least = least_resistance(build, rated)?;
            let least = match maybe(arguments, "temperature")? {
                Some(temperature) => {
                    let ohm = ElectricalResistance::of_si(1.0);
                    let to_40 = at_40_celsius(ohm, temperature)?.si();
                    result("The least resistance", least.si() / to_40)?
                }
                None => least,
            };
            Ok(Results::default().put("least", least).warn(GUIDANCE))
        },
    },
    Formula {
        name: "insulation_verdict",
        version: 1,
        about: "What a small motor's insulation reading says.",
        symbols: "R₄₀ = R·2^((T−40)/10)",
        source: "IEEE 43-2000, from memory; limits by common practice, no source",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("reading", RESISTANCE, "R after one minute at 500 V"),
            Parameter::needed("temperature", TEMPERATURE, "T of the winding"),
            MOTOR,
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(InsulationVerdict::WORDS),
                "the verdict",
            ),
            Output::of("at_40_c", RESISTANCE, "R₄₀"),
        ],
        run: insulation_verdict,
    },
];

fn insulation_test(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let answer = permission(
        chosen(arguments, "motor")?,
        maybe_truth(arguments, "capacitor_connected")?.unwrap_or(true),
        maybe_truth(arguments, "qualified")?.unwrap_or(false),
    );
    let results = Results::default().put_word("permission", answer.word());
    let sentence = match answer {
        TestPermission::Allowed => {
            let voltage = test_voltage(given(arguments, "rated")?)?;
            let sentence = format!(
                "{} direct for one minute, circuit proved dead.",
                voltage.shown()
            );
            return Ok(results.put("voltage", voltage).warn(GUIDANCE).say(sentence));
        }
        TestPermission::ThroughElectronics => {
            "No insulation test here: it would go through the motor's electronics. By its sheet."
        }
        TestPermission::CapacitorConnected => {
            "Not with a capacitor connected: wait, measure it, take it off first."
        }
        TestPermission::NotQualified => "A qualified person makes this test.",
    };
    Ok(results.say(sentence))
}

fn insulation_verdict(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    if chosen::<MotorType>(arguments, "motor")? == MotorType::Ec {
        return Err(CannotWorkOut(
            "An EC motor's electronics are in the path: this reading says nothing. Go by its \
             sheet."
                .into(),
        ));
    }
    let (reading, at) = (
        given(arguments, "reading")?,
        given(arguments, "temperature")?,
    );
    let corrected: ElectricalResistance = at_40_celsius(reading, at)?;
    let verdict = judge(reading, at)?;
    let value = format!(
        "{} MΩ at 40 °C",
        super::quantity::plain_number(corrected.get::<megaohm>())
    );
    let sentence = match verdict {
        InsulationVerdict::Good => format!("{value}: good."),
        InsulationVerdict::Usable => format!("{value}: usable; note it and watch it."),
        InsulationVerdict::Doubtful => format!("{value}: doubtful; find out why."),
        InsulationVerdict::Wet => format!("{value}: likely wet; dry it and measure again."),
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .put("at_40_c", corrected)
        .warn(GUIDANCE)
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn celsius(value: f64) -> ThermodynamicTemperature {
        ThermodynamicTemperature::new::<degree_celsius>(value)
    }

    #[test]
    fn nothing_goes_through_electronics() {
        assert_eq!(
            permission(MotorType::Ec, false, true),
            TestPermission::ThroughElectronics
        );
        assert_eq!(
            permission(MotorType::Psc, true, true),
            TestPermission::CapacitorConnected
        );
        assert_eq!(
            permission(MotorType::Psc, false, false),
            TestPermission::NotQualified
        );
        assert_eq!(
            permission(MotorType::ShadedPole, false, true),
            TestPermission::Allowed
        );
    }

    #[test]
    fn the_reading_halves_with_ten_degrees() {
        let reading = ElectricalResistance::new::<megaohm>(40.0);
        let at = |value| {
            at_40_celsius(reading, celsius(value))
                .unwrap()
                .get::<megaohm>()
        };
        assert!((at(40.0) - 40.0).abs() < 1e-9);
        assert!((at(30.0) - 20.0).abs() < 1e-9);
        assert!((at(50.0) - 80.0).abs() < 1e-9);
    }

    #[test]
    fn the_verdict_follows_the_reading() {
        for (value, expected) in [
            (200.0, InsulationVerdict::Good),
            (50.0, InsulationVerdict::Usable),
            (3.0, InsulationVerdict::Doubtful),
            (1.5, InsulationVerdict::Wet),
        ] {
            let reading = ElectricalResistance::new::<megaohm>(value);
            assert_eq!(judge(reading, celsius(40.0)), Ok(expected), "{value}");
        }
    }

    proptest! {
        #[test]
        fn any_input_gives_a_number_or_a_refusal(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY,
        ) {
            let corrected = at_40_celsius(
                ElectricalResistance::of_si(a), ThermodynamicTemperature::of_si(b),
            );
            prop_assert!(corrected.is_err() || corrected.unwrap().si().is_finite());
        }
    }
}
