//! What a motor's nameplate rates it for, and what it tolerates around that.

use uom::si::electric_potential::volt;
use uom::si::f64::{ElectricPotential, Frequency, Ratio};
use uom::si::frequency::hertz;

use super::formula::{Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results};
use super::typed::{
    FREQUENCY, Measured, RATIO, TRUE_OR_FALSE, VOLTAGE, above_zero, given, maybe, not_negative,
    result,
};

/// A motor may be off its rated volts by this share at rated frequency (NEMA MG 1-12.44.1).
const VOLTAGE_TOLERANCE: f64 = 0.10;
/// A motor may be off its rated frequency by this share at rated volts (NEMA MG 1-12.44.1).
const FREQUENCY_TOLERANCE: f64 = 0.05;
/// A limit counts as met when only the last digits of a double differ.
const LAST_DIGITS: f64 = 1e-9;
/// Two ratings with a slash whose tolerances overlap are one range; beyond, two connections.
const ONE_RANGE: f64 = 1.22;

/// The lowest and highest value of a band; both ends belong to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band<T> {
    /// The lowest.
    pub low: T,
    /// The highest.
    pub high: T,
}

impl Band<ElectricPotential> {
    /// Whether `measured` lies in the band.
    pub fn holds(&self, measured: ElectricPotential) -> bool {
        measured.si() >= self.low.si() * (1.0 - LAST_DIGITS)
            && measured.si() <= self.high.si() * (1.0 + LAST_DIGITS)
    }
}

/// What the nameplate says: one voltage, or a range such as 208-230 V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatedVoltage(Band<ElectricPotential>);

impl RatedVoltage {
    /// One rated voltage, above zero.
    ///
    /// # Errors
    /// When it is not above zero.
    pub fn single(rated: ElectricPotential) -> Result<Self, CannotWorkOut> {
        Self::range(rated, rated)
    }

    /// A range that the motor is rated for without a change of connection.
    ///
    /// # Errors
    /// When an end is not above zero or the low end is above the high one.
    pub fn range(low: ElectricPotential, high: ElectricPotential) -> Result<Self, CannotWorkOut> {
        above_zero("The rated voltage", low)?;
        above_zero("The rated voltage", high)?;
        if low.si() > high.si() {
            return Err(CannotWorkOut(format!(
                "The rating runs from {} down to {}; give the lower voltage first.",
                low.shown(),
                high.shown()
            )));
        }
        Ok(Self(Band { low, high }))
    }

    /// The rating as a nameplate prints it: `115 V`, `208-230`, `208/230 V`.
    ///
    /// # Errors
    /// When there is no voltage in it, or two voltages that need two different connections.
    pub fn parse(text: &str) -> Result<Self, CannotWorkOut> {
        let kept: String = text
            .chars()
            .filter(|sign| sign.is_ascii_digit() || matches!(sign, '.' | '-' | '–' | '/'))
            .collect();
        let ends: Vec<f64> = kept
            .split(['-', '–', '/'])
            .filter_map(|part| part.parse().ok())
            .collect();
        match ends[..] {
            [one] => Self::single(ElectricPotential::new::<volt>(one)),
            [low, high] if kept.contains('/') && high > ONE_RANGE * low => Err(CannotWorkOut(
                format!("{text} names two connections; give the one voltage it is connected for."),
            )),
            [low, high] => Self::range(
                ElectricPotential::new::<volt>(low),
                ElectricPotential::new::<volt>(high),
            ),
            _ => Err(CannotWorkOut(format!(
                "{text} is not a rated voltage; write it as 115 V or 208-230 V."
            ))),
        }
    }

    /// The lowest and highest rated volts.
    pub fn ends(&self) -> Band<ElectricPotential> {
        self.0
    }

    /// The volts in which the motor runs as rated: 10 % below the lower rating to 10 % above
    /// the higher one, at rated frequency (NEMA MG 1-12.44.1).
    pub fn band(&self) -> Band<ElectricPotential> {
        Band {
            low: self.0.low * (1.0 - VOLTAGE_TOLERANCE),
            high: self.0.high * (1.0 + VOLTAGE_TOLERANCE),
        }
    }
}

