//! What a flow or the `work-out` command may ask about refrigerants.

use uom::si::f64::{Pressure, ThermodynamicTemperature};
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;

use super::{NAMES, Refrigerant, SafetyGroup};
use crate::trade::air::formulas as air;
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::gauge::{self, Gauge};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;
use crate::trade::saturation::{self, Side};

const SOURCE: &str = "CoolProp 8.0.0 (HEOS), tabled every 5 °F";

const REFRIGERANT: Parameter = Parameter {
    name: "refrigerant",
    takes: ValueType::Word(NAMES),
    unless_given: None,
    about: "by the nameplate",
};

const GAUGE: Parameter = Parameter {
    name: "pressure",
    takes: ValueType::Quantity(Kind::GaugePressure),
    unless_given: None,
    about: "gauge pressure, below zero for a vacuum",
};

const SATURATED: Parameter = Parameter {
    name: "temperature",
    takes: ValueType::Quantity(Kind::Temperature),
    unless_given: None,
    about: "saturation temperature, -70 to 140 °F; R-744 -65 to 85 °F",
};

const LINE: Parameter = Parameter {
    name: "line_temperature",
    takes: ValueType::Quantity(Kind::Temperature),
    unless_given: None,
    about: "temperature of the pipe at the gauge",
};

const fn gives(name: &'static str, kind: Kind, about: &'static str) -> Output {
    Output {
        name,
        gives: ValueType::Quantity(kind),
        about,
    }
}

/// What a flow or the `work-out` command may ask about refrigerants.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "saturation_pressure",
        version: 1,
        about: "The gauge pressure at which a refrigerant boils or condenses.",
        symbols: "table p(t), bubble and dew, minus the air pressure of the altitude",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[REFRIGERANT, SATURATED, air::ALTITUDE],
        gives: &[
            gives("dew", Kind::GaugePressure, "dew column: suction side"),
            gives("bubble", Kind::GaugePressure, "bubble column: liquid side"),
        ],
        run: run_pressure,
    },
    Formula {
        name: "saturation_temperature",
        version: 1,
        about: "The temperatures at which a refrigerant boils and condenses at a pressure.",
        symbols: "table t(p), bubble and dew, p = gauge + the air pressure of the altitude",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[REFRIGERANT, GAUGE, air::ALTITUDE],
        gives: &[
            gives(
                "dew",
                Kind::Temperature,
                "dew column: superheat and the coil's TD",
            ),
            gives("bubble", Kind::Temperature, "bubble column: subcooling"),
            gives("glide", Kind::TemperatureDifference, "dew minus bubble"),
        ],
        run: run_temperature,
    },
    Formula {
        name: "superheat",
        version: 1,
        about: "How far the suction gas is above boiling, by the dew column.",
        symbols: "t_line − t_dew(p)",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[REFRIGERANT, GAUGE, LINE, air::ALTITUDE],
        gives: &[
            gives(
                "superheat",
                Kind::TemperatureDifference,
                "above the dew temperature",
            ),
            gives("saturated", Kind::Temperature, "the dew temperature"),
        ],
        run: run_superheat,
    },
    Formula {
        name: "subcooling",
        version: 1,
        about: "How far the liquid is below boiling, by the bubble column.",
        symbols: "t_bubble(p) − t_line",
        source: SOURCE,
        confidence: Confidence::Library,
        takes: &[REFRIGERANT, GAUGE, LINE, air::ALTITUDE],
        gives: &[
            gives(
                "subcooling",
                Kind::TemperatureDifference,
                "below the bubble temperature",
            ),
            gives("saturated", Kind::Temperature, "the bubble temperature"),
        ],
        run: run_subcooling,
    },
    Formula {
        name: "safety_group",
        version: 1,
        about: "The safety group of a refrigerant and what it changes in the work.",
        symbols: "table",
        source: "ASHRAE Standard 34, from memory; what changes: common practice, no source",
        confidence: Confidence::FromMemory,
        takes: &[REFRIGERANT],
        gives: &[
            Output {
                name: "group",
                gives: ValueType::Word(&["A1", "A2L", "A3"]),
                about: "safety group",
            },
            Output {
                name: "flammability",
                gives: ValueType::Word(&["none", "mild", "high"]),
                about: "how easily it burns: whether ignition sources count",
            },
        ],
        run: run_safety_group,
    },
];

fn refrigerant_of(arguments: &Arguments) -> Result<Refrigerant, CannotWorkOut> {
    let text = arguments.word(REFRIGERANT.name)?;
    Refrigerant::named(text).ok_or_else(|| {
        CannotWorkOut(format!(
            "{text} is none of {}: read the nameplate again; with another refrigerant, stop and \
             call the supervisor.",
            NAMES.join(", ")
        ))
    })
}

