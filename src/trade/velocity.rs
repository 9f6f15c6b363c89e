//! Air velocity from a pitot tube, and the average of a traverse.

use uom::si::f64::{MassDensity, Pressure, Ratio, Velocity};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::velocity::meter_per_second;

use super::air;
use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::goods::Goods;
use super::quantity::{Kind, shown};
use super::rows::row_si;

/// Velocity `V` from velocity pressure `VP` in air of density `ρ`: V = √(2·VP/ρ).
///
/// In the trade's units V = 4005·√(VP·0.075/ρ) with V in fpm, VP in inches of water and ρ in
/// lb/ft³. Bernoulli's relation as given in ASHRAE Handbook, Fundamentals (2017), ch. 37, and
/// in the ACGIH industrial ventilation manual. The constant is 4005 with the inch of water at
/// 68 °F and 4008 with the conventional one (39 °F) used here.
///
/// # Errors
/// When the pressure is negative or the density is not above zero.
pub fn velocity(
    velocity_pressure: Pressure,
    density: MassDensity,
) -> Result<Velocity, CannotWorkOut> {
    let pressure = velocity_pressure.get::<pascal>();
    let density = positive_density(density)?;
    if !pressure.is_finite() || pressure < 0.0 {
        return Err(CannotWorkOut(
            "A velocity pressure can't be below zero: swap the two hoses of the meter \
             or point the tube into the air stream."
                .into(),
        ));
    }
    Ok(Velocity::new::<meter_per_second>(
        (2.0 * pressure / density).sqrt(),
    ))
}

/// Velocity pressure `VP` of air moving at `V`: VP = ρ·V²/2, the inverse of [`velocity`].
///
/// # Errors
/// When the velocity is negative or the density is not above zero.
pub fn velocity_pressure(
    velocity: Velocity,
    density: MassDensity,
) -> Result<Pressure, CannotWorkOut> {
    let speed = velocity.get::<meter_per_second>();
    let density = positive_density(density)?;
    if !speed.is_finite() || speed < 0.0 {
        return Err(CannotWorkOut(
            "A velocity must be zero or more, such as 400 fpm.".into(),
        ));
    }
    Ok(Pressure::new::<pascal>(0.5 * density * speed * speed))
}

/// What a traverse tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Traverse {
    /// The mean of the point velocities.
    pub average: Velocity,
    /// The share of points whose velocity pressure is above a tenth of the highest.
    pub even_share: Ratio,
    /// Whether that share is as high as a usable traverse plane needs.
    pub even_enough: bool,
}

/// Averages a traverse of velocity pressures in air of density `ρ`.
///
/// Each point's velocity is taken first and then averaged: the mean of the roots, not the root
/// of the mean, which reads high (ASHRAE Standard 111; AMCA Publication 203). The evenness rule
/// is the data row `traverse_even_share`.
///
/// # Errors
/// When there is no point, or a point or the density is not usable (see [`velocity`]).
pub fn traverse(points: &[Pressure], density: MassDensity) -> Result<Traverse, CannotWorkOut> {
    if points.is_empty() {
        return Err(CannotWorkOut(
            "A traverse needs at least one velocity pressure; usually there are 16 or more.".into(),
        ));
    }
    let mut sum = 0.0;
    let mut highest = 0.0_f64;
    for point in points {
        sum += velocity(*point, density)?.get::<meter_per_second>();
        highest = highest.max(point.get::<pascal>());
    }
    let count = points.len() as f64;
    let above = points
        .iter()
        .filter(|point| point.get::<pascal>() > 0.1 * highest)
        .count();
    let even_share = above as f64 / count;
    let needed = row_si("traverse_even_share")?;
    Ok(Traverse {
        average: Velocity::new::<meter_per_second>(sum / count),
        even_share: Ratio::new::<ratio>(even_share),
        even_enough: even_share >= needed,
    })
}

