//! The run of `gains`: everything at once, low, likely and high.

use uom::si::energy::joule;
use uom::si::f64::{Power, Ratio, Time};
use uom::si::mass::kilogram;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::time::second;

use super::single::{emission_of, hours, row_words};
use super::{cop, motors};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::gains::{Estimate, Gains, Installation, KnownBy, Money, running_time};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;
use crate::trade::rows;
use crate::trade::spread::Spread;

pub(super) const HOURS: Parameter = Parameter::optional(
    "hours",
    ValueType::Quantity(Kind::Duration),
    "8760 h; a freezer's fans stand still in its defrosts",
    "hours a year that the fans run h, 0 h to 8784 h",
);
pub(super) const REGION: Parameter = Parameter::optional(
    "region",
    ValueType::Text,
    "us_average",
    "region of the emission factor, as in its row",
);
pub(super) const YEAR: Parameter = Parameter::optional(
    "year",
    ValueType::Number,
    "2022",
    "year of the emission factor",
);
pub(super) const FACTOR: Parameter = Parameter::optional(
    "emission_factor",
    ValueType::Quantity(Kind::EmissionFactor),
    "the row of region and year",
    "carbon dioxide of electricity f, lb/kWh",
);
const KNOWN_BEFORE: Parameter = Parameter::optional(
    "before_known_by",
    ValueType::Word(KnownBy::WORDS),
    "nameplate",
    "how the old watts are known; sets their spread",
);
const KNOWN_AFTER: Parameter = Parameter::optional(
    "after_known_by",
    ValueType::Word(KnownBy::WORDS),
    "nameplate",
    "how the new watts are known; sets their spread",
);

/// The inputs of `gains`.
pub(super) const TAKES: &[Parameter] = &[
    super::BEFORE,
    super::AFTER,
    super::MOTORS,
    KNOWN_BEFORE,
    KNOWN_AFTER,
    Parameter::optional(
        "box_kind",
        ValueType::Word(&["cooler", "freezer"]),
        "cooler",
        "sets the COP and the hours where they are not given",
    ),
    super::COP,
    super::EER,
    HOURS,
    Parameter::optional(
        "coil_capacity",
        ValueType::Quantity(Kind::Power),
        "not worked out",
        "rated capacity of the coil, Btu/h",
    ),
    Parameter::optional(
        "price",
        ValueType::Quantity(Kind::EnergyPrice),
        "no money worked out",
        "price of electricity, per kWh, in the owner's money",
    ),
    Parameter::optional(
        "currency",
        ValueType::Text,
        "USD",
        "what the money is called",
    ),
    Parameter::optional(
        "cost",
        ValueType::Number,
        "no payback",
        "cost of the replacement",
    ),
    REGION,
    YEAR,
    FACTOR,
];

macro_rules! three {
    ($low:literal, $likely:literal, $high:literal, $type:expr, $about:literal) => {
        [
            Output::of($likely, $type, concat!($about, ", likely")),
            Output::of($low, $type, concat!($about, ", low")),
            Output::of($high, $type, concat!($about, ", high")),
        ]
    };
}