fn gauge_of(arguments: &Arguments) -> Result<Gauge, CannotWorkOut> {
    let si = arguments.si(GAUGE.name, Kind::GaugePressure)?;
    Ok(Gauge::new(Pressure::new::<pascal>(si)))
}

fn atmosphere_of(arguments: &Arguments) -> Result<Pressure, CannotWorkOut> {
    gauge::atmosphere(air::altitude_of(arguments)?)
}

fn temperature_of(
    arguments: &Arguments,
    name: &str,
) -> Result<ThermodynamicTemperature, CannotWorkOut> {
    Ok(ThermodynamicTemperature::new::<kelvin>(
        arguments.si(name, Kind::Temperature)?,
    ))
}

fn run_pressure(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let refrigerant = refrigerant_of(arguments)?;
    let temperature = temperature_of(arguments, SATURATED.name)?;
    let atmosphere = atmosphere_of(arguments)?;
    let at = |side| -> Result<Gauge, CannotWorkOut> {
        let absolute = saturation::pressure(refrigerant, side, temperature)?;
        Ok(Gauge::of_absolute(absolute, atmosphere))
    };
    let (dew, bubble) = (at(Side::Dew)?, at(Side::Bubble)?);
    let results = Results::default()
        .with_si("dew", Kind::GaugePressure, dew.above_surrounding().value)
        .with_si(
            "bubble",
            Kind::GaugePressure,
            bubble.above_surrounding().value,
        );
    let sentence = if dew == bubble {
        format!("Saturated at {}.", dew.show())
    } else {
        format!(
            "Suction side {}, liquid side {}.",
            dew.show(),
            bubble.show()
        )
    };
    let results = results.say(sentence);
    Ok(note(refrigerant, air::note_altitude(arguments, results)))
}

fn run_temperature(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let refrigerant = refrigerant_of(arguments)?;
    let absolute = gauge_of(arguments)?.absolute(atmosphere_of(arguments)?)?;
    let dew = saturation::temperature(refrigerant, Side::Dew, absolute)?;
    let bubble = saturation::temperature(refrigerant, Side::Bubble, absolute)?;
    let glide = saturation::glide(refrigerant, absolute)?;
    let results = Results::default()
        .with_si("dew", Kind::Temperature, dew.value)
        .with_si("bubble", Kind::Temperature, bubble.value)
        .with_si("glide", Kind::TemperatureDifference, glide.value);
    Ok(note(refrigerant, air::note_altitude(arguments, results)))
}

fn run_superheat(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let refrigerant = refrigerant_of(arguments)?;
    let (gauge, atmosphere) = (gauge_of(arguments)?, atmosphere_of(arguments)?);
    let line = temperature_of(arguments, LINE.name)?;
    let superheat = gauge::superheat(refrigerant, gauge, atmosphere, line)?.value;
    let mut results = Results::default()
        .with_si("superheat", Kind::TemperatureDifference, superheat)
        .with_si("saturated", Kind::Temperature, line.value - superheat);
    if superheat < 0.0 {
        results = results.warn(
            "Superheat below zero: liquid may be running back to the compressor, or a reading is \
             wrong. Check the probe's contact and the refrigerant.",
        );
    }
    Ok(note(refrigerant, air::note_altitude(arguments, results)))
}

fn run_subcooling(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let refrigerant = refrigerant_of(arguments)?;
    let (gauge, atmosphere) = (gauge_of(arguments)?, atmosphere_of(arguments)?);
    let line = temperature_of(arguments, LINE.name)?;
    let subcooling = gauge::subcooling(refrigerant, gauge, atmosphere, line)?.value;
    let mut results = Results::default()
        .with_si("subcooling", Kind::TemperatureDifference, subcooling)
        .with_si("saturated", Kind::Temperature, line.value + subcooling);
    if subcooling < 0.0 {
        results = results
            .warn("Subcooling below zero: there is gas in the liquid line, or a reading is wrong.");
    }
    Ok(note(refrigerant, air::note_altitude(arguments, results)))
}

/// Says what is uncertain about a refrigerant's table.
fn note(refrigerant: Refrigerant, results: Results) -> Results {
    match refrigerant {
        Refrigerant::R455A => {
            results.warn("The values for R-455A are an estimate, good to about 2.5 psi.")
        }
        _ => results,
    }
}

fn run_safety_group(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let refrigerant = refrigerant_of(arguments)?;
    let group = refrigerant.safety_group();
    let flammability = match group {
        SafetyGroup::A1 => "none",
        SafetyGroup::A2L => "mild",
        SafetyGroup::A3 => "high",
    };
    let results = Results::default()
        .with("group", Value::Word(group.name().into()))
        .with("flammability", Value::Word(flammability.into()))
        .say(format!(
            "{refrigerant} is in safety group {group}; the nameplate decides."
        ));
    Ok(refrigerant
        .changes()
        .into_iter()
        .fold(results, Results::warn))
}
