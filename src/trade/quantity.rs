//! Quantities whose kind is known only at run time.
//!
//! The formulas of this module's siblings take `uom` types. A flow, a reading typed on a phone
//! and the `work-out` command meet quantities by name; they use [`Quantity`], which carries its
//! [`Kind`] and its value in the SI unit of that kind.

mod units;

use std::fmt;

pub use units::UNITS;

use serde::{Deserialize, Serialize};

/// What a quantity measures. Two quantities can be compared or added only within one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Electrical potential, volts.
    Voltage,
    /// Electrical current, amperes.
    Current,
    /// True power, watts. Also heat flow (Btu/h).
    Power,
    /// Volts times amperes. Never called watts.
    ApparentPower,
    /// Ohms.
    Resistance,
    /// Farads.
    Capacitance,
    /// Hertz.
    Frequency,
    /// Radians per second; shown in rpm.
    RotationalSpeed,
    /// Metres.
    Length,
    /// Square metres.
    Area,
    /// Cubic metres.
    Volume,
    /// Cubic metres per second; shown in cfm.
    AirFlow,
    /// Metres per second; shown in fpm.
    Velocity,
    /// Pascals, as a difference or absolute.
    Pressure,
    /// Pascals above the local atmosphere.
    GaugePressure,
    /// Kelvin, an absolute temperature.
    Temperature,
    /// Kelvin, a difference of two temperatures.
    TemperatureDifference,
    /// Seconds.
    Duration,
    /// Kilograms.
    Mass,
    /// Kilograms per cubic metre.
    Density,
    /// Joules.
    Energy,
    /// Joules per kilogram.
    SpecificEnergy,
    /// Joules per kilogram and kelvin.
    SpecificHeat,
    /// Radians.
    Angle,
    /// Fins per metre; shown in fins per inch.
    FinPitch,
    /// Cooling per electrical power: a coefficient of performance, or an EER in Btu/Wh.
    CoolingEfficiency,
    /// Money per joule, in whatever money the owner pays; shown per kWh.
    EnergyPrice,
    /// Kilograms of carbon dioxide per joule; shown in lb/kWh.
    EmissionFactor,
    /// A plain ratio; shown in percent.
    Ratio,
}

/// One unit of measure of one [`Kind`]: `si = value * scale + offset`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// The symbol shown behind a number.
    pub symbol: &'static str,
    /// The name of the literal in a flow's expressions: `volt(187)`.
    pub literal: &'static str,
    /// What people type, in lower case and without spaces.
    pub typed: &'static [&'static str],
    /// What it measures.
    pub kind: Kind,
    /// Multiplies a value in this unit.
    pub scale: f64,
    /// Is added after scaling; zero but for temperatures.
    pub offset: f64,
}

impl Kind {
    /// All units of this kind, the usual one first.
    pub fn units(self) -> impl Iterator<Item = &'static Unit> {
        UNITS.iter().filter(move |unit| unit.kind == self)
    }

    /// The unit shown when nothing else is asked for.
    pub fn usual_unit(self) -> &'static Unit {
        // The table has a unit of every kind (tested); the fallback keeps this total.
        self.units().next().unwrap_or(&UNITS[0])
    }

    /// The word for this kind in a sentence and in a flow: `voltage`, `air flow`.
    pub fn word(self) -> &'static str {
        KIND_WORDS
            .iter()
            .find(|(kind, _)| *kind == self)
            .map_or("number", |(_, word)| word)
    }

    /// The kind that a flow names in `measures: …` (`air_flow`), if there is one.
    pub fn named(name: &str) -> Option<Kind> {
        KIND_WORDS
            .iter()
            .find(|(_, word)| word.replace(' ', "_") == name)
            .map(|(kind, _)| *kind)
    }

    /// Every kind with its word, in the order of the reference.
    pub fn all() -> &'static [(Kind, &'static str)] {
        KIND_WORDS
    }
}

const KIND_WORDS: &[(Kind, &str)] = &[
    (Kind::Voltage, "voltage"),
    (Kind::Current, "current"),
    (Kind::Power, "power"),
    (Kind::ApparentPower, "apparent power"),
    (Kind::Resistance, "resistance"),
    (Kind::Capacitance, "capacitance"),
    (Kind::Frequency, "frequency"),
    (Kind::RotationalSpeed, "rotational speed"),
    (Kind::Length, "length"),
    (Kind::Area, "area"),
    (Kind::Volume, "volume"),
    (Kind::AirFlow, "air flow"),
    (Kind::Velocity, "velocity"),
    (Kind::Pressure, "pressure"),
    (Kind::GaugePressure, "gauge pressure"),
    (Kind::Temperature, "temperature"),
    (Kind::TemperatureDifference, "temperature difference"),
    (Kind::Duration, "duration"),
    (Kind::Mass, "mass"),
    (Kind::Density, "density"),
    (Kind::Energy, "energy"),
    (Kind::SpecificEnergy, "specific energy"),
    (Kind::SpecificHeat, "specific heat"),
    (Kind::Angle, "angle"),
    (Kind::FinPitch, "fin pitch"),
    (Kind::CoolingEfficiency, "cooling efficiency"),
    (Kind::EnergyPrice, "energy price"),
    (Kind::EmissionFactor, "emission factor"),
    (Kind::Ratio, "ratio"),
];

