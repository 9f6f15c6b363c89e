//! The gains as named formulas of a flow and of the `work-out` command.

mod single;
mod whole;

use uom::si::f64::Ratio;
use uom::si::ratio::ratio;

use super::cop_from_eer;
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, ValueType,
};
use crate::trade::quantity::{Kind, Unit};

const SCHEME: &str = "New South Wales Energy Savings Scheme, HEAB activity F5, rules as code";

const COP: Parameter = Parameter::optional(
    "cop",
    ValueType::Number,
    "the EER is given instead",
    "coefficient of performance COP of the whole system, W/W, 0.2 to 18",
);
const EER: Parameter = Parameter::optional(
    "eer",
    ValueType::Quantity(Kind::CoolingEfficiency),
    "the COP is given instead",
    "energy efficiency ratio EER, Btu/Wh, above 0 to 60",
);
const BEFORE: Parameter = Parameter::needed(
    "watts_before",
    ValueType::Quantity(Kind::Power),
    "electrical input W_old of one old motor, W",
);
const AFTER: Parameter = Parameter::needed(
    "watts_after",
    ValueType::Quantity(Kind::Power),
    "electrical input W_new of one new motor, W",
);
const MOTORS: Parameter = Parameter::optional(
    "motors",
    ValueType::Number,
    "1 motor",
    "how many motors n were replaced, 1 to 100",
);
const ENERGY: Parameter = Parameter::needed(
    "energy",
    ValueType::Quantity(Kind::Energy),
    "electricity E, kWh",
);

/// The named formulas of this topic.
pub const FORMULAS: &[Formula] = &[
    Formula {
        name: "gains",
        version: 1,
        about: "All that a replacement gains: watts, box heat, kWh, money, carbon dioxide, \
                payback, coil capacity and running time, each low, likely and high.",
        symbols: "ΔE = n (W_old − W_new) h (1 + 1/COP); money = ΔE × price; CO₂ = ΔE × f; \
                  payback = cost / money a year",
        source: SCHEME,
        confidence: Confidence::Computed,
        takes: whole::TAKES,
        gives: whole::GIVES,
        run: whole::run,
    },
    Formula {
        name: "cop_from_eer",
        version: 1,
        about: "The coefficient of performance of an energy efficiency ratio.",
        symbols: "COP = EER / 3.412",
        source: "unit definition, NIST SP 811:2008",
        confidence: Confidence::Computed,
        takes: &[Parameter::needed(
            "eer",
            ValueType::Quantity(Kind::CoolingEfficiency),
            "energy efficiency ratio EER, Btu/Wh, above 0 to 60",
        )],
        gives: &[Output::of(
            "cop",
            ValueType::Quantity(Kind::CoolingEfficiency),
            "coefficient of performance, W/W",
        )],
        run: single::cop_of_eer,
    },
    Formula {
        name: "interactive_factor",
        version: 1,
        about: "How many watts the meter saves for every fan watt saved inside the box.",
        symbols: "1 + 1/COP = 1 + 3.412/EER",
        source: SCHEME,
        confidence: Confidence::Computed,
        takes: &[COP, EER],
        gives: &[Output::of(
            "factor",
            ValueType::Number,
            "watts at the meter per fan watt",
        )],
        run: single::factor,
    },
    Formula {
        name: "watts_saved",
        version: 1,
        about: "Input watts saved by all replaced motors, and the box heat that goes with them.",
        symbols: "ΔW = n (W_old − W_new)",
        source: "arithmetic; all fan power becomes heat in the box (first law)",
        confidence: Confidence::Computed,
        takes: &[BEFORE, AFTER, MOTORS],
        gives: &[
            Output::of(
                "saved",
                ValueType::Quantity(Kind::Power),
                "input watts saved, W",
            ),
            Output::of(
                "heat",
                ValueType::Quantity(Kind::Power),
                "box heat less, Btu/h",
            ),
        ],
        run: single::watts,
    },
    Formula {
        name: "energy_saved",
        version: 1,
        about: "Electricity saved in a year by the fans and the compressor.",
        symbols: "ΔkWh = (W_old − W_new)/1000 · n · h · (1 + 1/COP)",
        source: SCHEME,
        confidence: Confidence::Computed,
        takes: &[BEFORE, AFTER, MOTORS, whole::HOURS, COP, EER],
        gives: &[
            Output::of(
                "energy",
                ValueType::Quantity(Kind::Energy),
                "saved a year, kWh",
            ),
            Output::of(
                "compressor_energy",
                ValueType::Quantity(Kind::Energy),
                "the compressor's part of it, kWh",
            ),
        ],
        run: single::energy,
    },
    Formula {
        name: "lifetime_energy_saved",
        version: 1,
        about: "What an energy-savings scheme credits over a motor's life; its coefficients are \
                the scheme's own.",
        symbols: "((P (a − avg) + b)(1 + 1/COP) h L)/1000",
        source: SCHEME,
        confidence: Confidence::Computed,
        takes: single::LIFETIME,
        gives: &[Output::of(
            "energy",
            ValueType::Quantity(Kind::Energy),
            "in a life, MWh",
        )],
        run: single::lifetime,
    },
    Formula {
        name: "energy_cost",
        version: 1,
        about: "What an amount of electricity costs.",
        symbols: "money = E × price",
        source: "arithmetic",
        confidence: Confidence::Computed,
        takes: &[ENERGY, single::PRICE],
        gives: &[Output::of(
            "money",
            ValueType::Number,
            "in the money of the price",
        )],
        run: single::cost,
    },
    Formula {
        name: "carbon_dioxide",
        version: 1,
        about: "The carbon dioxide of an amount of electricity.",
        symbols: "m = E f",
        source: "arithmetic; the factor is a named row of a region and a year",
        confidence: Confidence::Computed,
        takes: &[ENERGY, whole::REGION, whole::YEAR, whole::FACTOR],
        gives: &[Output::of(
            "mass",
            ValueType::Quantity(Kind::Mass),
            "carbon dioxide, lb",
        )],
        run: single::carbon,
    },
    Formula {
        name: "emission_factor",
        version: 1,
        about: "The carbon dioxide of a kilowatt-hour in a region and a year.",
        symbols: "f(region, year)",
        source: "named rows: US EIA State Electricity Profiles, US EPA eGRID",
        confidence: Confidence::Seen,
        takes: &[
            whole::REGION,
            Parameter::needed("year", ValueType::Number, "year of the factor"),
        ],
        gives: &[Output::of(
            "factor",
            ValueType::Quantity(Kind::EmissionFactor),
            "carbon dioxide of electricity, lb/kWh",
        )],
        run: single::emission,
    },
    Formula {
        name: "power_at_speed",
        version: 1,
        about: "The most that a lower fan speed can save, by the cube law.",
        symbols: "P₂ = P₁ (n₂/n₁)³",
        source: "fan laws, ANSI/AMCA 210",
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed(
                "full_power",
                ValueType::Quantity(Kind::Power),
                "power P₁ at full speed, W",
            ),
            Parameter::needed(
                "speed_ratio",
                ValueType::Number,
                "new speed over full speed n₂/n₁, above 0 to 1.5",
            ),
        ],
        gives: &[Output::of(
            "power",
            ValueType::Quantity(Kind::Power),
            "power P₂, W",
        )],
        run: single::cube,
    },
    Formula {
        name: "capacity_freed",
        version: 1,
        about: "The share of the coil's capacity that fan heat no longer takes, and the \
                compressor time that saves.",
        symbols: "Q_fan / Q_coil",
        source: "energy balance of the box; all fan power becomes heat in the box (first law)",
        confidence: Confidence::Computed,
        takes: single::FREED,
        gives: &[
            Output::of(
                "share",
                ValueType::Quantity(Kind::Ratio),
                "share of the capacity, %",
            ),
            Output::of(
                "run_time_less",
                ValueType::Quantity(Kind::Duration),
                "compressor time less, a day",
            ),
        ],
        run: single::freed,
    },
    Formula {
        name: "payback",
        version: 1,
        about: "How long the saved money takes to make up for the cost, without interest.",
        symbols: "t = cost / money a year",
        source: "arithmetic",
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed(
                "cost",
                ValueType::Number,
                "what the replacement cost in all",
            ),
            Parameter::needed("money_a_year", ValueType::Number, "money saved a year"),
        ],
        gives: &[Output::of(
            "payback",
            ValueType::Quantity(Kind::Duration),
            "payback time, years",
        )],
        run: single::payback,
    },
];

