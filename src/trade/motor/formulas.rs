//! The motor topic's formulas by name.

use uom::si::f64::{Power, Ratio};
use uom::si::ratio::ratio;

use super::super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::super::goods::Goods;
use super::super::quantity::Kind;
use super::super::typed::{
    CURRENT, DURATION, FREQUENCY, POWER, RATIO, SPEED, VOLTAGE, chosen, given, maybe, maybe_chosen,
};
use super::{
    BTU_PER_HOUR_PER_WATT, EfficiencySource, MotorType, apparent_power, box_heat, direct_energy,
    efficiency_band, efficiency_by, input_power, poles_by_speed, power_factor, retrofit_ratio,
    shaft_power, slip, synchronous_speed, true_power,
};
use crate::trade::typed::Measured;

const MOTOR: Parameter = Parameter::needed(
    "motor",
    ValueType::Word(MotorType::WORDS),
    "the motor's type",
);
const SHAFT: Parameter = Parameter::needed(
    "shaft",
    POWER,
    "power at the shaft; nameplate hp is shaft power",
);
const EFFICIENCY: Parameter = Parameter::needed("efficiency", RATIO, "η, above 0 to 100 %");
const VOLTS: Parameter = Parameter::needed("voltage", VOLTAGE, "V at the motor, zero or above");
const AMPS: Parameter = Parameter::needed("current", CURRENT, "I by a true-RMS clamp");
const HERTZ: Parameter = Parameter::optional("frequency", FREQUENCY, "60 Hz", "f of the supply");
const APPARENT: Output = Output::of(
    "apparent_power",
    ValueType::Quantity(Kind::ApparentPower),
    "V·I in volt-amperes; not watts",
);
const TYPES: &str = "US Department of Energy motor report, December 2013, pp. 5 and 16";
const PHYSICS: &str = "definition";
const SHAFT_OR_INPUT: &str =
    "Nameplate horsepower is shaft power; nameplate watts are often input power. Do not mix them.";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "motor_shaft_watts",
        version: 1,
        about: "Nameplate horsepower in watts at the shaft.",
        symbols: "1 hp = 745.7 W",
        source: "NIST Special Publication 811 (2008), Appendix B",
        confidence: Confidence::Library,
        takes: &[SHAFT],
        gives: &[Output::of("shaft", POWER, "watts at the shaft")],
        run: |arguments, _| {
            let shaft: Power = given(arguments, "shaft")?;
            Ok(Results::default().put("shaft", shaft).warn(SHAFT_OR_INPUT))
        },
    },
    Formula {
        name: "motor_input",
        version: 1,
        about: "The power a motor takes from the wires for its shaft power.",
        symbols: "P = P_shaft/η",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[SHAFT, EFFICIENCY],
        gives: &[Output::of("input", POWER, "P, from the wires")],
        run: |arguments, _| {
            let input = input_power(given(arguments, "shaft")?, given(arguments, "efficiency")?)?;
            Ok(Results::default().put("input", input))
        },
    },
    Formula {
        name: "motor_input_by_type",
        version: 1,
        about: "The power a motor of a type takes for its shaft power: low, likely and high.",
        symbols: "P = P_shaft/η",
        source: "trade press on refrigeration motors of 1 to 50 W",
        confidence: Confidence::Seen,
        takes: &[SHAFT, MOTOR],
        gives: &[
            Output::of("input", POWER, "the likely input power"),
            Output::of("low", POWER, "the lowest believable"),
            Output::of("high", POWER, "the highest believable"),
        ],
        run: input_by_type,
    },
    Formula {
        name: "motor_shaft",
        version: 1,
        about: "The power at the shaft for the power taken from the wires.",
        symbols: "P_shaft = P·η",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("input", POWER, "P, from the wires"),
            EFFICIENCY,
        ],
        gives: &[Output::of("shaft", POWER, "power at the shaft")],
        run: |arguments, _| {
            let shaft = shaft_power(given(arguments, "input")?, given(arguments, "efficiency")?)?;
            Ok(Results::default().put("shaft", shaft))
        },
    },
    Formula {
        name: "motor_efficiency",
        version: 1,
        about: "The efficiency of a motor type, by one source, and how far motors differ.",
        symbols: "table",
        source: TYPES,
        confidence: Confidence::Seen,
        takes: &[
            MOTOR,
            Parameter::optional(
                "by",
                ValueType::Word(EfficiencySource::WORDS),
                "energy_department",
                "whose value is wanted",
            ),
        ],
        gives: &[
            Output::of("efficiency", RATIO, "η by the source"),
            Output::of("low", RATIO, "the lowest of the trade press"),
            Output::of("high", RATIO, "the highest of the trade press"),
        ],
        run: efficiency,
    },
    Formula {
        name: "retrofit_ratio",
        version: 1,
        about: "New input power over old at the same shaft power.",
        symbols: "η_old/η_new",
        source: TYPES,
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("old", ValueType::Word(MotorType::WORDS), "the old type"),
            Parameter::needed("new", ValueType::Word(MotorType::WORDS), "the new type"),
        ],
        gives: &[Output::of("input_ratio", RATIO, "new watts over old watts")],
        run: |arguments, _| {
            let share = retrofit_ratio(chosen(arguments, "old")?, chosen(arguments, "new")?)?;
            Ok(Results::default()
                .put("input_ratio", share)
                .warn("By type, not by measurement: single motors differ widely."))
        },
    },
    Formula {
        name: "synchronous_speed",
        version: 1,
        about: "The speed of an induction motor's field.",
        symbols: "n_s = 120·f/p",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("poles", ValueType::Number, "p, even, 2 to 48"),
            HERTZ,
        ],
        gives: &[Output::of("speed", SPEED, "n_s")],
        run: |arguments, _| {
            let speed = synchronous_speed(hertz_of(arguments)?, poles_of(arguments)?)?;
            Ok(Results::default().put("speed", speed))
        },
    },
    Formula {
        name: "motor_slip",
        version: 1,
        about: "How far an induction motor lags behind its field; its poles by its speed.",
        symbols: "(n_s − n)/n_s",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("speed", SPEED, "n, measured at the shaft"),
            Parameter::optional("poles", ValueType::Number, "told by the speed", "p, even"),
            HERTZ,
        ],
        gives: &[
            Output::of("slip", RATIO, "the slip"),
            Output::of("poles", ValueType::Number, "p"),
        ],
        run: slip_of,
    },
    Formula {
        name: "apparent_power",
        version: 1,
        about: "Volts times amps. Not watts: EC and shaded-pole motors have a poor power factor.",
        symbols: "S = V·I",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[VOLTS, AMPS],
        gives: &[APPARENT],
        run: |arguments, _| {
            let apparent =
                apparent_power(given(arguments, "voltage")?, given(arguments, "current")?)?;
            Ok(Results::default()
                .with_si(
                    "apparent_power",
                    Kind::ApparentPower,
                    apparent.volt_amperes(),
                )
                .warn("Volt-amperes are not watts; a wattmeter or the power factor is needed."))
        },
    },
    Formula {
        name: "true_power",
        version: 1,
        about: "Watts on one phase by volts, amps and power factor.",
        symbols: "P = V·I·pf",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            VOLTS,
            AMPS,
            Parameter::needed("power_factor", RATIO, "pf, 0 to 100 %, from a meter"),
        ],
        gives: &[Output::of("power", POWER, "P"), APPARENT],
        run: |arguments, _| {
            let apparent =
                apparent_power(given(arguments, "voltage")?, given(arguments, "current")?)?;
            let power = true_power(apparent, given(arguments, "power_factor")?)?;
            Ok(Results::default().put("power", power).with_si(
                "apparent_power",
                Kind::ApparentPower,
                apparent.volt_amperes(),
            ))
        },
    },
    Formula {
        name: "power_factor",
        version: 1,
        about: "The power factor that watts, volts and amps tell.",
        symbols: "pf = P/(V·I)",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("power", POWER, "P by a wattmeter"),
            VOLTS,
            AMPS,
        ],
        gives: &[Output::of("power_factor", RATIO, "pf")],
        run: |arguments, _| {
            let apparent =
                apparent_power(given(arguments, "voltage")?, given(arguments, "current")?)?;
            let factor = power_factor(given(arguments, "power")?, apparent)?;
            Ok(Results::default().put("power_factor", factor))
        },
    },
    Formula {
        name: "fan_box_heat",
        version: 1,
        about: "The heat that a fan brings into the box, motor and blade being inside.",
        symbols: "Q = P; 1 W = 3.412 Btu/h",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[Parameter::needed(
            "input",
            POWER,
            "P, the fan's input power",
        )],
        gives: &[Output::of("heat", POWER, "Q, heat into the box")],
        run: |arguments, _| {
            let heat = box_heat(given(arguments, "input")?)?;
            let sentence = format!("{:.0} Btu/h of heat for the coil to take away.", {
                heat.si() * BTU_PER_HOUR_PER_WATT
            });
            Ok(Results::default().put("heat", heat).say(sentence))
        },
    },
    Formula {
        name: "direct_energy",
        version: 1,
        about: "Electricity by the motor alone over a time, without the compressor's part.",
        symbols: "E = P·t",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("power", POWER, "P, zero or above"),
            Parameter::needed("time", DURATION, "t, such as 8760 h for a year"),
        ],
        gives: &[Output::of("energy", ValueType::Quantity(Kind::Energy), "E")],
        run: |arguments, _| {
            let energy = direct_energy(given(arguments, "power")?, given(arguments, "time")?)?;
            Ok(Results::default().put("energy", energy))
        },
    },
];

