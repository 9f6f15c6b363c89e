//! What a flow or the `work-out` command may ask about a coil.

use uom::si::area::square_meter;
use uom::si::f64::{
    Area, Length, LinearNumberDensity, Ratio, TemperatureInterval, ThermodynamicTemperature,
    Velocity, VolumeRate,
};
use uom::si::length::meter;
use uom::si::linear_number_density::per_meter;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_interval;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::velocity::meter_per_second;
use uom::si::volume_rate::cubic_meter_per_second;

use super::{Coil, Tubes};
use crate::trade::air::{MoistAir, formulas as air};
use crate::trade::coil_drop::CoilDrop;
use crate::trade::duty::{self, RoomHumidity};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::{Kind, shown};

const fn needs(name: &'static str, kind: Kind, about: &'static str) -> Parameter {
    Parameter {
        name,
        takes: ValueType::Quantity(kind),
        unless_given: None,
        about,
    }
}

const fn gives(name: &'static str, kind: Kind, about: &'static str) -> Output {
    Output {
        name,
        gives: ValueType::Quantity(kind),
        about,
    }
}

const HEIGHT: Parameter = needs("fin_height", Kind::Length, "H, height of the fins");
const LENGTH: Parameter = needs(
    "finned_length",
    Kind::Length,
    "L, length of the finned part along the tubes",
);
const FINS: Parameter = needs("fins", Kind::FinPitch, "fins per length, such as 6 fpi");
const FLOW: Parameter = needs("air_flow", Kind::AirFlow, "Q, air through the whole coil");

