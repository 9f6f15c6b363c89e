//! Quantities whose kind is known only at run time.
//!
//! The formulas of this module's siblings take `uom` types. A flow, a reading typed on a phone
//! and the `work-out` command meet quantities by name; they use [`Quantity`], which carries its
//! [`Kind`] and its value in the SI unit of that kind.

use std::fmt;

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

const fn unit(
    kind: Kind,
    symbol: &'static str,
    literal: &'static str,
    scale: f64,
    typed: &'static [&'static str],
) -> Unit {
    Unit { symbol, literal, typed, kind, scale, offset: 0.0 }
}

const fn offset(mut unit: Unit, offset: f64) -> Unit {
    unit.offset = offset;
    unit
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
const POUND: f64 = 0.453_592_37;
const PSI: f64 = 6_894.757_293_168;
const BTU: f64 = 1_055.055_852_62;
const RPM: f64 = std::f64::consts::TAU / 60.0;
const FAHRENHEIT: f64 = 5.0 / 9.0;
const FAHRENHEIT_ZERO: f64 = 459.67 * FAHRENHEIT;
/// One inch of water at 39 °F (4 °C), in pascals.
const INCH_WATER: f64 = 249.088_91;
const KILOWATT_HOUR: f64 = 3.6e6;

/// Every unit that a flow may name or a person may type. The first of a kind is its usual one.
///
/// Factors are the exact definitions of NIST Special Publication 811 (2008), Appendix B,
/// where exact ones exist; the inch of water is the conventional one (4 °C).
pub const UNITS: &[Unit] = &[
    unit(Kind::Voltage, "V", "volt", 1.0, &["v", "volt", "volts", "vac", "vdc"]),
    unit(Kind::Voltage, "mV", "millivolt", 1e-3, &["mv", "millivolt", "millivolts"]),
    unit(Kind::Voltage, "kV", "kilovolt", 1e3, &["kv"]),
    unit(Kind::Current, "A", "amp", 1.0, &["a", "amp", "amps", "ampere", "amperes"]),
    unit(Kind::Current, "mA", "milliamp", 1e-3, &["ma", "milliamp", "milliamps"]),
    unit(Kind::Power, "W", "watt", 1.0, &["w", "watt", "watts"]),
    unit(Kind::Power, "kW", "kilowatt", 1e3, &["kw"]),
    unit(Kind::Power, "hp", "horsepower", 745.699_871_582_270_2, &["hp", "horsepower"]),
    unit(Kind::Power, "Btu/h", "btu_per_hour", BTU / 3600.0, &["btu/h", "btuh", "btu/hr"]),
    unit(Kind::ApparentPower, "VA", "volt_amp", 1.0, &["va"]),
    unit(Kind::Resistance, "Ω", "ohm", 1.0, &["ω", "ohm", "ohms", "r"]),
    unit(Kind::Resistance, "kΩ", "kiloohm", 1e3, &["kω", "kohm", "kohms", "k"]),
    unit(Kind::Resistance, "MΩ", "megohm", 1e6, &["mω", "mohm", "megohm", "megohms", "meg"]),
    unit(Kind::Capacitance, "µF", "microfarad", 1e-6, &["µf", "μf", "uf", "mfd", "microfarad"]),
    unit(Kind::Capacitance, "F", "farad", 1.0, &["f", "farad"]),
    unit(Kind::Frequency, "Hz", "hertz", 1.0, &["hz", "hertz"]),
    unit(Kind::RotationalSpeed, "rpm", "rpm", RPM, &["rpm", "r/min", "1/min"]),
    unit(Kind::Length, "in", "inch", INCH, &["in", "inch", "inches", "\"", "″", "”"]),
    unit(Kind::Length, "ft", "foot", FOOT, &["ft", "foot", "feet", "'", "′"]),
    unit(Kind::Length, "mm", "millimetre", 1e-3, &["mm"]),
    unit(Kind::Length, "cm", "centimetre", 1e-2, &["cm"]),
    unit(Kind::Length, "m", "metre", 1.0, &["m", "metre", "meter", "metres", "meters"]),
    unit(Kind::Area, "ft²", "square_foot", FOOT * FOOT, &["ft2", "ft²", "sqft"]),
    unit(Kind::Area, "in²", "square_inch", INCH * INCH, &["in2", "in²", "sqin"]),
    unit(Kind::Area, "m²", "square_metre", 1.0, &["m2", "m²"]),
    unit(Kind::Area, "cmil", "circular_mil", 5.067_074_790_974_977e-10, &["cmil"]),
    unit(Kind::Volume, "ft³", "cubic_foot", FOOT * FOOT * FOOT, &["ft3", "ft³", "cuft"]),
    unit(Kind::Volume, "m³", "cubic_metre", 1.0, &["m3", "m³"]),
    unit(Kind::AirFlow, "cfm", "cfm", FOOT * FOOT * FOOT / 60.0, &["cfm", "ft3/min", "ft³/min"]),
    unit(Kind::AirFlow, "m³/h", "cubic_metre_per_hour", 1.0 / 3600.0, &["m3/h", "m³/h", "cmh"]),
    unit(Kind::AirFlow, "L/s", "litre_per_second", 1e-3, &["l/s"]),
    unit(Kind::Velocity, "fpm", "fpm", FOOT / 60.0, &["fpm", "ft/min"]),
    unit(Kind::Velocity, "m/s", "metre_per_second", 1.0, &["m/s"]),
    unit(Kind::Pressure, "in wg", "inch_water", INCH_WATER, &["inwg", "inwc", "inh2o", "\"wg", "\"wc"]),
    unit(Kind::Pressure, "Pa", "pascal", 1.0, &["pa", "pascal"]),
    unit(Kind::Pressure, "kPa", "kilopascal", 1e3, &["kpa"]),
    unit(Kind::Pressure, "psia", "psia", PSI, &["psia"]),
    unit(Kind::GaugePressure, "psig", "psig", PSI, &["psig", "psi"]),
    unit(Kind::GaugePressure, "barg", "barg", 1e5, &["barg", "bar"]),
    unit(Kind::GaugePressure, "kPag", "kilopascal_gauge", 1e3, &["kpag"]),
    offset(
        unit(Kind::Temperature, "°F", "deg_f", FAHRENHEIT, &["°f", "f", "degf", "fahrenheit"]),
        FAHRENHEIT_ZERO,
    ),
    offset(
        unit(Kind::Temperature, "°C", "deg_c", 1.0, &["°c", "c", "degc", "celsius"]),
        273.15,
    ),
    unit(Kind::Temperature, "K", "kelvin", 1.0, &["k", "kelvin"]),
    unit(Kind::TemperatureDifference, "F°", "diff_f", FAHRENHEIT, &["f°", "°f", "f", "degf"]),
    unit(Kind::TemperatureDifference, "K", "diff_k", 1.0, &["k", "°c", "c", "degc"]),
    unit(Kind::Duration, "min", "minute", 60.0, &["min", "mins", "minute", "minutes"]),
    unit(Kind::Duration, "s", "second", 1.0, &["s", "sec", "secs", "second", "seconds"]),
    unit(Kind::Duration, "h", "hour", 3600.0, &["h", "hr", "hrs", "hour", "hours"]),
    unit(Kind::Duration, "d", "day", 86_400.0, &["d", "day", "days"]),
    unit(Kind::Duration, "yr", "year", 365.0 * 86_400.0, &["yr", "y", "year", "years"]),
    unit(Kind::Mass, "lb", "pound", POUND, &["lb", "lbs", "pound", "pounds"]),
    unit(Kind::Mass, "kg", "kilogram", 1.0, &["kg"]),
    unit(Kind::Mass, "g", "gram", 1e-3, &["g"]),
    unit(
        Kind::Density,
        "lb/ft³",
        "pound_per_cubic_foot",
        POUND / (FOOT * FOOT * FOOT),
        &["lb/ft3", "lb/ft³"],
    ),
    unit(Kind::Density, "kg/m³", "kilogram_per_cubic_metre", 1.0, &["kg/m3", "kg/m³"]),
    unit(Kind::Energy, "kWh", "kilowatt_hour", KILOWATT_HOUR, &["kwh"]),
    unit(Kind::Energy, "MWh", "megawatt_hour", 1e3 * KILOWATT_HOUR, &["mwh"]),
    unit(Kind::Energy, "Btu", "btu", BTU, &["btu"]),
    unit(Kind::Energy, "J", "joule", 1.0, &["j", "joule"]),
    unit(Kind::SpecificEnergy, "Btu/lb", "btu_per_pound", BTU / POUND, &["btu/lb"]),
    unit(Kind::SpecificEnergy, "kJ/kg", "kilojoule_per_kilogram", 1e3, &["kj/kg"]),
    unit(
        Kind::SpecificHeat,
        "Btu/lb·°F",
        "btu_per_pound_degree",
        BTU / (POUND * FAHRENHEIT),
        &["btu/lb·°f", "btu/lb.f", "btu/lbf", "btu/lb·f"],
    ),
    unit(
        Kind::SpecificHeat,
        "kJ/kg·K",
        "kilojoule_per_kilogram_kelvin",
        1e3,
        &["kj/kg·k", "kj/kg.k", "kj/kgk"],
    ),
    unit(
        Kind::Angle,
        "°",
        "degree",
        std::f64::consts::PI / 180.0,
        &["°", "deg", "degree", "degrees"],
    ),
    unit(Kind::FinPitch, "fpi", "fins_per_inch", 1.0 / INCH, &["fpi", "fins/in", "fin/in"]),
    unit(Kind::FinPitch, "fins/m", "fins_per_metre", 1.0, &["fins/m"]),
    unit(Kind::CoolingEfficiency, "W/W", "watt_per_watt", 1.0, &["w/w", "cop"]),
    unit(
        Kind::CoolingEfficiency,
        "Btu/Wh",
        "btu_per_watt_hour",
        BTU / 3600.0,
        &["btu/wh", "btu/w.h", "btu/w·h", "eer"],
    ),
    unit(
        Kind::EnergyPrice,
        "per kWh",
        "per_kilowatt_hour",
        1.0 / KILOWATT_HOUR,
        &["perkwh", "/kwh", "usd/kwh", "$/kwh", "eur/kwh", "€/kwh", "gbp/kwh", "£/kwh"],
    ),
    unit(
        Kind::EmissionFactor,
        "lb/kWh",
        "pound_per_kilowatt_hour",
        POUND / KILOWATT_HOUR,
        &["lb/kwh", "lbs/kwh"],
    ),
    unit(
        Kind::EmissionFactor,
        "lb/MWh",
        "pound_per_megawatt_hour",
        POUND / (1e3 * KILOWATT_HOUR),
        &["lb/mwh", "lbs/mwh"],
    ),
    unit(
        Kind::EmissionFactor,
        "kg/kWh",
        "kilogram_per_kilowatt_hour",
        1.0 / KILOWATT_HOUR,
        &["kg/kwh"],
    ),
    unit(
        Kind::EmissionFactor,
        "g/kWh",
        "gram_per_kilowatt_hour",
        1e-3 / KILOWATT_HOUR,
        &["g/kwh"],
    ),
    unit(Kind::Ratio, "%", "percent", 1e-2, &["%", "percent", "pct"]),
    unit(Kind::Ratio, "×", "ratio", 1.0, &["×", "x", "ratio", "factor"]),
];

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
        KIND_WORDS.iter().find(|(kind, _)| *kind == self).map_or("number", |(_, word)| word)
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
        Kind::all().iter().find_map(|(kind, _)| Unit::typed(*kind, text))
    }

    /// A quantity of `value` in this unit.
    pub fn of(&self, value: f64) -> Quantity {
        Quantity { kind: self.kind, si: value * self.scale + self.offset }
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

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.show(self.kind.usual_unit()))
    }
}

/// Text such as `208 V` for an SI value, in the unit whose literal is `literal`.
pub(crate) fn shown(literal: &str, si: f64) -> String {
    match Unit::of_literal(literal) {
        Some(unit) => Quantity { kind: unit.kind, si }.show(unit),
        None => plain_number(si),
    }
}

/// A number as a person reads it: four significant digits, no trailing zeros, a comma for
/// thousands from 10,000 on, a real minus sign never.
pub fn plain_number(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { "0".into() } else { value.to_string() };
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
    let (sign, digits) = text.strip_prefix('-').map_or(("", text.as_str()), |rest| ("-", rest));
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
