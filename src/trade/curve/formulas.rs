//! What a flow or the `work-out` command may ask about a fan on a coil.

use uom::si::f64::{MassDensity, Power, Pressure, VolumeRate};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::{CurvePoint, FanCurve, Place, SystemCurve, operating_point};
use crate::trade::air;
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;

const fn list(name: &'static str, kind: Kind, about: &'static str) -> Parameter {
    Parameter {
        name,
        takes: ValueType::Quantities(kind),
        unless_given: None,
        about,
    }
}

const fn one(name: &'static str, kind: Kind, about: &'static str) -> Parameter {
    Parameter {
        name,
        takes: ValueType::Quantity(kind),
        unless_given: None,
        about,
    }
}

/// What a flow or the `work-out` command may ask about a fan on a coil.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "operating_point",
    version: 1,
    about: "The air flow at which a fan's curve meets the resistance of the coil.",
    symbols: "p_fan(Q)·ρ/ρ₁ = p_s·(Q/Q_s)²",
    source: "ASHRAE Handbook, HVAC Systems and Equipment (2016), ch. 21; \
             Fritsch and Carlson (1980); Brent (1973)",
    confidence: Confidence::Computed,
    takes: &[
        list(
            "flows",
            Kind::AirFlow,
            "flows of the published points, rising, three or more",
        ),
        list(
            "pressures",
            Kind::Pressure,
            "static pressures of the same points",
        ),
        one(
            "system_flow",
            Kind::AirFlow,
            "Q_s, a flow through this coil per fan",
        ),
        one(
            "system_pressure",
            Kind::Pressure,
            "p_s, what the air path takes at this flow",
        ),
        Parameter {
            unless_given: Some("standard air, 0.075 lb/ft³"),
            ..one("density", Kind::Density, "ρ, density of the air in the box")
        },
        Parameter {
            unless_given: Some("standard air, 0.075 lb/ft³"),
            ..one(
                "curve_density",
                Kind::Density,
                "ρ₁, density for which the curve is printed",
            )
        },
        Parameter {
            unless_given: Some("no power is worked out"),
            ..list("powers", Kind::Power, "electric power at the same points")
        },
    ],
    gives: &[
        Output {
            name: "air_flow",
            gives: ValueType::Quantity(Kind::AirFlow),
            about: "Q of one fan",
        },
        Output {
            name: "pressure",
            gives: ValueType::Quantity(Kind::Pressure),
            about: "static pressure of the fan",
        },
        Output {
            name: "place",
            gives: ValueType::Word(&["steady", "stall_side", "may_hunt", "beyond_last_point"]),
            about: "where on the curve this lies",
        },
        Output {
            name: "input_power",
            gives: ValueType::Quantity(Kind::Power),
            about: "electric power in this air; only where powers are given",
        },
    ],
    run: run_operating_point,
}];

fn readings(arguments: &Arguments, name: &str, kind: Kind) -> Result<Vec<f64>, CannotWorkOut> {
    match arguments.0.get(name) {
        Some(Value::Quantities(values)) if values.iter().all(|value| value.kind == kind) => {
            Ok(values.iter().map(|value| value.si).collect())
        }
        _ => Err(CannotWorkOut(format!(
            "{name} must be a list, each a {} such as {}.",
            kind.word(),
            kind.usual_unit().of(100.0)
        ))),
    }
}

fn curve_of(arguments: &Arguments) -> Result<FanCurve, CannotWorkOut> {
    let flows = readings(arguments, "flows", Kind::AirFlow)?;
    let pressures = readings(arguments, "pressures", Kind::Pressure)?;
    let powers = match arguments.has("powers") {
        true => Some(readings(arguments, "powers", Kind::Power)?),
        false => None,
    };
    let even = powers
        .as_ref()
        .is_none_or(|powers| powers.len() == flows.len());
    if flows.len() != pressures.len() || !even {
        return Err(CannotWorkOut(
            "A fan curve needs as many pressures, and powers where given, as air flows.".into(),
        ));
    }
    let points: Vec<CurvePoint> = flows
        .iter()
        .zip(&pressures)
        .enumerate()
        .map(|(place, (flow, pressure))| CurvePoint {
            flow: VolumeRate::new::<cubic_meter_per_second>(*flow),
            pressure: Pressure::new::<pascal>(*pressure),
            input_power: powers
                .as_ref()
                .map(|powers| Power::new::<watt>(powers[place])),
        })
        .collect();
    FanCurve::new(&points, density(arguments, "curve_density")?)
}

fn density(arguments: &Arguments, name: &str) -> Result<MassDensity, CannotWorkOut> {
    let density = arguments.si_or(name, Kind::Density, air::standard_density().value)?;
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(density))
}

fn run_operating_point(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let flow = arguments.si("system_flow", Kind::AirFlow)?;
    let pressure = arguments.si("system_pressure", Kind::Pressure)?;
    let system = SystemCurve::through(
        VolumeRate::new::<cubic_meter_per_second>(flow),
        Pressure::new::<pascal>(pressure),
    )?;
    let point = operating_point(
        &curve_of(arguments)?,
        &system,
        density(arguments, "density")?,
    )?;
    let place = match point.place {
        Place::Steady => "steady",
        Place::StallSide => "stall_side",
        Place::MayHunt => "may_hunt",
        Place::BeyondLastPoint => "beyond_last_point",
    };
    let mut results = Results::default()
        .with_si("air_flow", Kind::AirFlow, point.flow.value)
        .with_si("pressure", Kind::Pressure, point.pressure.value)
        .with("place", Value::Word(place.into()));
    if let Some(power) = point.input_power {
        results = results.with_si("input_power", Kind::Power, power.value);
    }
    Ok(match point.place.warning() {
        Some(warning) => results.warn(warning),
        None => results,
    })
}
