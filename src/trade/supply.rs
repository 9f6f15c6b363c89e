//! Is the supply right for this motor?

use uom::si::electric_potential::volt;
use uom::si::f64::{ElectricPotential, Ratio};
use uom::si::ratio::ratio;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::quantity::plain_number;
use super::rating::{
    Band, HIGH, LOW, MEASURED, MOTOR_TOLERANCE, RATED, RATED_TO, RatedVoltage, rating, rating_words,
};
use super::typed::{
    Measured, RATIO, VOLTAGE, above_zero, from_to, given, maybe, not_negative, result, row_value,
};
use super::worded::worded;

worded! {
    /// What a voltage at the motor means for it.
    pub enum SupplyVerdict {
        /// Practically nothing there. Never a proof that the circuit is dead.
        NoVolts = "no_volts",
        /// Below the motor's band.
        TooLow = "too_low",
        /// In the band, well below the rating.
        Low = "low",
        /// Near the rating.
        Good = "good",
        /// In the band, well above the rating.
        High = "high",
        /// Above the motor's band.
        TooHigh = "too_high",
        /// A limit lies within the meter's own error.
        TooCloseToCall = "too_close_to_call",
    }
}

/// Judges a voltage measured at the motor leads. `accuracy` is the meter's error as a share of
/// the reading; zero takes the reading as exact.
///
/// In the band but off the rating by more than the row `voltage_worth_noting` is called low or
/// high; below the row `no_voltage_share` of the rating there are no volts.
///
/// # Errors
/// When the reading is below zero or the accuracy is not between 0 and 20 %.
pub fn judge_supply(
    measured: ElectricPotential,
    rated: &RatedVoltage,
    accuracy: Ratio,
) -> Result<SupplyVerdict, CannotWorkOut> {
    let volts = not_negative("The measured voltage", measured)?;
    let share = Ratio::new::<ratio>;
    let error = volts * from_to("The meter's accuracy", accuracy, share(0.0), share(0.2))?;
    let noting: f64 = row_value::<Ratio>("voltage_worth_noting")?.si();
    let nothing: f64 = row_value::<Ratio>("no_voltage_share")?.si();
    let (ends, band) = (rated.ends(), rated.band());
    let inside = |volts: f64| band.holds(ElectricPotential::new::<volt>(volts));
    Ok(if volts < nothing * ends.low.si() {
        SupplyVerdict::NoVolts
    } else if inside(volts - error) && inside(volts + error) {
        if volts < ends.low.si() * (1.0 - noting) {
            SupplyVerdict::Low
        } else if volts > ends.high.si() * (1.0 + noting) {
            SupplyVerdict::High
        } else {
            SupplyVerdict::Good
        }
    } else if inside(volts - error) || inside(volts + error) {
        SupplyVerdict::TooCloseToCall
    } else if volts < band.low.si() {
        SupplyVerdict::TooLow
    } else {
        SupplyVerdict::TooHigh
    })
}

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    OF_RATING,
    Formula {
        name: "accepted_voltage",
        version: 1,
        about: "What a voltage means for a motor whose sheet gives the range that it accepts.",
        symbols: "V_min ≤ V ≤ V_max; nothing is added to a range that a sheet gives",
        source: "the sheet of the motor; NEC 110.3(B)",
        confidence: Confidence::Computed,
        takes: &[
            MEASURED,
            ACCEPTS_FROM,
            ACCEPTS_TO,
            Parameter::optional(
                "accuracy",
                RATIO,
                "the reading is taken as exact",
                "the meter's error as a share of the reading, 0 to 20 %",
            ),
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(SupplyVerdict::WORDS),
                "the verdict",
            ),
            LOW,
            HIGH,
        ],
        run: accepted_voltage,
    },
];

/// The least volts of a range that a sheet gives.
pub(super) const ACCEPTS_FROM: Parameter = Parameter::needed(
    "accepts_from",
    VOLTAGE,
    "V_min, the lowest volts that the sheet accepts",
);
/// The most volts of it.
pub(super) const ACCEPTS_TO: Parameter = Parameter::needed(
    "accepts_to",
    VOLTAGE,
    "V_max, the highest volts that the sheet accepts",
);

