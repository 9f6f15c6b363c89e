//! The comparison of measured and expected as a named formula.

use uom::si::f64::{ElectricPotential, Ratio};
use uom::si::ratio::ratio;

use super::{Compared, Diagnosis, Seen, Shares, compare};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::{Kind, plain_number};
use crate::trade::supply::{ACCEPTS_FROM, ACCEPTS_TO, SupplyVerdict, accepted, judge_range};
use crate::trade::typed::{RATIO, TRUE_OR_FALSE, VOLTAGE, given, maybe_truth};

const fn maybe(name: &'static str, kind: Kind, about: &'static str) -> Parameter {
    Parameter::optional(name, ValueType::Quantity(kind), "not compared", about)
}

/// The named formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "compare_with_prediction",
    version: 1,
    about: "Whether speed, amps and air of the new fan agree with what was worked out, or what to \
            look at first.",
    symbols: "n/n₀, I/I₀, V/V₀ against their bands; Q ~ n, P ~ n³",
    source: "fan laws, ANSI/AMCA 210; bands and order of the checks: common practice, no source",
    confidence: Confidence::CommonPractice,
    takes: &[
        maybe(
            "expected_speed",
            Kind::RotationalSpeed,
            "n₀, speed of the setting, rpm",
        ),
        maybe("speed", Kind::RotationalSpeed, "n, measured speed, rpm"),
        maybe(
            "plate_current",
            Kind::Current,
            "I₀, amps on the motor's nameplate",
        ),
        maybe("current", Kind::Current, "I, measured amps of this fan"),
        maybe(
            "expected_velocity",
            Kind::Velocity,
            "V₀, air speed over the coil that was worked out, fpm",
        ),
        maybe("velocity", Kind::Velocity, "V, measured over the coil, fpm"),
        maybe(
            "expected_air_flow",
            Kind::AirFlow,
            "air of one fan that was worked out, cfm; instead of the air speeds",
        ),
        maybe("air_flow", Kind::AirFlow, "measured air of one fan, cfm"),
        Parameter::optional(
            "voltage",
            VOLTAGE,
            "not compared",
            "volts measured with the fan running",
        ),
        Parameter {
            unless_given: Some("not compared"),
            ..ACCEPTS_FROM
        },
        Parameter {
            unless_given: Some("not compared"),
            ..ACCEPTS_TO
        },
        Parameter::optional(
            "wrong_way",
            TRUE_OR_FALSE,
            "the air goes the right way",
            "whether the air goes the wrong way",
        ),
        Parameter::optional(
            "frost",
            TRUE_OR_FALSE,
            "no frost",
            "whether frost or ice is on the coil or the blade",
        ),
    ],
    gives: &[
        Output::of(
            "diagnosis",
            ValueType::Word(Diagnosis::WORDS),
            "agreement, or what to look at first",
        ),
        Output::of("because", ValueType::Text, "why, and what to look at"),
        Output::of("speed_share", RATIO, "n/n₀, where both are known"),
        Output::of("current_share", RATIO, "I/I₀, where both are known"),
        Output::of("air_share", RATIO, "V/V₀, where both are known"),
    ],
    run,
}];

fn run(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let speed = share(
        arguments,
        ("speed", "expected_speed"),
        Kind::RotationalSpeed,
    )?;
    let current = share(arguments, ("current", "plate_current"), Kind::Current)?;
    let by_velocity = share(arguments, ("velocity", "expected_velocity"), Kind::Velocity)?;
    let by_flow = share(arguments, ("air_flow", "expected_air_flow"), Kind::AirFlow)?;
    let air = by_velocity.or(by_flow);
    let seen = Seen {
        volts_outside: volts_outside(arguments)?,
        wrong_way: maybe_truth(arguments, "wrong_way")?.unwrap_or(false),
        frost: maybe_truth(arguments, "frost")?.unwrap_or(false),
    };
    let Compared { diagnosis, because } = compare(
        Shares {
            speed,
            current,
            air,
        },
        seen,
    )?;
    let mut results = Results::default()
        .with("diagnosis", Value::Word(diagnosis.word().to_owned()))
        .with("because", Value::Text(because.to_owned()));
    let mut parts = Vec::new();
    for (name, what, share) in [
        ("speed_share", "speed", speed),
        ("current_share", "amps of the plate", current),
        ("air_share", "air", air),
    ] {
        if let Some(share) = share {
            results = results.with_si(name, Kind::Ratio, share);
            parts.push(format!("{what} {}%", plain_number((share * 100.0).round())));
        }
    }
    Ok(results.say(format!(
        "Measured against expected: {}. {because}",
        parts.join(", ")
    )))
}

/// Measured over expected, where both are given; one without the other is no comparison.
fn share(
    arguments: &Arguments,
    (measured, expected): (&str, &str),
    kind: Kind,
) -> Result<Option<f64>, CannotWorkOut> {
    if !arguments.has(measured) || !arguments.has(expected) {
        return Ok(None);
    }
    let value = |name: &str| arguments.si(name, kind);
    let (measured, under) = (value(measured)?, value(expected)?);
    if under > 0.0 && measured >= 0.0 {
        let share = measured / under;
        if share.is_finite() {
            return Ok(Some(share));
        }
    }
    Err(CannotWorkOut(format!(
        "{expected} must be above zero, and what was measured not below it."
    )))
}

fn volts_outside(arguments: &Arguments) -> Result<bool, CannotWorkOut> {
    let ends = [ACCEPTS_FROM.name, ACCEPTS_TO.name];
    if !arguments.has("voltage") || !ends.iter().all(|end| arguments.has(end)) {
        return Ok(false);
    }
    let measured: ElectricPotential = given(arguments, "voltage")?;
    let exact = Ratio::new::<ratio>(0.0);
    let verdict = judge_range(measured, &accepted(arguments)?, exact)?;
    Ok(match verdict {
        SupplyVerdict::NoVolts | SupplyVerdict::TooLow | SupplyVerdict::TooHigh => true,
        SupplyVerdict::Low
        | SupplyVerdict::Good
        | SupplyVerdict::High
        | SupplyVerdict::TooCloseToCall => false,
    })
}
