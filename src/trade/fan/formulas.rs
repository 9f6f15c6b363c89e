//! What a flow or the `work-out` command may ask about the fan laws.

use uom::si::angular_velocity::radian_per_second;
use uom::si::f64::{AngularVelocity, Length, MassDensity, Power, Pressure, VolumeRate};
use uom::si::length::meter;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::Similarity;
use crate::trade::air;
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::{Kind, Quantity, shown};

const SOURCE: &str = "ASHRAE Handbook, HVAC Systems and Equipment (2016), ch. 21, table 2";

const fn needs(name: &'static str, kind: Kind, about: &'static str) -> Parameter {
    Parameter {
        name,
        takes: ValueType::Quantity(kind),
        unless_given: None,
        about,
    }
}

const fn may(
    name: &'static str,
    kind: Kind,
    unless_given: &'static str,
    about: &'static str,
) -> Parameter {
    Parameter {
        name,
        takes: ValueType::Quantity(kind),
        unless_given: Some(unless_given),
        about,
    }
}

const SPEED: Parameter = needs("speed", Kind::RotationalSpeed, "N₁, the known speed");
const NEW_SPEED: Parameter = may("new_speed", Kind::RotationalSpeed, "the same speed", "N₂");
const DIAMETER: Parameter = may("diameter", Kind::Length, "the same blade", "D₁");
const NEW_DIAMETER: Parameter = may("new_diameter", Kind::Length, "the same blade", "D₂");
const DENSITY: Parameter = may("density", Kind::Density, "the same air", "ρ₁");
const NEW_DENSITY: Parameter = may("new_density", Kind::Density, "the same air", "ρ₂");
const KNOWN_SPEED: Parameter = may("speed", Kind::RotationalSpeed, "the same speed", "N₁");

/// What a flow or the `work-out` command may ask about the fan laws.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "fan_law_ratio",
        version: 1,
        about: "What a change of speed or air does to flow, pressure and power of the same fan.",
        symbols: "Q₂/Q₁ = r; p₂/p₁ = r²; P₂/P₁ = r³",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "flow_ratio",
            ValueType::Number,
            "r, new speed or flow over the old one, above zero, to 100",
        )],
        gives: &[
            Output::of("power_ratio", ValueType::Number, "P₂/P₁"),
            Output::of("pressure_ratio", ValueType::Number, "p₂/p₁"),
        ],
        run: |arguments, _| {
            let ratio = arguments.number("flow_ratio")?;
            if !(ratio > 0.0 && ratio <= 100.0) {
                return Err(CannotWorkOut(
                    "flow_ratio must be above zero and not above 100, such as 1.1.".into(),
                ));
            }
            Ok(Results::default()
                .with("power_ratio", Value::Number(ratio.powi(3)))
                .with("pressure_ratio", Value::Number(ratio * ratio)))
        },
    },
    Formula {
        name: "fan_law_flow",
        version: 1,
        about: "The air flow of a fan at another speed, size or air density.",
        symbols: "Q₂ = Q₁·(N₂/N₁)·(D₂/D₁)³",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            needs("air_flow", Kind::AirFlow, "Q₁, the known flow"),
            KNOWN_SPEED,
            NEW_SPEED,
            DIAMETER,
            NEW_DIAMETER,
        ],
        gives: &[Output {
            name: "air_flow",
            gives: ValueType::Quantity(Kind::AirFlow),
            about: "Q₂; density does not change it",
        }],
        run: run_flow,
    },
    Formula {
        name: "fan_law_pressure",
        version: 1,
        about: "The pressure of a fan at another speed, size or air density.",
        symbols: "p₂ = p₁·(N₂/N₁)²·(D₂/D₁)²·(ρ₂/ρ₁)",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            needs("pressure", Kind::Pressure, "p₁, the known fan pressure"),
            KNOWN_SPEED,
            NEW_SPEED,
            DIAMETER,
            NEW_DIAMETER,
            DENSITY,
            NEW_DENSITY,
        ],
        gives: &[Output {
            name: "pressure",
            gives: ValueType::Quantity(Kind::Pressure),
            about: "p₂",
        }],
        run: run_pressure,
    },
    Formula {
        name: "fan_law_power",
        version: 1,
        about: "The shaft power of a fan at another speed, size or air density.",
        symbols: "P₂ = P₁·(N₂/N₁)³·(D₂/D₁)⁵·(ρ₂/ρ₁)",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            needs("power", Kind::Power, "P₁, the known shaft power"),
            KNOWN_SPEED,
            NEW_SPEED,
            DIAMETER,
            NEW_DIAMETER,
            DENSITY,
            NEW_DENSITY,
        ],
        gives: &[Output {
            name: "power",
            gives: ValueType::Quantity(Kind::Power),
            about: "P₂, shaft power; the power saved at the plug is less",
        }],
        run: run_power,
    },
    Formula {
        name: "speed_for_flow",
        version: 1,
        about: "The speed at which the same fan moves another air flow.",
        symbols: "N₂ = N₁·Q₂/Q₁",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            SPEED,
            needs("air_flow", Kind::AirFlow, "Q₁, the known flow"),
            needs("new_air_flow", Kind::AirFlow, "Q₂, the wanted flow"),
        ],
        gives: &[Output {
            name: "speed",
            gives: ValueType::Quantity(Kind::RotationalSpeed),
            about: "N₂",
        }],
        run: run_speed_for_flow,
    },
    Formula {
        name: "flow_for_power",
        version: 1,
        about: "The air flow of the same fan when its shaft power changes.",
        symbols: "Q₂ = Q₁·∛(P₂/P₁)",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            needs("air_flow", Kind::AirFlow, "Q₁, the known flow"),
            needs("power", Kind::Power, "P₁, the known shaft power"),
            needs("new_power", Kind::Power, "P₂, the shaft power now"),
        ],
        gives: &[Output {
            name: "air_flow",
            gives: ValueType::Quantity(Kind::AirFlow),
            about: "Q₂",
        }],
        run: run_flow_for_power,
    },
    Formula {
        name: "shaft_power_in_cold_air",
        version: 1,
        about: "The shaft power that a catalogue's standard-air power becomes in this box.",
        symbols: "P₂ = P₁·ρ/0.075 lb/ft³",
        source: SOURCE,
        confidence: Confidence::Computed,
        takes: &[
            needs("power", Kind::Power, "P₁, shaft power in standard air"),
            air::formulas::TEMPERATURE,
            Parameter {
                unless_given: Some("dry air"),
                ..air::formulas::HUMIDITY
            },
            air::formulas::ALTITUDE,
        ],
        gives: &[Output {
            name: "power",
            gives: ValueType::Quantity(Kind::Power),
            about: "P₂, shaft power at the same speed and air flow",
        }],
        run: run_cold_air,
    },
];

