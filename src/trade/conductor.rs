//! Wires: their area, and their resistance at a temperature.

use uom::si::area::square_meter;
use uom::si::f64::{Area, ElectricalResistance, Length, Ratio, ThermodynamicTemperature};
use uom::si::length::foot;
use uom::si::thermodynamic_temperature::degree_celsius;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::quantity::Kind;
use super::typed::{
    LENGTH, Measured, RESISTANCE, TEMPERATURE, chosen, from_to, maybe, maybe_chosen, not_negative,
    result, row_value,
};
use super::worded::worded;

/// One circular mil in square metres: π/4 of a square thousandth of an inch.
pub(super) const CIRCULAR_MIL: f64 = 5.067_074_790_974_977e-10;
/// The table's resistances hold at this temperature, °C.
const TABLE_TEMPERATURE: f64 = 75.0;
/// The table lists ohms per this many feet.
const TABLE_FEET: f64 = 1000.0;

worded! {
    /// A copper wire size.
    pub enum Gauge {
        /// 18 AWG.
        Awg18 = "18",
        /// 16 AWG.
        Awg16 = "16",
        /// 14 AWG.
        Awg14 = "14",
        /// 12 AWG.
        Awg12 = "12",
        /// 10 AWG.
        Awg10 = "10",
        /// 8 AWG.
        Awg8 = "8",
    }
}

worded! {
    /// How a wire is made.
    pub enum Stranding {
        /// One solid wire.
        Solid = "solid",
        /// Seven strands.
        SevenStrand = "stranded7",
    }
}

worded! {
    /// What a wire is made of.
    pub enum Metal {
        /// Copper, uncoated.
        Copper = "copper",
        /// Aluminum.
        Aluminum = "aluminum",
    }
}

/// The area of a wire. Source: NEC Chapter 9 Table 8.
pub fn area(gauge: Gauge) -> Area {
    let circular_mils = match gauge {
        Gauge::Awg18 => 1_620.0,
        Gauge::Awg16 => 2_580.0,
        Gauge::Awg14 => 4_110.0,
        Gauge::Awg12 => 6_530.0,
        Gauge::Awg10 => 10_380.0,
        Gauge::Awg8 => 16_510.0,
    };
    Area::new::<square_meter>(circular_mils * CIRCULAR_MIL)
}

/// The direct-current resistance of one uncoated copper wire of `length` at 75 °C.
///
/// Source: NEC Chapter 9 Table 8; 8 AWG stranded from memory, behind its row.
///
/// # Errors
/// When the length is below zero.
#[expect(
    clippy::approx_constant,
    reason = "3.14 is the table's value for 14 AWG, not pi"
)]
pub fn table_resistance(
    gauge: Gauge,
    stranding: Stranding,
    length: Length,
) -> Result<ElectricalResistance, CannotWorkOut> {
    let (solid, stranded) = match gauge {
        Gauge::Awg18 => (7.77, 7.95),
        Gauge::Awg16 => (4.89, 4.99),
        Gauge::Awg14 => (3.07, 3.14),
        Gauge::Awg12 => (1.93, 1.98),
        Gauge::Awg10 => (1.21, 1.24),
        Gauge::Awg8 => {
            let stranded: ElectricalResistance = row_value("table_8_stranded_8_awg_per_kft")?;
            (0.764, stranded.si())
        }
    };
    let per_thousand_feet = match stranding {
        Stranding::Solid => solid,
        Stranding::SevenStrand => stranded,
    };
    let feet = not_negative("The length", length)? / Length::new::<foot>(1.0).si();
    result("The resistance", per_thousand_feet * feet / TABLE_FEET)
}

/// A conductor's resistance at another temperature: R₂ = R₁·(1 + α(T₂−75))/(1 + α(T₁−75)).
///
/// Source: NEC Chapter 9 Table 8 note 2; α is the row `copper_coefficient_at_75_c` or
/// `aluminum_coefficient_at_75_c`. Temperatures from −60 to 150 °C.
///
/// # Errors
/// When the resistance is below zero or a temperature is out of range.
pub fn at_temperature(
    resistance: ElectricalResistance,
    metal: Metal,
    from: ThermodynamicTemperature,
    to: ThermodynamicTemperature,
) -> Result<ElectricalResistance, CannotWorkOut> {
    let ohms = not_negative("The resistance", resistance)?;
    let coefficient: Ratio = row_value(match metal {
        Metal::Copper => "copper_coefficient_at_75_c",
        Metal::Aluminum => "aluminum_coefficient_at_75_c",
    })?;
    let factor = |at: ThermodynamicTemperature| -> Result<f64, CannotWorkOut> {
        let celsius = ThermodynamicTemperature::new::<degree_celsius>;
        from_to(
            "The conductor's temperature",
            at,
            celsius(-60.0),
            celsius(150.0),
        )?;
        Ok(1.0 + coefficient.si() * (at.get::<degree_celsius>() - TABLE_TEMPERATURE))
    };
    result("The resistance", ohms * factor(to)? / factor(from)?)
}