fn positive_density(density: MassDensity) -> Result<f64, CannotWorkOut> {
    let density = density.get::<kilogram_per_cubic_meter>();
    if density.is_finite() && density > 0.0 {
        return Ok(density);
    }
    Err(CannotWorkOut(
        "An air density must be above zero, such as 0.075 lb/ft³.".into(),
    ))
}

const SOURCE: &str = "ASHRAE Handbook, Fundamentals (2017), ch. 37; ACGIH, Industrial Ventilation";

const DENSITY: Parameter = Parameter {
    name: "density",
    takes: ValueType::Quantity(Kind::Density),
    unless_given: Some("standard air, 0.075 lb/ft³"),
    about: "ρ, density of the air that moves; cold air is heavier",
};

/// What a flow or the `work-out` command may ask about velocity.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "velocity_from_pressure",
        version: 1,
        about: "Air velocity from the velocity pressure of a pitot tube.",
        symbols: "V = √(2·VP/ρ) = 4005·√(VP·0.075/ρ) (fpm, in wg, lb/ft³)",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            Parameter {
                name: "velocity_pressure",
                takes: ValueType::Quantity(Kind::Pressure),
                unless_given: None,
                about: "VP, total minus static pressure, zero or more",
            },
            DENSITY,
        ],
        gives: &[Output {
            name: "velocity",
            gives: ValueType::Quantity(Kind::Velocity),
            about: "V, at the point of the tube",
        }],
        run: run_velocity,
    },
    Formula {
        name: "traverse_average",
        version: 1,
        about: "The average velocity of a traverse of velocity pressures.",
        symbols: "V = Σ √(2·VP_i/ρ) / n",
        source: "ASHRAE Standard 111; AMCA Publication 203",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter {
                name: "velocity_pressures",
                takes: ValueType::Quantities(Kind::Pressure),
                unless_given: None,
                about: "VP_i, one for each point of equal area",
            },
            DENSITY,
        ],
        gives: &[Output {
            name: "velocity",
            gives: ValueType::Quantity(Kind::Velocity),
            about: "V, the mean of the point velocities",
        }],
        run: run_traverse,
    },
];

fn density_of(arguments: &Arguments) -> Result<MassDensity, CannotWorkOut> {
    let standard = air::standard_density().value;
    let density = arguments.si_or(DENSITY.name, Kind::Density, standard)?;
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(density))
}

fn run_velocity(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let pressure = Pressure::new::<pascal>(arguments.si("velocity_pressure", Kind::Pressure)?);
    let velocity = velocity(pressure, density_of(arguments)?)?;
    let results = Results::default().with_si("velocity", Kind::Velocity, velocity.value);
    Ok(note_density(arguments, results))
}

fn run_traverse(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let Some(Value::Quantities(readings)) = arguments.0.get("velocity_pressures") else {
        return Err(CannotWorkOut(
            "velocity_pressures must be a list of pressures such as 0.02 in wg.".into(),
        ));
    };
    if readings
        .iter()
        .any(|reading| reading.kind != Kind::Pressure)
    {
        return Err(CannotWorkOut(
            "Every one of velocity_pressures must be a pressure such as 0.02 in wg.".into(),
        ));
    }
    let points: Vec<Pressure> = readings
        .iter()
        .map(|reading| Pressure::new::<pascal>(reading.si))
        .collect();
    let traverse = traverse(&points, density_of(arguments)?)?;
    let mut results =
        Results::default().with_si("velocity", Kind::Velocity, traverse.average.value);
    if !traverse.even_enough {
        results = results.warn(format!(
            "Only {} of the points are above a tenth of the highest: the air is too uneven here \
             for a good average; measure further from the bend or the fan.",
            shown("percent", traverse.even_share.value)
        ));
    }
    Ok(note_density(arguments, results))
}

fn note_density(arguments: &Arguments, results: Results) -> Results {
    if arguments.has(DENSITY.name) {
        return results;
    }
    results.warn("Standard air is assumed; in a freezer the true velocity is lower.")
}