/// The change that the arguments describe; a pair must be given whole or not at all.
fn similarity_of(arguments: &Arguments) -> Result<Similarity, CannotWorkOut> {
    let pair = |first: &str, second: &str, kind| -> Result<Option<(f64, f64)>, CannotWorkOut> {
        if !arguments.has(first) && !arguments.has(second) {
            return Ok(None);
        }
        Ok(Some((
            arguments.si(first, kind)?,
            arguments.si(second, kind)?,
        )))
    };
    let mut similarity = Similarity::SAME;
    if let Some((first, second)) = pair("speed", "new_speed", Kind::RotationalSpeed)? {
        let speed = AngularVelocity::new::<radian_per_second>;
        similarity = similarity.speed(speed(first), speed(second))?;
    }
    if let Some((first, second)) = pair("diameter", "new_diameter", Kind::Length)? {
        let length = Length::new::<meter>;
        similarity = similarity.diameter(length(first), length(second))?;
    }
    if let Some((first, second)) = pair("density", "new_density", Kind::Density)? {
        let density = MassDensity::new::<kilogram_per_cubic_meter>;
        similarity = similarity.density(density(first), density(second))?;
    }
    Ok(similarity)
}

fn flow(arguments: &Arguments, name: &str) -> Result<VolumeRate, CannotWorkOut> {
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        arguments.si(name, Kind::AirFlow)?,
    ))
}

fn power(arguments: &Arguments, name: &str) -> Result<Power, CannotWorkOut> {
    Ok(Power::new::<watt>(arguments.si(name, Kind::Power)?))
}

fn speed(arguments: &Arguments, name: &str) -> Result<AngularVelocity, CannotWorkOut> {
    Ok(AngularVelocity::new::<radian_per_second>(
        arguments.si(name, Kind::RotationalSpeed)?,
    ))
}

fn run_flow(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let second = similarity_of(arguments)?.flow(flow(arguments, "air_flow")?);
    Ok(Results::default().with_si("air_flow", Kind::AirFlow, second.value))
}

fn run_pressure(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let first = Pressure::new::<pascal>(arguments.si("pressure", Kind::Pressure)?);
    let second = similarity_of(arguments)?.pressure(first);
    Ok(Results::default().with_si("pressure", Kind::Pressure, second.value))
}

fn run_power(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let second = similarity_of(arguments)?.power(power(arguments, "power")?);
    Ok(Results::default()
        .with_si("power", Kind::Power, second.value)
        .warn("This is shaft power; a drive's own losses make the saving at the plug smaller."))
}

fn run_speed_for_flow(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let second = super::speed_for_flow(
        speed(arguments, "speed")?,
        flow(arguments, "air_flow")?,
        flow(arguments, "new_air_flow")?,
    )?;
    Ok(Results::default().with_si("speed", Kind::RotationalSpeed, second.value))
}

fn run_flow_for_power(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let second = super::flow_for_power(
        flow(arguments, "air_flow")?,
        power(arguments, "power")?,
        power(arguments, "new_power")?,
    )?;
    Ok(Results::default().with_si("air_flow", Kind::AirFlow, second.value))
}

fn run_cold_air(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let mut given = arguments.clone();
    given
        .0
        .entry(air::formulas::HUMIDITY.name.into())
        .or_insert_with(|| {
            Value::Quantity(Quantity {
                kind: Kind::Ratio,
                si: 0.0,
            })
        });
    let density = air::formulas::air_of(&given)?.density();
    let first = power(arguments, "power")?;
    let second = Similarity::SAME
        .density(air::standard_density(), density)?
        .power(first);
    let results = Results::default()
        .with_si("power", Kind::Power, second.value)
        .say(format!(
            "A blade that needs {} in standard air needs {} here.",
            shown("watt", first.value),
            shown("watt", second.value)
        ));
    Ok(air::formulas::note_altitude(arguments, results))
}