const POWER: ValueType = ValueType::Quantity(Kind::Power);
const ENERGY: ValueType = ValueType::Quantity(Kind::Energy);
const SAVED: [Output; 3] = three!(
    "saved_low",
    "saved",
    "saved_high",
    POWER,
    "watts saved by all motors"
);
const EACH: [Output; 3] = three!(
    "each_low",
    "each",
    "each_high",
    POWER,
    "watts saved by one motor"
);
const HEAT: [Output; 3] = three!(
    "heat_low",
    "heat",
    "heat_high",
    POWER,
    "box heat less, Btu/h"
);
const YEARLY: [Output; 3] = three!(
    "energy_low",
    "energy",
    "energy_high",
    ENERGY,
    "electricity saved a year, fans and compressor, kWh"
);
const COMPRESSOR: [Output; 3] = three!(
    "compressor_energy_low",
    "compressor_energy",
    "compressor_energy_high",
    ENERGY,
    "the compressor's part of it, kWh"
);
const CARBON: [Output; 3] = three!(
    "carbon_dioxide_low",
    "carbon_dioxide",
    "carbon_dioxide_high",
    ValueType::Quantity(Kind::Mass),
    "carbon dioxide less a year, lb"
);
const FREED: [Output; 3] = three!(
    "freed_low",
    "freed",
    "freed_high",
    ValueType::Quantity(Kind::Ratio),
    "share of the coil's capacity freed, where the capacity is given"
);
const RUN_TIME: [Output; 3] = three!(
    "run_time_less_low",
    "run_time_less",
    "run_time_less_high",
    ValueType::Quantity(Kind::Duration),
    "compressor time less a day, where the capacity is given"
);
const MONEY: [Output; 3] = three!(
    "money_low",
    "money",
    "money_high",
    ValueType::Number,
    "money saved a year, where the price is given"
);
const PAYBACK: [Output; 3] = three!(
    "payback_low",
    "payback",
    "payback_high",
    ValueType::Quantity(Kind::Duration),
    "payback time, where price and cost are given"
);
const SENTENCES: [Output; 2] = [
    Output::of("for_owner", ValueType::Text, "one sentence for the owner"),
    Output::of(
        "for_supervisor",
        ValueType::Text,
        "one sentence for the supervisor",
    ),
];

/// The results of `gains`.
pub(super) const GIVES: &[Output] = &{
    let [a, b, c] = SAVED;
    let [d, e, f] = EACH;
    let [g, h, i] = HEAT;
    let [j, k, l] = YEARLY;
    let [m, n, o] = COMPRESSOR;
    let [p, q, r] = CARBON;
    let [s, t, u] = FREED;
    let [v, w, x] = RUN_TIME;
    let [y, z, aa] = MONEY;
    let [bb, cc, dd] = PAYBACK;
    let [ee, ff] = SENTENCES;
    [
        a, b, c, d, e, f, g, h, i, j, k, l, m, n, o, p, q, r, s, t, u, v, w, x, y, z, aa, bb, cc,
        dd, ee, ff,
    ]
};

pub(super) fn run(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let mut assumed = Vec::new();
    let (emission, row) = emission_of(arguments)?;
    assumed.extend(row.map(row_words));
    let freezer = arguments.has("box_kind") && arguments.word("box_kind")? == "freezer";
    let installation = Installation {
        before: estimate(arguments, "watts_before", "before_known_by")?,
        after: estimate(arguments, "watts_after", "after_known_by")?,
        motors: motors(arguments)?,
        running: Spread::exactly(running(arguments, freezer, &mut assumed)?),
        cop: cop_spread(arguments, freezer, &mut assumed)?,
        coil_capacity: arguments
            .has("coil_capacity")
            .then(|| {
                arguments
                    .si("coil_capacity", Kind::Power)
                    .map(Power::new::<watt>)
            })
            .transpose()?,
        emission,
    };
    let gains = Gains::of(&installation, money(arguments)?.as_ref())?;
    let mut results = list(&gains)
        .with("for_owner", Value::Text(gains.owner_sentence()))
        .with(
            "for_supervisor",
            Value::Text(gains.supervisor_sentence(&installation)),
        )
        .say(gains.owner_sentence());
    results.warnings = assumed;
    Ok(results)
}

fn estimate(arguments: &Arguments, watts: &str, by: &str) -> Result<Estimate, CannotWorkOut> {
    let word = if arguments.has(by) {
        arguments.word(by)?
    } else {
        "nameplate"
    };
    let by = KnownBy::named(word).ok_or_else(|| {
        CannotWorkOut(format!(
            "{by} must be one of {}.",
            KnownBy::WORDS.join(", ")
        ))
    })?;
    Ok(Estimate {
        watts: Power::new::<watt>(arguments.si(watts, Kind::Power)?),
        by,
    })
}