fn input_by_type(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let shaft: Power = given(arguments, "shaft")?;
    let band = efficiency_band(chosen(arguments, "motor")?)?;
    let at = |share: f64| input_power(shaft, Ratio::new::<ratio>(share));
    Ok(Results::default()
        .put("input", at(band.likely())?)
        .put("low", at(band.high())?)
        .put("high", at(band.low())?)
        .warn("Estimated by motor type; a wattmeter tells."))
}

fn efficiency(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let motor = chosen(arguments, "motor")?;
    let by = maybe_chosen(arguments, "by")?.unwrap_or(EfficiencySource::EnergyDepartment);
    let share = efficiency_by(motor, by)?;
    let band = efficiency_band(motor)?;
    Ok(Results::default()
        .put("efficiency", share)
        .put("low", Ratio::new::<ratio>(band.low()))
        .put("high", Ratio::new::<ratio>(band.high()))
        .warn("By type, not by measurement: single motors differ widely."))
}

fn hertz_of(arguments: &Arguments) -> Result<uom::si::f64::Frequency, CannotWorkOut> {
    Ok(maybe(arguments, "frequency")?
        .unwrap_or_else(|| uom::si::f64::Frequency::new::<uom::si::frequency::hertz>(60.0)))
}

fn poles_of(arguments: &Arguments) -> Result<u32, CannotWorkOut> {
    let poles = arguments.number("poles")?;
    if poles.fract() == 0.0 && (2.0..=48.0).contains(&poles) {
        return Ok(poles as u32);
    }
    Err(CannotWorkOut(format!(
        "A motor cannot have {poles} poles; it has 2, 4, 6 or another even number up to 48."
    )))
}

fn slip_of(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let measured = given(arguments, "speed")?;
    let frequency = hertz_of(arguments)?;
    let poles = if arguments.has("poles") {
        poles_of(arguments)?
    } else {
        poles_by_speed(measured, frequency)?
    };
    let share = slip(measured, synchronous_speed(frequency, poles)?)?;
    Ok(Results::default()
        .put("slip", share)
        .with("poles", Value::Number(f64::from(poles))))
}