/// The frequencies in which a motor runs as rated: ±5 % at rated volts (NEMA MG 1-12.44.1).
///
/// # Errors
/// When `rated` is not above zero.
pub fn frequency_band(rated: Frequency) -> Result<Band<Frequency>, CannotWorkOut> {
    let hz = above_zero("The rated frequency", rated)?;
    Ok(Band {
        low: Frequency::new::<hertz>(hz * (1.0 - FREQUENCY_TOLERANCE)),
        high: result("The band", hz * (1.0 + FREQUENCY_TOLERANCE))?,
    })
}

/// The sum of the deviations of volts and frequency, |V−Vr|/Vr + |f−fr|/fr. At most 10 % is
/// within tolerance, provided the frequency alone is within 5 % (NEMA MG 1-12.44.1).
///
/// # Errors
/// When a rating is not above zero or a measured value is below zero.
pub fn combined_deviation(
    measured: ElectricPotential,
    rated: ElectricPotential,
    frequency: Frequency,
    rated_frequency: Frequency,
) -> Result<(Ratio, bool), CannotWorkOut> {
    let off_volts = off_by(
        not_negative("The measured voltage", measured)?,
        above_zero("The rated voltage", rated)?,
    );
    let off_hertz = off_by(
        not_negative("The measured frequency", frequency)?,
        above_zero("The rated frequency", rated_frequency)?,
    );
    let within = off_hertz <= FREQUENCY_TOLERANCE + LAST_DIGITS
        && off_volts + off_hertz <= VOLTAGE_TOLERANCE + LAST_DIGITS;
    Ok((result("The deviation", off_volts + off_hertz)?, within))
}

fn off_by(measured: f64, rated: f64) -> f64 {
    (measured - rated).abs() / rated
}

/// The share of its rated starting and breakdown torque that an induction motor keeps:
/// T/Tr = (V/Vr)² (NEMA MG 1-12.44.2). 90 % volts leave 81 % torque.
///
/// # Errors
/// When the rating is not above zero or the measured voltage is below zero.
pub fn torque_share(
    measured: ElectricPotential,
    rated: ElectricPotential,
) -> Result<Ratio, CannotWorkOut> {
    let share =
        not_negative("The measured voltage", measured)? / above_zero("The rated voltage", rated)?;
    result("The torque", share * share)
}

/// The nameplate's volts.
pub(super) const RATED: Parameter =
    Parameter::needed("rated", VOLTAGE, "Vr, the nameplate's volts");
