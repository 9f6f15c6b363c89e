//! The inputs of the choice, and the place that they describe.

use uom::si::angular_velocity::radian_per_second;
use uom::si::electric_potential::volt;
use uom::si::f64::{
    AngularVelocity, ElectricPotential, Length, LinearNumberDensity, Power, Pressure, Ratio,
    TemperatureInterval, ThermodynamicTemperature, VolumeRate,
};
use uom::si::length::meter;
use uom::si::linear_number_density::per_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_apart;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::volume_rate::cubic_meter_per_second;

use super::super::{Known, OldFan, Place};
use crate::trade::air::MoistAir;
use crate::trade::coil::Coil;
use crate::trade::formula::{Arguments, CannotWorkOut, Parameter, ValueType};
use crate::trade::kit::{AirDirection, End, Rotation, ShaftPosition, Spin};
use crate::trade::motor::MotorType;
use crate::trade::protection::IpCode;
use crate::trade::quantity::Kind;
use crate::trade::speed_book::{Need, RowSource};

/// Relative humidity of a working box; it moves the density by less than 1 %.
const BOX_HUMIDITY: f64 = 0.85;

const fn quantity(kind: Kind) -> ValueType {
    ValueType::Quantity(kind)
}

/// The inputs of `choose_replacement`.
pub(super) const TAKES: &[Parameter] = &[
    Parameter::optional(
        "model",
        ValueType::Text,
        "not looked up in the speed book",
        "the evaporator's model, as on its nameplate",
    ),
    Parameter::needed(
        "safety_group",
        ValueType::Word(&["A1", "A2L", "A2", "A3", "B1", "B2L", "B2", "B3", "unknown"]),
        "safety group of the refrigerant",
    ),
    Parameter::needed(
        "supply",
        quantity(Kind::Voltage),
        "volts measured at the fan's leads",
    ),
    Parameter::needed(
        "box_temperature",
        quantity(Kind::Temperature),
        "air in the box, °F",
    ),
    Parameter::optional(
        "altitude",
        quantity(Kind::Length),
        "sea level",
        "height of the site, ft",
    ),
    Parameter::optional(
        "fans",
        ValueType::Number,
        "1",
        "fans that share the coil, 1 to 12",
    ),
    Parameter::needed(
        "old_motor",
        ValueType::Word(MotorType::WORDS),
        "kind of the old motor",
    ),
    Parameter::optional(
        "old_shaft_power",
        quantity(Kind::Power),
        "not compared",
        "rated shaft power of the old motor, hp or W",
    ),
    Parameter::optional(
        "old_speed",
        quantity(Kind::RotationalSpeed),
        "not used",
        "rated speed of the old motor, rpm",
    ),
    Parameter::needed(
        "blade_diameter",
        quantity(Kind::Length),
        "diameter of the old blade, in",
    ),
    Parameter::needed(
        "turns",
        ValueType::Word(&["clockwise", "counterclockwise"]),
        "which way the old blade turns",
    ),
    Parameter::needed(
        "seen_from",
        ValueType::Word(&["lead_end", "shaft_end"]),
        "the end of the motor that it was looked at from",
    ),
    Parameter::needed(
        "air",
        ValueType::Word(&["away_from_motor", "towards_motor"]),
        "where the air leaves",
    ),
    Parameter::needed(
        "protection",
        ValueType::Text,
        "protection class of the old motor: IP44",
    ),
    Parameter::needed(
        "mounting",
        ValueType::Text,
        "mounting pattern, as the crew calls it",
    ),
    Parameter::optional(
        "plug",
        ValueType::Text,
        "bare leads",
        "plug of the old motor, as the crew calls it",
    ),
    Parameter::needed(
        "shaft_position",
        ValueType::Word(&["horizontal", "up", "down", "tilted"]),
        "how the shaft lies; up is blade above the motor",
    ),
    Parameter::optional(
        "depth_available",
        quantity(Kind::Length),
        "a remark to measure it",
        "space behind the mounting plane, in",
    ),
    Parameter::optional(
        "fin_pitch",
        quantity(Kind::FinPitch),
        "coil not judged",
        "fins, fpi",
    ),
    Parameter::optional(
        "coil_depth",
        quantity(Kind::Length),
        "coil not judged",
        "depth, in",
    ),
    Parameter::optional(
        "tube_rows",
        ValueType::Number,
        "coil not judged",
        "tube rows deep",
    ),
    Parameter::optional(
        "fin_height",
        quantity(Kind::Length),
        "coil not judged",
        "height, in",
    ),
    Parameter::optional(
        "finned_length",
        quantity(Kind::Length),
        "coil not judged",
        "finned length, in",
    ),
    Parameter::optional(
        "static_pressure",
        quantity(Kind::Pressure),
        "by the speed book, else estimated",
        "static pressure at the needed air, in wg",
    ),
    Parameter::optional(
        "needed_speed",
        quantity(Kind::RotationalSpeed),
        "by the speed book, else worked out",
        "speed that the fan needs, rpm",
    ),
    Parameter::optional(
        "needed_air_flow",
        quantity(Kind::AirFlow),
        "by the speed book, else worked out",
        "air that one fan needs, cfm",
    ),
    Parameter::optional(
        "needed_from",
        ValueType::Word(&["equipment_label", "literature", "measured", "finished_job"]),
        "equipment_label",
        "where the needed speed or air was read",
    ),
    Parameter::optional(
        "coil_capacity",
        quantity(Kind::Power),
        "not used",
        "rated capacity of the coil, Btu/h; with air_drop",
    ),
    Parameter::optional(
        "air_drop",
        quantity(Kind::TemperatureDifference),
        "not used",
        "drop of the air over the coil, F°; with coil_capacity",
    ),
];