const OF_RATING: Formula = Formula {
    name: "supply_verdict",
    version: 1,
    about: "What a voltage at the motor leads means for this motor.",
    symbols: "0.9 Vr ≤ V ≤ 1.1 Vr",
    source: MOTOR_TOLERANCE,
    confidence: Confidence::Computed,
    takes: &[
        MEASURED,
        RATED,
        RATED_TO,
        Parameter::optional(
            "accuracy",
            RATIO,
            "the reading is taken as exact",
            "the meter's error as a share of the reading, 0 to 20 %",
        ),
    ],
    gives: &[
        Output::of(
            "verdict",
            ValueType::Word(SupplyVerdict::WORDS),
            "the verdict",
        ),
        LOW,
        HIGH,
        Output::of(
            "of_rated",
            RATIO,
            "the reading as a share of the nearest rated volts",
        ),
    ],
    run: supply_verdict,
};

fn accepted_voltage(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let measured: ElectricPotential = given(arguments, "measured")?;
    let range = accepted(arguments)?;
    let exact = Ratio::new::<ratio>(0.0);
    let accuracy = maybe(arguments, "accuracy")?.unwrap_or(exact);
    let verdict = judge_range(measured, &range, accuracy)?;
    let (reading, low, high) = (measured.shown(), range.low, range.high);
    let said = match verdict {
        SupplyVerdict::NoVolts => "no supply at the motor; look upstream",
        SupplyVerdict::TooLow => "below what this motor accepts; this is a supply problem",
        SupplyVerdict::TooHigh => "above what this motor accepts; this is a supply problem",
        SupplyVerdict::TooCloseToCall => "too close to the limit to call; use a better meter",
        SupplyVerdict::Low | SupplyVerdict::Good | SupplyVerdict::High => "good for this motor",
    };
    let results = Results::default()
        .put_word("verdict", verdict.word())
        .put("low", low)
        .put("high", high)
        .say(format!(
            "{reading}: {said} ({}–{}).",
            plain_number(low.si()),
            high.shown()
        ));
    if verdict == SupplyVerdict::NoVolts {
        return Ok(results.warn("No reading here never proves that the circuit is dead."));
    }
    Ok(results)
}

/// The range of `accepts_from` and `accepts_to`.
pub(super) fn accepted(arguments: &Arguments) -> Result<Band<ElectricPotential>, CannotWorkOut> {
    let [low, high] = [ACCEPTS_FROM, ACCEPTS_TO]
        .map(|parameter| given::<ElectricPotential>(arguments, parameter.name));
    let (low, high) = (low?, high?);
    above_zero("accepts_from", low)?;
    if low.si() > high.si() {
        return Err(CannotWorkOut(format!(
            "accepts_from, {}, must not be above accepts_to, {}.",
            low.shown(),
            high.shown()
        )));
    }
    Ok(Band { low, high })
}

/// Judges a voltage against a range that a sheet gives; no tolerance is added to it.
///
/// # Errors
/// As [`judge_supply`].
pub fn judge_range(
    measured: ElectricPotential,
    range: &Band<ElectricPotential>,
    accuracy: Ratio,
) -> Result<SupplyVerdict, CannotWorkOut> {
    let volts = not_negative("The measured voltage", measured)?;
    let share = Ratio::new::<ratio>;
    let error = volts * from_to("The meter's accuracy", accuracy, share(0.0), share(0.2))?;
    let nothing: f64 = row_value::<Ratio>("no_voltage_share")?.si();
    let inside = |volts: f64| range.holds(ElectricPotential::new::<volt>(volts));
    Ok(if volts < nothing * range.low.si() {
        SupplyVerdict::NoVolts
    } else if inside(volts - error) && inside(volts + error) {
        SupplyVerdict::Good
    } else if inside(volts - error) || inside(volts + error) {
        SupplyVerdict::TooCloseToCall
    } else if volts < range.low.si() {
        SupplyVerdict::TooLow
    } else {
        SupplyVerdict::TooHigh
    })
}

