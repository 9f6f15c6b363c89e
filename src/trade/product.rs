//! How long the product and the ice take: minutes without air, and the melting of a coil.

use uom::si::energy::joule;
use uom::si::f64::{
    Energy, Mass, Power, Ratio, SpecificHeatCapacity, TemperatureInterval,
    ThermodynamicTemperature, Time,
};
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::specific_heat_capacity::joule_per_kilogram_kelvin;
use uom::si::temperature_interval::kelvin as kelvin_apart;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::quantity::{Kind, plain_number};
use super::rows;
use super::spread::Spread;

/// Heat of melting of ice at 32 °F (0 °C), J/kg: 144 Btu/lb.
const MELTING: f64 = 333_550.0;
/// Specific heat of ice near its melting point, J/(kg·K): 0.50 Btu/lb·°F.
const ICE_SPECIFIC_HEAT: f64 = 2_100.0;
/// Where ice melts, K.
const FREEZING: f64 = 273.15;
/// Longer than this is not told in minutes: 30 days.
const LONGEST: f64 = 30.0 * 86_400.0;

/// What is in the box and how it warms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Product {
    /// Its mass.
    pub mass: Mass,
    /// Its specific heat, without freezing or thawing.
    pub specific_heat: Spread<SpecificHeatCapacity>,
    /// Its temperature when the fan stopped.
    pub start: ThermodynamicTemperature,
    /// The temperature that it must not pass.
    pub limit: ThermodynamicTemperature,
}

/// The time until the product reaches its limit: t = m c (T_limit − T_start) / Q.
///
/// `heat` Q is all that gets into the box without cooling. The product is taken to be at one
/// temperature, which flatters: its surface is ahead of the mean. Zero where the limit is passed
/// already. Not valid where the product thaws on the way; there the time is longer.
///
/// # Errors
/// When mass or heat are not above zero.
///
/// Source: energy balance of the box (first law).
pub fn time_to_limit(
    product: &Product,
    heat: Spread<Power>,
) -> Result<Spread<Time>, CannotWorkOut> {
    if product.mass.value <= 0.0 || product.mass.is_nan() {
        return Err(CannotWorkOut(
            "The product's mass must be above zero.".into(),
        ));
    }
    if heat.low().value <= 0.0 || heat.low().is_nan() {
        return Err(CannotWorkOut(
            "The heat into the box must be above zero.".into(),
        ));
    }
    let rise = (product.limit.get::<kelvin>() - product.start.get::<kelvin>()).max(0.0);
    let rise = TemperatureInterval::new::<kelvin_apart>(rise);
    let mass = product.mass;
    Ok(product.specific_heat.with(&heat, |specific, heat| {
        let energy: Energy = mass * specific * rise;
        energy / heat
    }))
}

/// The time to melt `ice` on a coil: t = m (c (T_melt − T_ice) + h) / (P η).
///
/// `heaters` P is the electrical input of the heaters, `share` η the part of it that reaches
/// the ice, above 0 and at most 1.
///
/// # Errors
/// When the mass or power is not above zero, the share is out of range, or the ice is above its
/// melting point.
///
/// Source: heat of melting 333.55 kJ/kg and specific heat of ice 2.1 kJ/kg·K, ASHRAE Handbook,
/// Fundamentals (2017), ch. 1 and 33, rounded.
pub fn melt_time(
    ice: Mass,
    ice_temperature: ThermodynamicTemperature,
    heaters: Power,
    share: Spread<Ratio>,
) -> Result<Spread<Time>, CannotWorkOut> {
    if !(ice.value > 0.0 && heaters.get::<watt>() > 0.0) {
        return Err(CannotWorkOut(
            "The ice's mass and the heaters' power must be above zero.".into(),
        ));
    }
    if !(share.low().value > 0.0 && share.high().value <= 1.0) {
        return Err(CannotWorkOut(
            "The share of heat that reaches the ice must lie above 0% and at most at 100%.".into(),
        ));
    }
    let below = FREEZING - ice_temperature.get::<kelvin>();
    if !(0.0..=100.0).contains(&below) {
        return Err(CannotWorkOut(
            "Ice is at 32 °F or colder, down to -148 °F; check its temperature.".into(),
        ));
    }
    let energy = Energy::new::<joule>(ice.value * (ICE_SPECIFIC_HEAT * below + MELTING));
    Ok(share.map(|share| energy / (heaters * share)))
}