/// An optional quantity, which must be above zero.
fn maybe<T>(
    arguments: &Arguments,
    name: &str,
    kind: Kind,
    make: fn(f64) -> T,
) -> Result<Option<T>, CannotWorkOut> {
    if arguments.has(name) {
        needed(arguments, name, kind, make).map(Some)
    } else {
        Ok(None)
    }
}

fn needed<T>(
    arguments: &Arguments,
    name: &str,
    kind: Kind,
    make: fn(f64) -> T,
) -> Result<T, CannotWorkOut> {
    let si = arguments.si(name, kind)?;
    if si > 0.0 {
        Ok(make(si))
    } else {
        Err(CannotWorkOut(format!("{name} must be above zero.")))
    }
}

fn text(arguments: &Arguments, name: &str) -> Result<Option<String>, CannotWorkOut> {
    arguments
        .has(name)
        .then(|| arguments.word(name).map(str::to_owned))
        .transpose()
}

fn word<T: Copy>(
    arguments: &Arguments,
    name: &str,
    words: &[(&'static str, T)],
) -> Result<T, CannotWorkOut> {
    let given = arguments.word(name)?;
    words
        .iter()
        .find(|(word, _)| *word == given)
        .map(|(_, value)| *value)
        .ok_or_else(|| {
            let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            CannotWorkOut(format!("{name} must be one of {}.", list.join(", ")))
        })
}

/// A whole number from 1 to `most`.
fn count(arguments: &Arguments, name: &str, most: u32) -> Result<u32, CannotWorkOut> {
    let number = arguments.number(name)?;
    if number.fract() == 0.0 && number >= 1.0 && number <= f64::from(most) {
        Ok(number as u32)
    } else {
        Err(CannotWorkOut(format!(
            "{name} must be a whole number from 1 to {most}."
        )))
    }
}

/// The place that the arguments describe.
pub(super) fn place(arguments: &Arguments) -> Result<Place, CannotWorkOut> {
    let temperature = ThermodynamicTemperature::new::<kelvin>(
        arguments.si("box_temperature", Kind::Temperature)?,
    );
    let altitude = Length::new::<meter>(arguments.si_or("altitude", Kind::Length, 0.0)?);
    let humidity = Ratio::new::<ratio>(BOX_HUMIDITY);
    Ok(Place {
        model: text(arguments, "model")?,
        safety_group: arguments.word("safety_group")?.to_owned(),
        supply: needed(
            arguments,
            "supply",
            Kind::Voltage,
            ElectricPotential::new::<volt>,
        )?,
        air: MoistAir::at_altitude(temperature, humidity, altitude)?,
        old: old_fan(arguments)?,
        fans: if arguments.has("fans") {
            count(arguments, "fans", 12)?
        } else {
            1
        },
        coil: coil(arguments)?,
        depth_available: maybe(
            arguments,
            "depth_available",
            Kind::Length,
            Length::new::<meter>,
        )?,
        static_pressure: maybe(
            arguments,
            "static_pressure",
            Kind::Pressure,
            Pressure::new::<pascal>,
        )?,
        duty: duty(arguments)?,
        known: known(arguments)?,
    })
}

fn old_fan(arguments: &Arguments) -> Result<OldFan, CannotWorkOut> {
    let motor = arguments.word_of("old_motor", MotorType::WORDS)?;
    Ok(OldFan {
        motor: MotorType::named(motor)
            .ok_or_else(|| CannotWorkOut("old_motor must be a kind of motor.".into()))?,
        shaft_power: maybe(
            arguments,
            "old_shaft_power",
            Kind::Power,
            Power::new::<watt>,
        )?,
        speed: maybe(
            arguments,
            "old_speed",
            Kind::RotationalSpeed,
            AngularVelocity::new::<radian_per_second>,
        )?,
        blade_diameter: needed(
            arguments,
            "blade_diameter",
            Kind::Length,
            Length::new::<meter>,
        )?,
        rotation: Rotation {
            spin: word(arguments, "turns", Spin::WORDS)?,
            seen_from: word(arguments, "seen_from", End::WORDS)?,
        },
        air: word(arguments, "air", AirDirection::WORDS)?,
        protection: IpCode::parse(arguments.word("protection")?)?,
        mounting: arguments.word("mounting")?.to_owned(),
        plug: text(arguments, "plug")?,
        shaft: word(arguments, "shaft_position", ShaftPosition::WORDS)?,
    })
}

const COIL: [&str; 5] = [
    "fin_pitch",
    "coil_depth",
    "tube_rows",
    "fin_height",
    "finned_length",
];

fn coil(arguments: &Arguments) -> Result<Option<Coil>, CannotWorkOut> {
    let given: Vec<&str> = COIL
        .into_iter()
        .filter(|name| arguments.has(name))
        .collect();
    if given.is_empty() {
        return Ok(None);
    }
    if given.len() < COIL.len() {
        return Err(CannotWorkOut(format!(
            "A coil is judged by all of {}; leave them all out or measure the rest.",
            COIL.join(", ")
        )));
    }
    let length = |name: &str| needed(arguments, name, Kind::Length, Length::new::<meter>);
    Coil::new(
        length("fin_height")?,
        length("finned_length")?,
        length("coil_depth")?,
        needed(
            arguments,
            "fin_pitch",
            Kind::FinPitch,
            LinearNumberDensity::new::<per_meter>,
        )?,
        count(arguments, "tube_rows", 24)?,
    )
    .map(Some)
}

fn duty(arguments: &Arguments) -> Result<Option<(Power, TemperatureInterval)>, CannotWorkOut> {
    let capacity = maybe(arguments, "coil_capacity", Kind::Power, Power::new::<watt>)?;
    let drop = maybe(
        arguments,
        "air_drop",
        Kind::TemperatureDifference,
        TemperatureInterval::new::<kelvin_apart>,
    )?;
    Ok(capacity.zip(drop))
}

fn known(arguments: &Arguments) -> Result<Option<Known>, CannotWorkOut> {
    let speed = maybe(
        arguments,
        "needed_speed",
        Kind::RotationalSpeed,
        AngularVelocity::new::<radian_per_second>,
    )?;
    let flow = maybe(
        arguments,
        "needed_air_flow",
        Kind::AirFlow,
        VolumeRate::new::<cubic_meter_per_second>,
    )?;
    let source = if arguments.has("needed_from") {
        word(arguments, "needed_from", RowSource::WORDS)?
    } else {
        RowSource::EquipmentLabel
    };
    match (speed, flow) {
        (Some(_), Some(_)) => Err(CannotWorkOut(
            "Give the needed speed or the needed air flow, not both.".into(),
        )),
        (Some(speed), None) => Ok(Some(Known {
            need: Need::Speed(speed),
            source,
        })),
        (None, Some(flow)) => Ok(Some(Known {
            need: Need::AirFlow(flow),
            source,
        })),
        (None, None) => Ok(None),
    }
}