fn supply_verdict(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let measured: ElectricPotential = given(arguments, "measured")?;
    let rated = rating(arguments)?;
    let exact = Ratio::new::<ratio>(0.0);
    let verdict = judge_supply(
        measured,
        &rated,
        maybe(arguments, "accuracy")?.unwrap_or(exact),
    )?;
    let band = rated.band();
    let nearest = measured
        .si()
        .clamp(rated.ends().low.si(), rated.ends().high.si());
    let results = Results::default()
        .put_word("verdict", verdict.word())
        .put("low", band.low)
        .put(
            "high",
            result::<ElectricPotential>("The band", band.high.si())?,
        )
        .put(
            "of_rated",
            result::<Ratio>("The share", measured.si() / nearest)?,
        )
        .say(verdict_sentence(verdict, measured, &rated));
    if verdict == SupplyVerdict::NoVolts {
        return Ok(results.warn("No reading here never proves that the circuit is dead."));
    }
    if arguments.has("accuracy") || !near_a_limit(measured, &band)? {
        return Ok(results);
    }
    Ok(results.warn(
        "This is so near the limit that the meter's own error could decide it: read it again, \
         better with a second meter.",
    ))
}

fn near_a_limit(
    measured: ElectricPotential,
    band: &Band<ElectricPotential>,
) -> Result<bool, CannotWorkOut> {
    let error = measured.si() * row_value::<Ratio>("meter_accuracy_of_reading")?.si();
    let from = |limit: ElectricPotential| (measured.si() - limit.si()).abs();
    Ok(from(band.low).min(from(band.high)) <= error)
}

fn verdict_sentence(
    verdict: SupplyVerdict,
    measured: ElectricPotential,
    rated: &RatedVoltage,
) -> String {
    let (reading, rating) = (measured.shown(), rating_words(rated));
    let low = plain_number(rated.band().low.si());
    let range = format!("{low}–{}", rated.band().high.shown());
    match verdict {
        SupplyVerdict::NoVolts => {
            format!("{reading}: no supply at the motor. Look upstream.")
        }
        SupplyVerdict::TooLow => {
            format!("{reading}: too low for a {rating} motor ({range}). This is a supply problem.")
        }
        SupplyVerdict::Low => {
            format!("{reading}: low, but inside the band of a {rating} motor ({range}).")
        }
        SupplyVerdict::Good => format!("{reading}: good for a {rating} motor ({range})."),
        SupplyVerdict::High => {
            format!("{reading}: high, but inside the band of a {rating} motor ({range}).")
        }
        SupplyVerdict::TooHigh => {
            format!("{reading}: too high for a {rating} motor ({range}). This is a supply problem.")
        }
        SupplyVerdict::TooCloseToCall => format!(
            "{reading}: too close to call for a {rating} motor ({range}). Use a better meter."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    fn verdict(measured: f64, rated: &str, accuracy: f64) -> SupplyVerdict {
        let rated = RatedVoltage::parse(rated).unwrap();
        judge_supply(volts(measured), &rated, Ratio::new::<ratio>(accuracy)).unwrap()
    }

    #[test]
    fn the_same_206_volts_are_too_low_for_one_motor_and_good_for_another() {
        assert_eq!(verdict(206.0, "230", 0.0), SupplyVerdict::TooLow);
        assert_eq!(verdict(206.0, "208-230", 0.0), SupplyVerdict::Good);
    }

    #[test]
    fn nothing_is_added_to_a_range_that_a_sheet_gives() {
        let range = Band {
            low: volts(187.0),
            high: volts(253.0),
        };
        let of = |measured: f64| {
            let exact = Ratio::new::<ratio>(0.0);
            judge_range(volts(measured), &range, exact).unwrap()
        };
        for (measured, expected) in [
            (0.0, SupplyVerdict::NoVolts),
            (186.0, SupplyVerdict::TooLow),
            (187.0, SupplyVerdict::Good),
            (253.0, SupplyVerdict::Good),
            (254.0, SupplyVerdict::TooHigh),
        ] {
            assert_eq!(of(measured), expected, "{measured}");
        }
    }

    #[test]
    fn every_verdict_has_its_range() {
        for (measured, expected) in [
            (0.0, SupplyVerdict::NoVolts),
            (9.0, SupplyVerdict::NoVolts),
            (103.0, SupplyVerdict::TooLow),
            (104.0, SupplyVerdict::Low),
            (115.0, SupplyVerdict::Good),
            (121.0, SupplyVerdict::High),
            (127.0, SupplyVerdict::TooHigh),
        ] {
            assert_eq!(verdict(measured, "115", 0.0), expected, "{measured}");
        }
        assert_eq!(verdict(103.0, "115", 0.01), SupplyVerdict::TooCloseToCall);
        assert_eq!(verdict(104.0, "115", 0.01), SupplyVerdict::TooCloseToCall);
    }
}