const TEMPERATURE: ValueType = ValueType::Quantity(Kind::Temperature);
const POWER: ValueType = ValueType::Quantity(Kind::Power);
const MASS: ValueType = ValueType::Quantity(Kind::Mass);
const DURATION: ValueType = ValueType::Quantity(Kind::Duration);

/// The named formulas of this topic.
pub const FORMULAS: &[Formula] = &[
    Formula {
        name: "product_clock",
        version: 1,
        about: "How long the product may stand without air before it passes its limit; the \
                owner decides when to move it.",
        symbols: "t = m c (T_limit − T_start) / Q",
        source: "energy balance of the box (first law); specific heats are rows from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("mass", MASS, "mass of the product m, lb"),
            Parameter::needed("start", TEMPERATURE, "product temperature now T_start, °F"),
            Parameter::needed("limit", TEMPERATURE, "temperature not to pass T_limit, °F"),
            Parameter::needed(
                "heat_low",
                POWER,
                "least heat into the box without cooling Q, Btu/h",
            ),
            Parameter::needed(
                "heat_high",
                POWER,
                "most heat into the box without cooling Q, Btu/h",
            ),
            Parameter::optional(
                "without_air",
                DURATION,
                "0 min",
                "how long the fans have stood still already",
            ),
        ],
        gives: &[
            Output::of("time_low", DURATION, "time left, at least, min"),
            Output::of("time", DURATION, "time left, likely, min"),
            Output::of("time_high", DURATION, "time left, at most, min"),
        ],
        run: product_clock,
    },
    Formula {
        name: "melt_time",
        version: 1,
        about: "How long the coil's own heaters take to melt the ice on it.",
        symbols: "t = m (c (T_melt − T_ice) + h) / (P η)",
        source: "ASHRAE Handbook, Fundamentals (2017), ch. 1 and 33; the share of the heat is a \
                 row from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("ice", MASS, "mass of the ice m, lb, above 0"),
            Parameter::needed(
                "ice_temperature",
                TEMPERATURE,
                "temperature T_ice, up to 32 °F",
            ),
            Parameter::needed(
                "heaters",
                POWER,
                "input of the defrost heaters P, W, above 0",
            ),
        ],
        gives: &[
            Output::of("time", DURATION, "melting time, likely, min"),
            Output::of("time_low", DURATION, "melting time, at least, min"),
            Output::of("time_high", DURATION, "melting time, at most, min"),
        ],
        run: melting,
    },
];

fn row_spread(name: &str) -> Result<Spread<f64>, CannotWorkOut> {
    let value = |end: &str| {
        let name = format!("{name}_{end}");
        rows::row(&name)
            .map(|row| row.si)
            .ok_or_else(|| CannotWorkOut(format!("The row {name} is missing from the tables.")))
    };
    Spread::new(value("low")?, value("likely")?, value("high")?)
}

fn temperature(
    arguments: &Arguments,
    name: &str,
) -> Result<ThermodynamicTemperature, CannotWorkOut> {
    Ok(ThermodynamicTemperature::new::<kelvin>(
        arguments.si(name, Kind::Temperature)?,
    ))
}

fn product_clock(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let start = temperature(arguments, "start")?;
    let frozen = start.get::<kelvin>() < FREEZING;
    let name = if frozen {
        "specific_heat_frozen"
    } else {
        "specific_heat_chilled"
    };
    let heat = |name: &str| arguments.si(name, Kind::Power).map(Power::new::<watt>);
    let (low, high) = (heat("heat_low")?, heat("heat_high")?);
    let product = Product {
        mass: Mass::new::<uom::si::mass::kilogram>(arguments.si("mass", Kind::Mass)?),
        specific_heat: row_spread(name)?
            .map(SpecificHeatCapacity::new::<joule_per_kilogram_kelvin>),
        start,
        limit: temperature(arguments, "limit")?,
    };
    let gone = arguments
        .si_or("without_air", Kind::Duration, 0.0)?
        .max(0.0);
    let left = time_to_limit(&product, Spread::new(low, (low + high) / 2.0, high)?)?
        .map(|time| (time.get::<second>() - gone).clamp(0.0, LONGEST));
    let results = Results::default()
        .with_si("time_low", Kind::Duration, left.low())
        .with_si("time", Kind::Duration, left.likely())
        .with_si("time_high", Kind::Duration, left.high())
        .warn("The surface of the product and the boxes near the door warm first.")
        .say(clock_sentence(left));
    Ok(if frozen && product.limit.get::<kelvin>() > FREEZING {
        results.warn("Thawing is not counted: a product that thaws takes longer to this limit.")
    } else {
        results
    })
}

