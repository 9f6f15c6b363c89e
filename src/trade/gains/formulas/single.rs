//! The runs of the single gains: one formula, one number.

use uom::si::energy::joule;
use uom::si::f64::{Energy, MassPerEnergy, Power, Ratio, Time};
use uom::si::mass::kilogram;
use uom::si::mass_per_energy::kilogram_per_joule;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::time::second;

use super::{motors, needed_cop};
use crate::trade::formula::{Arguments, CannotWorkOut, Parameter, Results, Value, ValueType};
use crate::trade::gains::{
    capacity_freed, carbon_dioxide, emission_factor, emission_row, energy_saved,
    interactive_factor, lifetime_energy, power_at_speed, run_time_less, watts_saved, year,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;
use crate::trade::rows::Row;

type Outcome = Result<Results, CannotWorkOut>;

pub(super) const PRICE: Parameter = Parameter::needed(
    "price",
    ValueType::Quantity(Kind::EnergyPrice),
    "price of electricity, per kWh, in the owner's money",
);

pub(super) const LIFETIME: &[Parameter] = &[
    Parameter::needed(
        "power",
        ValueType::Quantity(Kind::Power),
        "new motor's input P, kW",
    ),
    Parameter::needed(
        "coefficient_a",
        ValueType::Number,
        "the scheme's coefficient a",
    ),
    Parameter::optional(
        "coefficient_b",
        ValueType::Quantity(Kind::Power),
        "0 kW",
        "the scheme's coefficient b, kW",
    ),
    Parameter::optional(
        "average",
        ValueType::Number,
        "1, a motor of one speed",
        "mean share of full power avg of a variable-speed motor, 0 to 1",
    ),
    super::COP,
    super::EER,
    super::whole::HOURS,
    Parameter::needed("life", ValueType::Quantity(Kind::Duration), "life L, years"),
];

pub(super) const FREED: &[Parameter] = &[
    Parameter::needed(
        "heat",
        ValueType::Quantity(Kind::Power),
        "fan heat no longer put into the box Q_fan, Btu/h or W",
    ),
    Parameter::needed(
        "coil_capacity",
        ValueType::Quantity(Kind::Power),
        "rated capacity of the coil Q_coil, Btu/h",
    ),
    Parameter::optional(
        "fan_time",
        ValueType::Quantity(Kind::Duration),
        "24 h",
        "time a day that the fans run, up to 24 h",
    ),
];

fn power(arguments: &Arguments, name: &str) -> Result<Power, CannotWorkOut> {
    Ok(Power::new::<watt>(arguments.si(name, Kind::Power)?))
}

fn energy_of(arguments: &Arguments) -> Result<Energy, CannotWorkOut> {
    Ok(Energy::new::<joule>(arguments.si("energy", Kind::Energy)?))
}

/// Hours run in a year: at least nothing, at most the year.
pub(super) fn hours(arguments: &Arguments) -> Result<Time, CannotWorkOut> {
    let hours =
        Time::new::<second>(arguments.si_or("hours", Kind::Duration, year().get::<second>())?);
    if hours >= Time::new::<second>(0.0) && hours <= year() * (366.0 / 365.0) {
        Ok(hours)
    } else {
        Err(CannotWorkOut(
            "hours must lie between 0 h and 8784 h, the hours of a year.".into(),
        ))
    }
}

pub(super) fn cop_of_eer(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let cop = needed_cop(arguments)?;
    Ok(Results::default().with_si("cop", Kind::CoolingEfficiency, cop.get::<ratio>()))
}

pub(super) fn factor(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let factor = interactive_factor(needed_cop(arguments)?)?;
    Ok(Results::default().with("factor", Value::Number(factor.get::<ratio>())))
}

pub(super) fn watts(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let saved = watts_saved(
        power(arguments, "watts_before")?,
        power(arguments, "watts_after")?,
        motors(arguments)?,
    )
    .get::<watt>();
    Ok(Results::default()
        .with_si("saved", Kind::Power, saved)
        .with_si("heat", Kind::Power, saved))
}

pub(super) fn energy(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let saved = watts_saved(
        power(arguments, "watts_before")?,
        power(arguments, "watts_after")?,
        motors(arguments)?,
    );
    let time = hours(arguments)?;
    let energy = energy_saved(saved, time, needed_cop(arguments)?)?;
    let compressor = energy - saved * time;
    Ok(Results::default()
        .with_si("energy", Kind::Energy, energy.get::<joule>())
        .with_si("compressor_energy", Kind::Energy, compressor.get::<joule>())
        .warn("The COP must be that of the whole system at its suction level."))
}

pub(super) fn lifetime(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let a = arguments.number("coefficient_a")?;
    let b = Power::new::<watt>(arguments.si_or("coefficient_b", Kind::Power, 0.0)?);
    let average = if arguments.has("average") {
        arguments.number("average")?
    } else {
        1.0
    };
    if !(0.0..=1.0).contains(&average) {
        return Err(CannotWorkOut("average must lie between 0 and 1.".into()));
    }
    let years = Time::new::<second>(arguments.si("life", Kind::Duration)?) / year();
    let running = hours(arguments)? * years.get::<ratio>();
    let energy = lifetime_energy(
        power(arguments, "power")?,
        (a, b),
        Ratio::new::<ratio>(average),
        running,
        needed_cop(arguments)?,
    )?;
    Ok(Results::default().with_si("energy", Kind::Energy, energy.get::<joule>()))
}

pub(super) fn cost(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let money = arguments.si("energy", Kind::Energy)? * arguments.si("price", Kind::EnergyPrice)?;
    Ok(Results::default().with("money", Value::Number(money)))
}

/// The emission factor under `emission_factor`, else of the region's and year's row.
pub(super) fn emission_of(
    arguments: &Arguments,
) -> Result<(MassPerEnergy, Option<&'static Row>), CannotWorkOut> {
    if arguments.has("emission_factor") {
        let factor = arguments.si("emission_factor", Kind::EmissionFactor)?;
        return Ok((MassPerEnergy::new::<kilogram_per_joule>(factor), None));
    }
    let region = if arguments.has("region") {
        arguments.word("region")?
    } else {
        "us_average"
    };
    let year = if arguments.has("year") {
        arguments.number("year")?
    } else {
        2022.0
    };
    if year.fract() != 0.0 || !(1990.0..=2200.0).contains(&year) {
        return Err(CannotWorkOut("year must be a year such as 2022.".into()));
    }
    let row = emission_row(region, year as u16)?;
    Ok((emission_factor(row), Some(row)))
}

pub(super) fn carbon(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let (factor, row) = emission_of(arguments)?;
    let mass = carbon_dioxide(energy_of(arguments)?, factor);
    let results = Results::default().with_si("mass", Kind::Mass, mass.get::<kilogram>());
    Ok(match row {
        Some(row) => results.warn(row_words(row)),
        None => results,
    })
}

/// Where a row's value comes from, for the reader of a result.
pub(super) fn row_words(row: &Row) -> String {
    let (about, unit) = (row.about, row.quantity());
    format!("Counted with {unit}: {about}. Source: {}.", row.source)
}

pub(super) fn emission(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let (factor, row) = emission_of(arguments)?;
    let results = Results::default().with_si(
        "factor",
        Kind::EmissionFactor,
        factor.get::<kilogram_per_joule>(),
    );
    Ok(match row {
        Some(row) => results.warn(row_words(row)),
        None => results,
    })
}

pub(super) fn cube(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let speed = Ratio::new::<ratio>(arguments.number("speed_ratio")?);
    let power = power_at_speed(power(arguments, "full_power")?, speed)?;
    Ok(Results::default()
        .with_si("power", Kind::Power, power.get::<watt>())
        .warn("An upper bound of the saving: motor and drive get less efficient at low speed."))
}

pub(super) fn freed(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let (heat, capacity) = (
        power(arguments, "heat")?,
        power(arguments, "coil_capacity")?,
    );
    let day = arguments.si_or("fan_time", Kind::Duration, 86_400.0)?;
    if !(0.0..=86_400.0).contains(&day) {
        return Err(CannotWorkOut(
            "fan_time must lie between 0 h and 24 h a day.".into(),
        ));
    }
    let share = capacity_freed(heat, capacity)?;
    let less = run_time_less(heat, capacity, Time::new::<second>(day))?;
    Ok(Results::default()
        .with_si("share", Kind::Ratio, share.get::<ratio>())
        .with_si("run_time_less", Kind::Duration, less.get::<second>()))
}

pub(super) fn payback(arguments: &Arguments, _: &Goods<'_>) -> Outcome {
    let (cost, money) = (arguments.number("cost")?, arguments.number("money_a_year")?);
    if cost < 0.0 {
        return Err(CannotWorkOut("cost cannot be below zero.".into()));
    }
    if money <= 0.0 {
        return Err(CannotWorkOut(
            "Nothing is saved in a year, so the cost is never paid back.".into(),
        ));
    }
    let time = year().get::<second>() * cost / money;
    Ok(Results::default().with_si("payback", Kind::Duration, time))
}