/// What a flow or the `work-out` command may ask about a coil.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "face_area",
        version: 1,
        about: "The face of a coil.",
        symbols: "A = H·L",
        source: "definition",
        confidence: Confidence::Computed,
        takes: &[HEIGHT, LENGTH],
        gives: &[gives("area", Kind::Area, "A")],
        run: run_face_area,
    },
    Formula {
        name: "face_velocity",
        version: 1,
        about: "How fast the air meets the coil, and whether it may blow water off.",
        symbols: "V = Q/A",
        source: "definition; carry-over limit: transport refrigeration text, rows carry_over_*",
        confidence: Confidence::Seen,
        takes: &[FLOW, needs("area", Kind::Area, "A, face area of the coil")],
        gives: &[
            gives("velocity", Kind::Velocity, "V"),
            Output {
                name: "carry_over",
                gives: ValueType::Word(&["unlikely", "possible", "expected"]),
                about: "whether a wet coil blows water off",
            },
        ],
        run: run_face_velocity,
    },
    Formula {
        name: "air_flow_from_face",
        version: 1,
        about: "The air over a coil from the air speed that was measured at its face.",
        symbols: "Q = V·A",
        source: "definition; traverse: ANSI/ASHRAE 111",
        confidence: Confidence::Computed,
        takes: &[
            needs("velocity", Kind::Velocity, "V, average over the face, fpm"),
            Parameter {
                unless_given: Some("fin height × finned length"),
                ..needs("area", Kind::Area, "A, face area of the coil")
            },
            Parameter {
                unless_given: Some("the area is given"),
                ..HEIGHT
            },
            Parameter {
                unless_given: Some("the area is given"),
                ..LENGTH
            },
            Parameter {
                name: "fans",
                takes: ValueType::Number,
                unless_given: Some("1"),
                about: "fans that share the coil, 1 to 24",
            },
        ],
        gives: &[
            gives("air_flow", Kind::AirFlow, "Q of the whole coil"),
            gives("each", Kind::AirFlow, "share of one fan"),
        ],
        run: run_flow_from_face,
    },
    Formula {
        name: "fin_count",
        version: 1,
        about: "How many fins a coil has and how far apart they stand.",
        symbols: "n = fins·L; F_p = 1/fins",
        source: "definition",
        confidence: Confidence::Computed,
        takes: &[FINS, LENGTH],
        gives: &[
            Output {
                name: "count",
                gives: ValueType::Number,
                about: "n, whole fins",
            },
            gives("spacing", Kind::Length, "F_p, from fin to fin"),
        ],
        run: run_fin_count,
    },
    Formula {
        name: "fin_spacing",
        version: 1,
        about: "How far apart a coil's fins stand, and whether that is usual.",
        symbols: "F_p = 1/fins",
        source: "definition; usual spacings: transport refrigeration text, rows narrowest_fin_spacing, widest_fin_spacing",
        confidence: Confidence::Computed,
        takes: &[FINS],
        gives: &[
            gives("spacing", Kind::Length, "F_p, from fin to fin"),
            gives("usual_from", Kind::Length, "the narrowest usual spacing"),
            gives("usual_to", Kind::Length, "the widest usual spacing"),
        ],
        run: run_fin_spacing,
    },
    Formula {
        name: "coil_pressure_drop",
        version: 1,
        about: "What a dry, clean coil of flat fins takes from the fan.",
        symbols: "Δp = f·(A/A_c)·ρ·V_c²/2; f = 0.0267·Re^F₁·(P_t/P_l)^F₂·(F_p/D_c)^F₃",
        source: "Wang, Chi and Chang (2000), Int. J. Heat Mass Transfer 43, 2693–2700",
        confidence: Confidence::Seen,
        takes: &[
            FLOW,
            HEIGHT,
            LENGTH,
            needs(
                "depth",
                Kind::Length,
                "depth of the coil in the direction of the air",
            ),
            FINS,
            Parameter {
                name: "tube_rows",
                takes: ValueType::Number,
                unless_given: None,
                about: "N, tube rows in the direction of the air, 1 to 6",
            },
            Parameter {
                unless_given: Some("the usual half-inch tube"),
                ..needs(
                    "tube_diameter",
                    Kind::Length,
                    "outside diameter, 6.9 to 13.6 mm",
                )
            },
            Parameter {
                unless_given: Some("the usual 1.25 in"),
                ..needs(
                    "tube_pitch",
                    Kind::Length,
                    "P_t, between tubes of a row, 20 to 32 mm",
                )
            },
            Parameter {
                unless_given: Some("the usual 0.0075 in"),
                ..needs("fin_thickness", Kind::Length, "thickness of the fin sheet")
            },
            air::TEMPERATURE,
            air::HUMIDITY,
            air::ALTITUDE,
        ],
        gives: &[gives("pressure", Kind::Pressure, "Δp, dry and clean")],
        run: run_drop,
    },
    Formula {
        name: "coil_td",
        version: 1,
        about: "The coil's temperature difference and the room humidity that goes with it.",
        symbols: "TD = t_on − t_sat (dew)",
        source: "common refrigeration texts; humidity table: rows room_humidity_at_td_*",
        confidence: Confidence::FromMemory,
        takes: &[
            needs("air_on", Kind::Temperature, "t_on, air entering the coil"),
            needs(
                "saturated_suction",
                Kind::Temperature,
                "t_sat, dew column for a blend",
            ),
        ],
        gives: &[gives("difference", Kind::TemperatureDifference, "TD")],
        run: run_td,
    },
    Formula {
        name: "room_humidity",
        version: 1,
        about: "The room humidity that a forced-air coil usually keeps at a TD.",
        symbols: "table",
        source: "rows room_humidity_at_td_*",
        confidence: Confidence::FromMemory,
        takes: &[needs(
            "difference",
            Kind::TemperatureDifference,
            "TD, 8 to 22 F°",
        )],
        gives: &[gives(
            "humidity",
            Kind::Ratio,
            "relative humidity, a rule of thumb",
        )],
        run: run_room_humidity,
    },
    Formula {
        name: "air_side_capacity",
        version: 1,
        about: "The heat that the air gives to the coil, moisture included.",
        symbols: "q = Q/v·(h_on − h_off)",
        source: "ASHRAE Handbook, Fundamentals (2017), ch. 1",
        confidence: Confidence::Computed,
        takes: &[
            FLOW,
            needs("air_on", Kind::Temperature, "t_on, air entering the coil"),
            needs("humidity_on", Kind::Ratio, "φ_on, its relative humidity"),
            needs("air_off", Kind::Temperature, "t_off, air leaving the coil"),
            needs("humidity_off", Kind::Ratio, "φ_off, its relative humidity"),
            air::ALTITUDE,
        ],
        gives: &[gives("heat", Kind::Power, "q, sensible and latent")],
        run: run_capacity,
    },
];

