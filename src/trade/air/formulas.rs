//! What a flow or the `work-out` command may ask about moist air.

use uom::si::f64::{Length, Pressure, Ratio, ThermodynamicTemperature};
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::kelvin;

use super::{MoistAir, Saturates, altitude_density_ratio, standard_pressure};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::{Kind, shown};

const SOURCE: &str = "ASHRAE Handbook, Fundamentals (2017), ch. 1";

/// The air temperature that most air formulas need.
pub(crate) const TEMPERATURE: Parameter = Parameter {
    name: "temperature",
    takes: ValueType::Quantity(Kind::Temperature),
    unless_given: None,
    about: "t, dry-bulb temperature of the air, -148 to 392 °F",
};

/// The relative humidity that most air formulas need.
pub(crate) const HUMIDITY: Parameter = Parameter {
    name: "humidity",
    takes: ValueType::Quantity(Kind::Ratio),
    unless_given: None,
    about: "φ, relative humidity, 0 to 100 %; over ice below 32 °F",
};

/// The altitude above sea level; it matters, so formulas say when they assume sea level.
pub(crate) const ALTITUDE: Parameter = Parameter {
    name: "altitude",
    takes: ValueType::Quantity(Kind::Length),
    unless_given: Some("sea level"),
    about: "Z, height above sea level, -16,400 to 36,000 ft",
};

const PRESSURE: Parameter = Parameter {
    name: "pressure",
    takes: ValueType::Quantity(Kind::Pressure),
    unless_given: Some("the standard pressure of the altitude"),
    about: "p, absolute air pressure",
};

/// The air that `arguments` describe by temperature, humidity and altitude or pressure.
///
/// # Errors
/// When an input is missing or out of range.
pub(crate) fn air_of(arguments: &Arguments) -> Result<MoistAir, CannotWorkOut> {
    let t =
        ThermodynamicTemperature::new::<kelvin>(arguments.si(TEMPERATURE.name, Kind::Temperature)?);
    let humidity = Ratio::new::<ratio>(arguments.si(HUMIDITY.name, Kind::Ratio)?);
    if arguments.has(PRESSURE.name) {
        let pressure = arguments.si(PRESSURE.name, Kind::Pressure)?;
        return MoistAir::new(t, humidity, Pressure::new::<pascal>(pressure));
    }
    MoistAir::at_altitude(t, humidity, altitude_of(arguments)?)
}

/// The altitude that `arguments` give, or sea level.
///
/// # Errors
/// When it is given but is no length.
pub(crate) fn altitude_of(arguments: &Arguments) -> Result<Length, CannotWorkOut> {
    Ok(Length::new::<meter>(arguments.si_or(
        ALTITUDE.name,
        Kind::Length,
        0.0,
    )?))
}

/// Warns where the altitude was assumed.
pub(crate) fn note_altitude(arguments: &Arguments, results: Results) -> Results {
    if arguments.has(ALTITUDE.name) {
        return results;
    }
    results.warn("Sea level is assumed; say the altitude if the box stands higher.")
}

/// What a flow or the `work-out` command may ask about moist air.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "moist_air",
        version: 1,
        about: "How heavy and how moist air is, and how much heat it holds.",
        symbols: "p_w = φ·p_ws(t); W = 0.621945·p_w/(p − p_w); \
                  ρ = (1 + W)·p/(287.042·T·(1 + 1.607858·W)); h = 0.240·t + W·(1061 + 0.444·t)",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[TEMPERATURE, HUMIDITY, ALTITUDE, PRESSURE],
        gives: &[
            Output {
                name: "density",
                gives: ValueType::Quantity(Kind::Density),
                about: "ρ, mass of moist air per volume",
            },
            Output {
                name: "humidity_ratio",
                gives: ValueType::Number,
                about: "W, pounds of water per pound of dry air",
            },
            Output {
                name: "enthalpy",
                gives: ValueType::Quantity(Kind::SpecificEnergy),
                about: "h per pound of dry air, from dry air at 0 °F and water at 32 °F",
            },
        ],
        run: run_moist_air,
    },
    Formula {
        name: "dew_point",
        version: 1,
        about: "The surface temperature at which this air starts to leave dew or frost.",
        symbols: "p_ws(t_d) = φ·p_ws(t)",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[TEMPERATURE, HUMIDITY],
        gives: &[
            Output {
                name: "point",
                gives: ValueType::Quantity(Kind::Temperature),
                about: "t_d, the dew point, or below 32 °F the frost point",
            },
            Output {
                name: "kind",
                gives: ValueType::Word(&["dew", "frost"]),
                about: "what comes out",
            },
        ],
        run: run_dew_point,
    },
    Formula {
        name: "standard_pressure",
        version: 1,
        about: "The usual air pressure at an altitude, and how thin the air is there.",
        symbols: "p = 101.325·(1 − 2.25577·10⁻⁵·Z)^5.2559 kPa, Z in m",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[Parameter {
            unless_given: None,
            ..ALTITUDE
        }],
        gives: &[
            Output {
                name: "pressure",
                gives: ValueType::Quantity(Kind::Pressure),
                about: "p, absolute",
            },
            Output {
                name: "density_ratio",
                gives: ValueType::Quantity(Kind::Ratio),
                about: "density there over density at sea level, same temperature",
            },
        ],
        run: run_standard_pressure,
    },
];

fn run_moist_air(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let air = air_of(arguments)?;
    let results = Results::default()
        .with_si("density", Kind::Density, air.density().value)
        .with("humidity_ratio", Value::Number(air.humidity_ratio().value))
        .with_si("enthalpy", Kind::SpecificEnergy, air.enthalpy().value);
    if arguments.has(PRESSURE.name) {
        return Ok(results);
    }
    Ok(note_altitude(arguments, results))
}

fn run_dew_point(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let saturates = air_of(arguments)?.saturates()?;
    let (kind, point) = match saturates {
        Saturates::AsDew(point) => ("dew", point.value),
        Saturates::AsFrost(point) => ("frost", point.value),
    };
    Ok(Results::default()
        .with_si("point", Kind::Temperature, point)
        .with("kind", Value::Word(kind.into()))
        .say(format!(
            "Surfaces colder than {} collect {kind}.",
            shown("deg_f", point)
        )))
}

fn run_standard_pressure(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let altitude = Length::new::<meter>(arguments.si(ALTITUDE.name, Kind::Length)?);
    let pressure = standard_pressure(altitude)?.value;
    let thinness = altitude_density_ratio(altitude)?.value;
    Ok(Results::default()
        .with_si("pressure", Kind::Pressure, pressure)
        .with_si("density_ratio", Kind::Ratio, thinness)
        .say(format!(
            "Here the air pressure is usually {} and the air has {} of its weight at sea level.",
            shown("psia", pressure),
            shown("percent", thinness)
        )))
}
