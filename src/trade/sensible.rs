//! Sensible heat carried by an air stream, with the true factor instead of 1.08.

use uom::si::f64::{Power, Ratio, TemperatureInterval, VolumeRate, VolumetricHeatCapacity};
use uom::si::power::watt;
use uom::si::temperature_interval::kelvin;
use uom::si::volume_rate::cubic_meter_per_second;
use uom::si::volumetric_heat_capacity::joule_per_cubic_meter_kelvin;

use super::air::MoistAir;
use super::air::formulas::{self as air, air_of};
use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::goods::Goods;
use super::quantity::{Kind, shown};

/// One Btu/(lb·°F) in J/(kg·K), by definition.
const BTU_PER_POUND_DEGREE: f64 = 4_186.8;
/// One Btu/h per cfm·°F in J/(m³·K).
const TRADE_FACTOR: f64 = 1_055.055_852_62 / 3_600.0 / (0.304_8 * 0.304_8 * 0.304_8 / 60.0) * 1.8;
/// The rule-of-thumb factor, Btu/h per cfm·°F: 60 × 0.075 × 0.24.
const RULE_OF_THUMB: f64 = 1.08;

/// Heat that each volume of this air gives up per degree: (0.240 + 0.444·W)/v.
///
/// In the trade's units 60·(0.240 + 0.444·W)/v Btu/h per cfm·°F. From the enthalpy and volume
/// relations of ASHRAE Handbook, Fundamentals (2017), ch. 1, eqs. 26 and 30. The common 1.08 is
/// this at 70 °F and sea level; in a freezer it reads 13 to 17 % low.
pub fn factor(air: &MoistAir) -> VolumetricHeatCapacity {
    let heat = (0.240 + 0.444 * air.humidity_ratio().value) * BTU_PER_POUND_DEGREE;
    VolumetricHeatCapacity::new::<joule_per_cubic_meter_kelvin>(heat / air.specific_volume().value)
}

/// The factor in Btu/h per cfm·°F, as the trade knows it.
pub fn trade_factor(air: &MoistAir) -> f64 {
    factor(air).get::<joule_per_cubic_meter_kelvin>() / TRADE_FACTOR
}

/// Sensible heat `q` of an air flow `Q` whose temperature changes by `Δt`: q = factor·Q·Δt.
///
/// `air` is the air where the flow is measured.
///
/// # Errors
/// When the flow or the difference is negative or not a number.
pub fn heat(
    air: &MoistAir,
    flow: VolumeRate,
    difference: TemperatureInterval,
) -> Result<Power, CannotWorkOut> {
    let flow = not_negative(flow.get::<cubic_meter_per_second>(), "air flow", "1000 cfm")?;
    let difference = not_negative(
        difference.get::<kelvin>(),
        "temperature difference",
        "10 F°",
    )?;
    Ok(Power::new::<watt>(factor(air).value * flow * difference))
}

/// The air flow that carries the heat `q` at the difference `Δt`, the inverse of [`heat`].
///
/// # Errors
/// When the heat is negative or the difference is not above zero.
pub fn flow_for_heat(
    air: &MoistAir,
    heat: Power,
    difference: TemperatureInterval,
) -> Result<VolumeRate, CannotWorkOut> {
    let heat = not_negative(heat.get::<watt>(), "heat", "12,000 Btu/h")?;
    let difference = not_negative(
        difference.get::<kelvin>(),
        "temperature difference",
        "10 F°",
    )?;
    let flow = heat / (factor(air).value * difference);
    if !flow.is_finite() {
        return Err(CannotWorkOut(
            "The temperature difference is too small to carry heat: give the drop of the air \
             across the coil, such as 10 F°."
                .into(),
        ));
    }
    Ok(VolumeRate::new::<cubic_meter_per_second>(flow))
}

/// How far the rule of thumb 1.08 is off for this air: true factor over 1.08, minus one.
pub fn rule_of_thumb_error(air: &MoistAir) -> Ratio {
    Ratio::new::<uom::si::ratio::ratio>(trade_factor(air) / RULE_OF_THUMB - 1.0)
}

fn not_negative(value: f64, what: &str, example: &str) -> Result<f64, CannotWorkOut> {
    if value.is_finite() && value >= 0.0 {
        return Ok(value);
    }
    Err(CannotWorkOut(format!(
        "The {what} must be zero or more, such as {example}."
    )))
}