fn row_value(name: &str) -> Result<f64, CannotWorkOut> {
    rows::row(name)
        .map(|row| row.si)
        .ok_or_else(|| CannotWorkOut(format!("The row {name} is missing from the tables.")))
}

fn running(
    arguments: &Arguments,
    freezer: bool,
    assumed: &mut Vec<String>,
) -> Result<Time, CannotWorkOut> {
    if arguments.has("hours") || !freezer {
        return hours(arguments);
    }
    assumed.push(
        "Hours a year assumed: the fans run but for 4 defrosts a day of 20 min (from memory)."
            .into(),
    );
    let length = Time::new::<second>(row_value("defrost_length_freezer")?);
    running_time(row_value("defrosts_per_day_freezer")?, length)
}

fn cop_spread(
    arguments: &Arguments,
    freezer: bool,
    assumed: &mut Vec<String>,
) -> Result<Spread<Ratio>, CannotWorkOut> {
    if let Some(cop) = cop(arguments)? {
        return Ok(Spread::exactly(cop));
    }
    let kind = if freezer { "freezer" } else { "cooler" };
    assumed.push(format!(
        "COP assumed from reference values for a {kind} (from memory)."
    ));
    let value = |name: String| row_value(&name).map(Ratio::new::<ratio>);
    Spread::new(
        value(format!("cop_{kind}_low"))?,
        value(format!("eer_{kind}"))?,
        value(format!("cop_{kind}_high"))?,
    )
}

fn money(arguments: &Arguments) -> Result<Option<Money>, CannotWorkOut> {
    if !arguments.has("price") {
        return Ok(None);
    }
    let price = arguments.si("price", Kind::EnergyPrice)?;
    if price < 0.0 {
        return Err(CannotWorkOut("price cannot be below zero.".into()));
    }
    let currency = if arguments.has("currency") {
        arguments.word("currency")?
    } else {
        "USD"
    };
    let cost = arguments
        .has("cost")
        .then(|| arguments.number("cost"))
        .transpose()?;
    if cost.is_some_and(|cost| cost < 0.0) {
        return Err(CannotWorkOut("cost cannot be below zero.".into()));
    }
    Ok(Some(Money {
        price,
        currency: currency.to_owned(),
        cost,
    }))
}

fn list(gains: &Gains) -> Results {
    let mut results = Results::default();
    let mut quantity = |outputs: &[Output; 3], kind: Kind, spread: Spread<f64>| {
        let values = [spread.likely(), spread.low(), spread.high()];
        for (output, si) in outputs.iter().zip(values) {
            results = std::mem::take(&mut results).with_si(output.name, kind, si);
        }
    };
    let watts = |power: Power| power.get::<watt>();
    quantity(&SAVED, Kind::Power, gains.site.map(watts));
    quantity(&EACH, Kind::Power, gains.per_motor.map(watts));
    quantity(&HEAT, Kind::Power, gains.site.map(watts));
    quantity(
        &YEARLY,
        Kind::Energy,
        gains.energy.map(|energy| energy.get::<joule>()),
    );
    quantity(
        &COMPRESSOR,
        Kind::Energy,
        gains.compressor.map(|energy| energy.get::<joule>()),
    );
    quantity(
        &CARBON,
        Kind::Mass,
        gains.carbon_dioxide.map(|mass| mass.get::<kilogram>()),
    );
    if let Some(freed) = gains.freed {
        quantity(&FREED, Kind::Ratio, freed.map(|share| share.get::<ratio>()));
    }
    if let Some(less) = gains.run_time_less {
        quantity(
            &RUN_TIME,
            Kind::Duration,
            less.map(|time| time.get::<second>()),
        );
    }
    if let Some(payback) = gains.payback {
        quantity(
            &PAYBACK,
            Kind::Duration,
            payback.map(|time| time.get::<second>()),
        );
    }
    if let Some((money, _)) = &gains.money {
        let values = [money.likely(), money.low(), money.high()];
        for (output, value) in MONEY.iter().zip(values) {
            results = results.with(output.name, Value::Number(value));
        }
    }
    results
}