fn length(arguments: &Arguments, name: &str) -> Result<Length, CannotWorkOut> {
    Ok(Length::new::<meter>(arguments.si(name, Kind::Length)?))
}

fn flow(arguments: &Arguments) -> Result<VolumeRate, CannotWorkOut> {
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        arguments.si(FLOW.name, Kind::AirFlow)?,
    ))
}

fn fins(arguments: &Arguments) -> Result<LinearNumberDensity, CannotWorkOut> {
    Ok(LinearNumberDensity::new::<per_meter>(
        arguments.si(FINS.name, Kind::FinPitch)?,
    ))
}

fn temperature(
    arguments: &Arguments,
    name: &str,
) -> Result<ThermodynamicTemperature, CannotWorkOut> {
    Ok(ThermodynamicTemperature::new::<kelvin>(
        arguments.si(name, Kind::Temperature)?,
    ))
}

fn run_face_area(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let area = super::face_area(
        length(arguments, HEIGHT.name)?,
        length(arguments, LENGTH.name)?,
    )?;
    Ok(Results::default().with_si("area", Kind::Area, area.value))
}

fn run_face_velocity(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let area = Area::new::<square_meter>(arguments.si("area", Kind::Area)?);
    let velocity = super::face_velocity(flow(arguments)?, area)?;
    let carry_over = super::carry_over(velocity)?;
    let word = match carry_over {
        super::CarryOver::Unlikely => "unlikely",
        super::CarryOver::Possible => "possible",
        super::CarryOver::Expected => "expected",
    };
    let results = Results::default()
        .with_si("velocity", Kind::Velocity, velocity.value)
        .with("carry_over", Value::Word(word.into()));
    Ok(match carry_over.warning() {
        Some(warning) => results.warn(warning),
        None => results,
    })
}

fn run_flow_from_face(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let area = if arguments.has("area") {
        Area::new::<square_meter>(arguments.si("area", Kind::Area)?)
    } else {
        super::face_area(
            length(arguments, HEIGHT.name)?,
            length(arguments, LENGTH.name)?,
        )?
    };
    let velocity = Velocity::new::<meter_per_second>(arguments.si("velocity", Kind::Velocity)?);
    let flow = super::flow_for_velocity(velocity, area)?;
    let fans = if arguments.has("fans") {
        arguments.number("fans")?
    } else {
        1.0
    };
    if fans.fract() != 0.0 || !(1.0..=24.0).contains(&fans) {
        return Err(CannotWorkOut(
            "fans must be a whole number from 1 to 24.".into(),
        ));
    }
    Ok(Results::default()
        .with_si("air_flow", Kind::AirFlow, flow.value)
        .with_si("each", Kind::AirFlow, flow.value / fans)
        .warn("A hand meter over nine points or more is good to about a tenth."))
}

fn run_fin_count(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let fins = fins(arguments)?;
    let count = super::fin_count(fins, length(arguments, LENGTH.name)?)?;
    let spacing = super::fin_spacing(fins)?;
    let (narrowest, widest) = super::usual_fin_spacings()?;
    let results = Results::default()
        .with("count", Value::Number(f64::from(count)))
        .with_si("spacing", Kind::Length, spacing.value);
    Ok(warn_of_spacing(results, spacing, (narrowest, widest)))
}

fn run_fin_spacing(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let spacing = super::fin_spacing(fins(arguments)?)?;
    let (narrowest, widest) = super::usual_fin_spacings()?;
    let results = Results::default()
        .with_si("spacing", Kind::Length, spacing.value)
        .with_si("usual_from", Kind::Length, narrowest.value)
        .with_si("usual_to", Kind::Length, widest.value);
    Ok(warn_of_spacing(results, spacing, (narrowest, widest)))
}