impl Unit {
    /// The unit whose expression literal is `name`.
    pub fn of_literal(name: &str) -> Option<&'static Unit> {
        UNITS.iter().find(|unit| unit.literal == name)
    }

    /// The unit of `kind` that a person means by `text`; spaces and case do not matter.
    pub fn typed(kind: Kind, text: &str) -> Option<&'static Unit> {
        // `m**3/h` and `m^3/h` are how some programs write m³/h.
        let folded: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && !matches!(c, '*' | '^'))
            .flat_map(char::to_lowercase)
            .collect();
        let millivolt_like = text.trim().starts_with('m');
        kind.units().find(|unit| {
            // "MΩ" and "mΩ" fold to the same text; nobody measures milliohms here, but a
            // lower-case m must not become a million.
            if unit.literal == "megohm" && millivolt_like && folded.ends_with('ω') {
                return false;
            }
            unit.typed.contains(&folded.as_str())
        })
    }

    /// Any unit that a person could mean by `text`, of whatever kind.
    pub fn typed_of_any_kind(text: &str) -> Option<&'static Unit> {
        Kind::all()
            .iter()
            .find_map(|(kind, _)| Unit::typed(*kind, text))
    }

    /// A quantity of `value` in this unit.
    pub fn of(&self, value: f64) -> Quantity {
        Quantity {
            kind: self.kind,
            si: value * self.scale + self.offset,
        }
    }
}

/// A number with its kind; the value is in the SI unit of the kind.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct Quantity {
    /// What it measures.
    pub kind: Kind,
    /// The value in the SI unit of the kind (kelvin, radians per second, cubic metres per second).
    pub si: f64,
}

impl Quantity {
    /// The value in `unit`.
    pub fn in_unit(&self, unit: &Unit) -> f64 {
        (self.si - unit.offset) / unit.scale
    }

    /// Text such as `208 V`, in `unit`, with as many digits as a person reads.
    pub fn show(&self, unit: &Unit) -> String {
        let number = plain_number(self.in_unit(unit));
        match unit.symbol {
            "%" | "°" => format!("{number}{}", unit.symbol),
            symbol => format!("{number} {symbol}"),
        }
    }
}

/// Values nearer to each other than this share of the larger one count as equal.
const EQUAL_WITHIN: f64 = 1e-12;

/// Whether two values differ by rounding alone, less than one part in 10¹².
///
/// A reading typed in one unit and a limit written in another carry that much: 12 in and 1 ft
/// are not the same double.
pub fn nearly_equal(one: f64, other: f64) -> bool {
    (one - other).abs() <= EQUAL_WITHIN * one.abs().max(other.abs())
}

/// Whether `value` lies between two ends, both included, give or take rounding.
pub fn is_within(value: f64, least: f64, most: f64) -> bool {
    (value >= least || nearly_equal(value, least)) && (value <= most || nearly_equal(value, most))
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.show(self.kind.usual_unit()))
    }
}

/// Text such as `208 V` for an SI value, in the unit whose literal is `literal`.
pub(crate) fn shown(literal: &str, si: f64) -> String {
    match Unit::of_literal(literal) {
        Some(unit) => Quantity {
            kind: unit.kind,
            si,
        }
        .show(unit),
        None => plain_number(si),
    }
}

/// A number as a person reads it: four significant digits, no trailing zeros, a comma for
/// thousands from 10,000 on, a real minus sign never.
pub fn plain_number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 {
            "0".into()
        } else {
            value.to_string()
        };
    }
    let digits_before = value.abs().log10().floor() as i32 + 1;
    let decimals = (4 - digits_before).clamp(0, 9) as usize;
    let mut text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    if text == "-0" {
        text = "0".into();
    }
    group_thousands(text)
}

fn group_thousands(text: String) -> String {
    let (sign, digits) = text
        .strip_prefix('-')
        .map_or(("", text.as_str()), |rest| ("-", rest));
    if digits.contains('.') || digits.len() < 5 {
        return text.clone();
    }
    let mut out = String::from(sign);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_a_usual_unit_and_a_word() {
        for (kind, word) in Kind::all() {
            assert_eq!(kind.usual_unit().kind, *kind, "{word}");
            assert_eq!(Kind::named(&word.replace(' ', "_")), Some(*kind));
        }
    }

    #[test]
    fn literals_are_unique() {
        for (index, unit) in UNITS.iter().enumerate() {
            let first = UNITS.iter().position(|other| other.literal == unit.literal);
            assert_eq!(first, Some(index), "{}", unit.literal);
        }
    }

    #[test]
    fn typed_units_are_found_within_their_kind() {
        assert_eq!(Unit::typed(Kind::Length, "\"").unwrap().symbol, "in");
        assert_eq!(Unit::typed(Kind::Temperature, "° F").unwrap().symbol, "°F");
        assert_eq!(Unit::typed(Kind::Current, "mA").unwrap().symbol, "mA");
        assert_eq!(Unit::typed(Kind::Resistance, "MΩ").unwrap().symbol, "MΩ");
        assert!(Unit::typed(Kind::Resistance, "mΩ").is_none());
        assert!(Unit::typed(Kind::Voltage, "A").is_none());
    }

    #[test]
    fn numbers_read_plainly() {
        for (value, text) in [
            (208.0, "208"),
            (0.5, "0.5"),
            (1550.0, "1550"),
            (12_345.6, "12,346"),
            (-12.20000001, "-12.2"),
            (0.012_345, "0.01235"),
        ] {
            assert_eq!(plain_number(value), text);
        }
    }

    #[test]
    fn temperatures_have_an_offset_and_differences_have_none() {
        let f = Unit::of_literal("deg_f").unwrap();
        assert!((f.of(38.0).si - 276.483_333).abs() < 1e-5);
        let d = Unit::of_literal("diff_f").unwrap();
        assert!((d.of(9.0).si - 5.0).abs() < 1e-12);
    }
}