/// The COP under `cop` or, by its EER, under `eer`; `None` where neither is given.
fn cop(arguments: &Arguments) -> Result<Option<Ratio>, CannotWorkOut> {
    match (arguments.has("cop"), arguments.has("eer")) {
        (true, true) => Err(CannotWorkOut(
            "Give either the COP or the EER, not both.".into(),
        )),
        (true, false) => Ok(Some(Ratio::new::<ratio>(arguments.number("cop")?))),
        (false, true) => {
            let eer = arguments.quantity("eer", Kind::CoolingEfficiency)?;
            let unit = Unit::of_literal("btu_per_watt_hour");
            cop_from_eer(unit.map_or(eer.si, |unit| eer.in_unit(unit))).map(Some)
        }
        (false, false) => Ok(None),
    }
}

fn needed_cop(arguments: &Arguments) -> Result<Ratio, CannotWorkOut> {
    cop(arguments)?.ok_or_else(|| {
        CannotWorkOut("Give the COP, such as 2.5, or the EER, such as 8.5 Btu/Wh.".into())
    })
}

/// The count under `motors`, one where it is not given.
fn motors(arguments: &Arguments) -> Result<u32, CannotWorkOut> {
    if !arguments.has("motors") {
        return Ok(1);
    }
    let count = arguments.number("motors")?;
    if count.fract() == 0.0 && (1.0..=100.0).contains(&count) {
        Ok(count as u32)
    } else {
        Err(CannotWorkOut(
            "motors must be a whole number from 1 to 100.".into(),
        ))
    }
}