const SOURCE: &str = "ASHRAE Handbook, Fundamentals (2017), ch. 1";

const FLOW: Parameter = Parameter {
    name: "air_flow",
    takes: ValueType::Quantity(Kind::AirFlow),
    unless_given: None,
    about: "Q, air flow through the coil, zero or more",
};

const DIFFERENCE: Parameter = Parameter {
    name: "difference",
    takes: ValueType::Quantity(Kind::TemperatureDifference),
    unless_given: None,
    about: "Δt, air on minus air off",
};

/// What a flow or the `work-out` command may ask about sensible heat.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "sensible_factor",
        version: 1,
        about: "The heat factor of this air, in place of the rule-of-thumb 1.08.",
        symbols: "60·(0.240 + 0.444·W)/v",
        source: SOURCE,
        confidence: Confidence::Computed,
        takes: &[air::TEMPERATURE, air::HUMIDITY, air::ALTITUDE],
        gives: &[Output {
            name: "factor",
            gives: ValueType::Number,
            about: "Btu/h per cfm and °F",
        }],
        run: run_factor,
    },
    Formula {
        name: "sensible_heat",
        version: 1,
        about: "The sensible heat that an air flow gives to the coil.",
        symbols: "q = 60·(0.240 + 0.444·W)/v · Q · Δt",
        source: SOURCE,
        confidence: Confidence::Computed,
        takes: &[
            FLOW,
            DIFFERENCE,
            air::TEMPERATURE,
            air::HUMIDITY,
            air::ALTITUDE,
        ],
        gives: &[Output {
            name: "heat",
            gives: ValueType::Quantity(Kind::Power),
            about: "q, sensible only: no moisture or frost counted",
        }],
        run: run_heat,
    },
    Formula {
        name: "air_flow_for_heat",
        version: 1,
        about: "The air flow that a coil needs to take up a sensible heat.",
        symbols: "Q = q / (60·(0.240 + 0.444·W)/v · Δt)",
        source: SOURCE,
        confidence: Confidence::Computed,
        takes: &[
            Parameter {
                name: "heat",
                takes: ValueType::Quantity(Kind::Power),
                unless_given: None,
                about: "q, sensible heat, zero or more",
            },
            DIFFERENCE,
            air::TEMPERATURE,
            air::HUMIDITY,
            air::ALTITUDE,
        ],
        gives: &[Output {
            name: "air_flow",
            gives: ValueType::Quantity(Kind::AirFlow),
            about: "Q, at the state of the given air",
        }],
        run: run_flow,
    },
];

fn difference_of(arguments: &Arguments) -> Result<TemperatureInterval, CannotWorkOut> {
    let si = arguments.si(DIFFERENCE.name, Kind::TemperatureDifference)?;
    Ok(TemperatureInterval::new::<kelvin>(si))
}

fn run_factor(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let air = air_of(arguments)?;
    let results = Results::default().with("factor", Value::Number(trade_factor(&air)));
    let error = rule_of_thumb_error(&air).value;
    let results = if error.abs() > 0.02 {
        let way = if error > 0.0 { "low" } else { "high" };
        let share = shown("percent", error.abs() / (1.0 + error));
        results.say(format!(
            "The usual 1.08 would read about {share} {way} here."
        ))
    } else {
        results.say("The usual 1.08 is close enough here.")
    };
    Ok(air::note_altitude(arguments, results))
}

fn run_heat(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let air = air_of(arguments)?;
    let flow = VolumeRate::new::<cubic_meter_per_second>(arguments.si(FLOW.name, Kind::AirFlow)?);
    let heat = heat(&air, flow, difference_of(arguments)?)?.value;
    let results = Results::default()
        .with_si("heat", Kind::Power, heat)
        .say(format!(
            "The air gives the coil {} of sensible heat.",
            shown("btu_per_hour", heat)
        ));
    Ok(air::note_altitude(arguments, results))
}

fn run_flow(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let air = air_of(arguments)?;
    let heat = Power::new::<watt>(arguments.si("heat", Kind::Power)?);
    let flow = flow_for_heat(&air, heat, difference_of(arguments)?)?;
    let results = Results::default().with_si("air_flow", Kind::AirFlow, flow.value);
    Ok(air::note_altitude(arguments, results))
}