/// The upper end of a rated range.
pub(super) const RATED_TO: Parameter = Parameter::optional(
    "rated_to",
    VOLTAGE,
    "one rated voltage only",
    "the upper end of a rating such as 208-230 V",
);
/// The volts at the motor leads.
pub(super) const MEASURED: Parameter = Parameter::needed(
    "measured",
    VOLTAGE,
    "V, read at the motor leads, zero or above",
);
/// The low end of a band.
pub(super) const LOW: Output = Output::of("low", VOLTAGE, "the lowest volts of the band");
/// The high end of a band.
pub(super) const HIGH: Output = Output::of("high", VOLTAGE, "the highest volts of the band");
/// The source of a motor's tolerance.
pub(super) const MOTOR_TOLERANCE: &str = "NEMA MG 1-12.44.1";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "motor_voltage_band",
        version: 1,
        about: "The volts in which a motor runs as rated.",
        symbols: "0.9 Vr … 1.1 Vr",
        source: MOTOR_TOLERANCE,
        confidence: Confidence::Computed,
        takes: &[RATED, RATED_TO],
        gives: &[LOW, HIGH],
        run: |arguments, _| {
            let band = rating(arguments)?.band();
            Ok(Results::default().put("low", band.low).put(
                "high",
                result::<ElectricPotential>("The band", band.high.si())?,
            ))
        },
    },
    Formula {
        name: "motor_frequency_band",
        version: 1,
        about: "The frequencies in which a motor runs as rated.",
        symbols: "0.95 fr … 1.05 fr",
        source: MOTOR_TOLERANCE,
        confidence: Confidence::Computed,
        takes: &[Parameter::needed(
            "rated",
            FREQUENCY,
            "fr, the nameplate's frequency",
        )],
        gives: &[
            Output::of("low", FREQUENCY, "the lowest frequency"),
            Output::of("high", FREQUENCY, "the highest frequency"),
        ],
        run: |arguments, _| {
            let band = frequency_band(given(arguments, "rated")?)?;
            Ok(Results::default()
                .put("low", band.low)
                .put("high", band.high))
        },
    },
    Formula {
        name: "voltage_and_frequency",
        version: 1,
        about: "Whether volts and frequency together are within a motor's tolerance.",
        symbols: "|V−Vr|/Vr + |f−fr|/fr ≤ 10 %",
        source: MOTOR_TOLERANCE,
        confidence: Confidence::Seen,
        takes: &[
            MEASURED,
            RATED,
            Parameter::needed("frequency", FREQUENCY, "f, measured"),
            Parameter::needed(
                "rated_frequency",
                FREQUENCY,
                "fr, the nameplate's frequency",
            ),
        ],
        gives: &[
            Output::of("deviation", RATIO, "the sum of both deviations"),
            Output::of("within", TRUE_OR_FALSE, "whether the motor tolerates it"),
        ],
        run: |arguments, _| {
            let (deviation, within) = combined_deviation(
                given(arguments, "measured")?,
                given(arguments, "rated")?,
                given(arguments, "frequency")?,
                given(arguments, "rated_frequency")?,
            )?;
            Ok(Results::default()
                .put("deviation", deviation)
                .put_truth("within", within))
        },
    },
    Formula {
        name: "torque_at_voltage",
        version: 1,
        about: "The share of its torque that an induction motor keeps at other volts.",
        symbols: "T/Tr = (V/Vr)²",
        source: "NEMA MG 1-12.44.2",
        confidence: Confidence::Seen,
        takes: &[MEASURED, RATED],
        gives: &[Output::of(
            "torque_share",
            RATIO,
            "torque as a share of the rated torque",
        )],
        run: |arguments, _| {
            let share = torque_share(given(arguments, "measured")?, given(arguments, "rated")?)?;
            Ok(Results::default().put("torque_share", share))
        },
    },
];

/// The rating given as `rated` and perhaps `rated_to`.
pub(super) fn rating(arguments: &Arguments) -> Result<RatedVoltage, CannotWorkOut> {
    let low = given(arguments, "rated")?;
    RatedVoltage::range(low, maybe(arguments, "rated_to")?.unwrap_or(low))
}

/// The rating as a nameplate prints it.
pub(super) fn rating_words(rated: &RatedVoltage) -> String {
    let Band { low, high } = rated.ends();
    if low == high {
        low.shown()
    } else {
        format!("{}-{}", low.get::<volt>(), high.shown())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    #[test]
    fn two_connections_are_not_one_range() {
        assert!(RatedVoltage::parse("115/230 V").is_err());
        assert!(RatedVoltage::parse("208/230").is_ok());
        assert!(RatedVoltage::parse("two hundred").is_err());
        assert!(RatedVoltage::parse("230-208").is_err());
    }

    #[test]
    fn ninety_percent_volts_leave_81_percent_torque() {
        let share = torque_share(volts(207.0), volts(230.0)).unwrap();
        assert!((share.si() - 0.81).abs() < 1e-12);
    }

    #[test]
    fn volts_and_frequency_share_one_tolerance() {
        let hz = Frequency::new::<hertz>;
        let within = |v, f| {
            combined_deviation(volts(v), volts(230.0), hz(f), hz(60.0))
                .unwrap()
                .1
        };
        assert!(within(230.0, 63.0));
        assert!(!within(230.0, 63.6));
        assert!(within(218.5, 57.0));
        assert!(!within(216.0, 57.0));
    }
}