fn clock_sentence(left: Spread<f64>) -> String {
    if left.low() <= 0.0 {
        return "The product may have passed its limit already; tell the owner now.".into();
    }
    format!(
        "Without air the product has about {} min, perhaps only {} min; the owner decides when \
         to move it.",
        whole_minutes(left.likely()),
        whole_minutes(left.low())
    )
}

/// Minutes rounded down: nobody is told more time than there is.
fn whole_minutes(seconds: f64) -> String {
    plain_number((seconds / 60.0).floor())
}

fn melting(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let time = melt_time(
        Mass::new::<uom::si::mass::kilogram>(arguments.si("ice", Kind::Mass)?),
        temperature(arguments, "ice_temperature")?,
        Power::new::<watt>(arguments.si("heaters", Kind::Power)?),
        row_spread("defrost_share")?.map(Ratio::new::<ratio>),
    )?
    .map(|time| time.get::<second>());
    Ok(Results::default()
        .with_si("time", Kind::Duration, time.likely())
        .with_si("time_low", Kind::Duration, time.low())
        .with_si("time_high", Kind::Duration, time.high())
        .say(format!(
            "Melting takes about {} min, {} to {} min; look at the coil, not at the clock.",
            whole_minutes(time.likely()),
            whole_minutes(time.low()),
            whole_minutes(time.high())
        )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::mass::kilogram;

    fn clock(start: f64, limit: f64) -> Spread<f64> {
        let product = Product {
            mass: Mass::new::<kilogram>(1000.0),
            specific_heat: Spread::exactly(SpecificHeatCapacity::new::<joule_per_kilogram_kelvin>(
                3600.0,
            )),
            start: ThermodynamicTemperature::new::<kelvin>(start),
            limit: ThermodynamicTemperature::new::<kelvin>(limit),
        };
        let heat = Spread::new(1000.0, 1500.0, 2000.0)
            .unwrap()
            .map(Power::new::<watt>);
        time_to_limit(&product, heat)
            .unwrap()
            .map(|time| time.get::<second>())
    }

    #[test]
    fn more_heat_leaves_less_time() {
        // 1000 kg × 3600 J/kg·K × 2 K = 7.2 MJ.
        let left = clock(275.0, 277.0);
        assert_eq!(
            (left.low(), left.likely(), left.high()),
            (3600.0, 4800.0, 7200.0)
        );
    }

    #[test]
    fn a_product_past_its_limit_has_no_time() {
        assert_eq!(clock(280.0, 277.0), Spread::exactly(0.0));
        assert!(clock_sentence(Spread::exactly(0.0)).contains("tell the owner now"));
    }

    #[test]
    fn one_kilogram_of_ice_at_its_melting_point_takes_its_heat_of_melting() {
        // 333.55 kJ from 1 kW of heat: 333.55 s (heat of melting, 144 Btu/lb).
        let time = melt_time(
            Mass::new::<kilogram>(1.0),
            ThermodynamicTemperature::new::<kelvin>(273.15),
            Power::new::<watt>(1000.0),
            Spread::exactly(Ratio::new::<ratio>(1.0)),
        );
        assert!((time.unwrap().likely().get::<second>() - 333.55).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let melt = |ice: f64, at: f64, watts: f64, share: f64| {
            melt_time(
                Mass::new::<kilogram>(ice),
                ThermodynamicTemperature::new::<kelvin>(at),
                Power::new::<watt>(watts),
                Spread::exactly(Ratio::new::<ratio>(share)),
            )
        };
        assert!(melt(0.0, 260.0, 1000.0, 0.5).is_err());
        assert!(melt(1.0, 280.0, 1000.0, 0.5).is_err());
        assert!(melt(1.0, 260.0, 0.0, 0.5).is_err());
        assert!(melt(1.0, 260.0, 1000.0, 1.5).is_err());
    }
}