fn warn_of_spacing(
    results: Results,
    spacing: Length,
    (narrowest, widest): (Length, Length),
) -> Results {
    if spacing >= narrowest && spacing <= widest {
        return results;
    }
    results.warn(format!(
        "A fin spacing of {} is unusual; coils have {} to {}. Count the fins again.",
        shown("millimetre", spacing.value),
        shown("millimetre", narrowest.value),
        shown("millimetre", widest.value)
    ))
}

fn run_drop(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let rows = arguments.number("tube_rows")?;
    if rows.fract() != 0.0 || !(1.0..=24.0).contains(&rows) {
        return Err(CannotWorkOut(
            "tube_rows must be a whole number from 1 to 24.".into(),
        ));
    }
    let coil = Coil::new(
        length(arguments, HEIGHT.name)?,
        length(arguments, LENGTH.name)?,
        length(arguments, "depth")?,
        fins(arguments)?,
        rows as u32,
    )?;
    let usual = Tubes::usual()?;
    let or = |name, usual: f64| -> Result<Length, CannotWorkOut> {
        Ok(Length::new::<meter>(arguments.si_or(
            name,
            Kind::Length,
            usual,
        )?))
    };
    let tubes = Tubes::new(
        or("tube_diameter", usual.outside_diameter)?,
        or("tube_pitch", usual.across_pitch)?,
        or("fin_thickness", usual.fin_thickness)?,
    )?;
    let drop = CoilDrop::new(&coil, &tubes, &air::air_of(arguments)?)?;
    let flow = flow(arguments)?;
    let mut results = Results::default()
        .with_si("pressure", Kind::Pressure, drop.pressure(flow)?.value)
        .warn("For a dry, clean coil: frost, dirt and water take more.");
    let outside = drop.outside_samples(flow);
    if !outside.is_empty() {
        results = results.warn(format!(
            "A rough guide only, outside the measured samples: {}.",
            outside.join("; ")
        ));
    }
    Ok(air::note_altitude(arguments, results))
}

fn run_td(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let difference = duty::temperature_difference(
        temperature(arguments, "air_on")?,
        temperature(arguments, "saturated_suction")?,
    )?;
    let results =
        Results::default().with_si("difference", Kind::TemperatureDifference, difference.value);
    Ok(match duty::room_humidity(difference) {
        Ok(humidity) => results.say(humidity_sentence(humidity)),
        Err(outside) => results.warn(outside.to_string()),
    })
}

fn run_room_humidity(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let si = arguments.si("difference", Kind::TemperatureDifference)?;
    let humidity = duty::room_humidity(TemperatureInterval::new::<kelvin_interval>(si))?;
    let (RoomHumidity::About(value) | RoomHumidity::Below(value)) = humidity;
    Ok(Results::default()
        .with_si("humidity", Kind::Ratio, value.value)
        .say(humidity_sentence(humidity)))
}

fn humidity_sentence(humidity: RoomHumidity) -> String {
    let (way, value) = match humidity {
        RoomHumidity::About(value) => ("about", value.value),
        RoomHumidity::Below(value) => ("less than", value.value),
    };
    format!(
        "Such a coil usually keeps the room at {way} {} humidity.",
        shown("percent", value)
    )
}

fn run_capacity(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let altitude = air::altitude_of(arguments)?;
    let state = |t: &str, humidity: &str| {
        let humidity = Ratio::new::<ratio>(arguments.si(humidity, Kind::Ratio)?);
        MoistAir::at_altitude(temperature(arguments, t)?, humidity, altitude)
    };
    let heat = duty::air_side_capacity(
        &state("air_on", "humidity_on")?,
        &state("air_off", "humidity_off")?,
        flow(arguments)?,
    )?;
    let results = Results::default()
        .with_si("heat", Kind::Power, heat.value)
        .say(format!(
            "The air gives the coil {}.",
            shown("btu_per_hour", heat.value)
        ));
    Ok(air::note_altitude(arguments, results))
}