const TABLE_8: &str = "NEC Chapter 9 Table 8";
const GAUGE: Parameter = Parameter::needed("gauge", ValueType::Word(Gauge::WORDS), "AWG size");
const STRANDING: Parameter = Parameter::optional(
    "stranding",
    ValueType::Word(Stranding::WORDS),
    "solid",
    "how the wire is made",
);

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "conductor_area",
        version: 1,
        about: "The area of a wire of an AWG size.",
        symbols: "table",
        source: TABLE_8,
        confidence: Confidence::Seen,
        takes: &[GAUGE],
        gives: &[Output::of(
            "area",
            ValueType::Quantity(Kind::Area),
            "CM, the area",
        )],
        run: |arguments, _| Ok(Results::default().put("area", area(chosen(arguments, "gauge")?))),
    },
    Formula {
        name: "conductor_resistance",
        version: 1,
        about: "The resistance of one copper wire of a run at its temperature.",
        symbols: "R = R₇₅·L·(1 + α(T−75))",
        source: "NEC Chapter 9 Table 8 and its note 2",
        confidence: Confidence::Seen,
        takes: &[
            GAUGE,
            STRANDING,
            Parameter::optional("length", LENGTH, "1000 ft", "L, one way, zero or above"),
            Parameter::optional("temperature", TEMPERATURE, "75 °C", "T, −60 to 150 °C"),
        ],
        gives: &[Output::of(
            "resistance",
            RESISTANCE,
            "R of one conductor, one way",
        )],
        run: conductor_resistance,
    },
];

fn conductor_resistance(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let gauge = chosen(arguments, "gauge")?;
    let stranding = maybe_chosen(arguments, "stranding")?.unwrap_or(Stranding::Solid);
    let length = maybe(arguments, "length")?.unwrap_or(Length::new::<foot>(TABLE_FEET));
    let warm = ThermodynamicTemperature::new::<degree_celsius>(TABLE_TEMPERATURE);
    let table = table_resistance(gauge, stranding, length)?;
    let at = maybe(arguments, "temperature")?.unwrap_or(warm);
    let results = Results::default().put(
        "resistance",
        at_temperature(table, Metal::Copper, warm, at)?,
    );
    Ok(
        if (gauge, stranding) == (Gauge::Awg8, Stranding::SevenStrand) {
            results.warn("The table's value for stranded 8 AWG is from memory; confirm it.")
        } else {
            results
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn celsius(value: f64) -> ThermodynamicTemperature {
        ThermodynamicTemperature::new::<degree_celsius>(value)
    }

    fn thousand_feet(gauge: Gauge) -> ElectricalResistance {
        table_resistance(gauge, Stranding::Solid, Length::new::<foot>(1000.0)).unwrap()
    }

    /// Ohms per 1000 ft of solid copper at 20 °C: American wire table (NBS Handbook 100).
    #[test]
    fn corrected_to_20_c_the_table_meets_the_20_c_wire_table() {
        for (gauge, at_20) in [
            (Gauge::Awg18, 6.385),
            (Gauge::Awg14, 2.525),
            (Gauge::Awg12, 1.588),
            (Gauge::Awg10, 0.9989),
        ] {
            let cold = at_temperature(
                thousand_feet(gauge),
                Metal::Copper,
                celsius(75.0),
                celsius(20.0),
            )
            .unwrap();
            assert!(
                (cold.si() / at_20 - 1.0).abs() < 0.006,
                "{gauge:?} {}",
                cold.si()
            );
        }
    }

    #[test]
    fn a_freezer_run_has_a_third_less_resistance_than_the_table() {
        let cold = at_temperature(
            thousand_feet(Gauge::Awg12),
            Metal::Copper,
            celsius(75.0),
            celsius(-23.3),
        )
        .unwrap();
        assert!((1.0 - cold.si() / 1.93 - 0.32).abs() < 0.005);
    }

    proptest! {
        #[test]
        fn correcting_there_and_back_changes_nothing(
            ohms in 0.0_f64..1e4, from in -60.0_f64..150.0, to in -60.0_f64..150.0,
        ) {
            let start = ElectricalResistance::of_si(ohms);
            let there = at_temperature(start, Metal::Copper, celsius(from), celsius(to)).unwrap();
            let back = at_temperature(there, Metal::Copper, celsius(to), celsius(from)).unwrap();
            prop_assert!((back.si() - ohms).abs() <= 1e-9 * ohms);
        }
    }
}
