//! The table of every unit, with its factor to the SI unit of its kind.

use super::{Kind, Unit};

const fn unit(
    kind: Kind,
    symbol: &'static str,
    literal: &'static str,
    scale: f64,
    typed: &'static [&'static str],
) -> Unit {
    Unit {
        symbol,
        literal,
        typed,
        kind,
        scale,
        offset: 0.0,
    }
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
/// One inch of water at 68 °F: 0.9982 g/cm³ times standard gravity, in pascals.
const INCH_WATER_68_F: f64 = 0.9982e3 * 9.806_65 * INCH;
/// One inch of mercury, conventional, in pascals.
const INCH_MERCURY: f64 = 3_386.389;
const KILOWATT_HOUR: f64 = 3.6e6;

/// Every unit that a flow may name or a person may type. The first of a kind is its usual one.
///
/// Factors are the exact definitions of NIST Special Publication 811 (2008), Appendix B,
/// where exact ones exist; the inch of water is the conventional one (4 °C).
pub const UNITS: &[Unit] = &[
    unit(
        Kind::Voltage,
        "V",
        "volt",
        1.0,
        &["v", "volt", "volts", "vac", "vdc"],
    ),
    unit(
        Kind::Voltage,
        "mV",
        "millivolt",
        1e-3,
        &["mv", "millivolt", "millivolts"],
    ),
    unit(Kind::Voltage, "kV", "kilovolt", 1e3, &["kv"]),
    unit(
        Kind::Current,
        "A",
        "amp",
        1.0,
        &["a", "amp", "amps", "ampere", "amperes"],
    ),
    unit(
        Kind::Current,
        "mA",
        "milliamp",
        1e-3,
        &["ma", "milliamp", "milliamps"],
    ),
    unit(Kind::Power, "W", "watt", 1.0, &["w", "watt", "watts"]),
    unit(Kind::Power, "kW", "kilowatt", 1e3, &["kw"]),
    unit(
        Kind::Power,
        "hp",
        "horsepower",
        745.699_871_582_270_2,
        &["hp", "horsepower"],
    ),
    unit(
        Kind::Power,
        "Btu/h",
        "btu_per_hour",
        BTU / 3600.0,
        &["btu/h", "btuh", "btu/hr"],
    ),
    unit(Kind::ApparentPower, "VA", "volt_amp", 1.0, &["va"]),
    unit(
        Kind::Resistance,
        "Ω",
        "ohm",
        1.0,
        &["ω", "ohm", "ohms", "r"],
    ),
    unit(
        Kind::Resistance,
        "kΩ",
        "kiloohm",
        1e3,
        &["kω", "kohm", "kohms", "k"],
    ),
    unit(
        Kind::Resistance,
        "MΩ",
        "megohm",
        1e6,
        &["mω", "mohm", "megohm", "megohms", "meg"],
    ),
    unit(
        Kind::Capacitance,
        "µF",
        "microfarad",
        1e-6,
        &["µf", "μf", "uf", "mfd", "microfarad"],
    ),
    unit(Kind::Capacitance, "F", "farad", 1.0, &["f", "farad"]),
    unit(Kind::Frequency, "Hz", "hertz", 1.0, &["hz", "hertz"]),
    unit(
        Kind::RotationalSpeed,
        "rpm",
        "rpm",
        RPM,
        &["rpm", "r/min", "1/min"],
    ),
    unit(
        Kind::Length,
        "in",
        "inch",
        INCH,
        &["in", "inch", "inches", "\"", "″", "”"],
    ),
    unit(
        Kind::Length,
        "ft",
        "foot",
        FOOT,
        &["ft", "foot", "feet", "'", "′"],
    ),
    unit(Kind::Length, "mm", "millimetre", 1e-3, &["mm"]),
    unit(Kind::Length, "cm", "centimetre", 1e-2, &["cm"]),
    unit(
        Kind::Length,
        "m",
        "metre",
        1.0,
        &["m", "metre", "meter", "metres", "meters"],
    ),
    unit(
        Kind::Area,
        "ft²",
        "square_foot",
        FOOT * FOOT,
        &["ft2", "ft²", "sqft"],
    ),
    unit(
        Kind::Area,
        "in²",
        "square_inch",
        INCH * INCH,
        &["in2", "in²", "sqin"],
    ),
    unit(Kind::Area, "m²", "square_metre", 1.0, &["m2", "m²"]),
    unit(
        Kind::Area,
        "cmil",
        "circular_mil",
        5.067_074_790_974_977e-10,
        &["cmil"],
    ),
    unit(
        Kind::Volume,
        "ft³",
        "cubic_foot",
        FOOT * FOOT * FOOT,
        &["ft3", "ft³", "cuft"],
    ),
    unit(Kind::Volume, "m³", "cubic_metre", 1.0, &["m3", "m³"]),
    unit(
        Kind::Volume,
        "gal",
        "gallon",
        231.0 * INCH * INCH * INCH,
        &["gal", "gallon", "gallons", "usgal"],
    ),
    unit(
        Kind::Volume,
        "L",
        "litre",
        1e-3,
        &["l", "litre", "litres", "liter", "liters"],
    ),
    unit(
        Kind::AirFlow,
        "cfm",
        "cfm",
        FOOT * FOOT * FOOT / 60.0,
        &["cfm", "ft3/min", "ft³/min"],
    ),
    unit(
        Kind::AirFlow,
        "m³/h",
        "cubic_metre_per_hour",
        1.0 / 3600.0,
        &["m3/h", "m³/h", "cmh"],
    ),
    unit(Kind::AirFlow, "L/s", "litre_per_second", 1e-3, &["l/s"]),
    unit(
        Kind::Velocity,
        "fpm",
        "fpm",
        FOOT / 60.0,
        &["fpm", "ft/min"],
    ),
    unit(Kind::Velocity, "m/s", "metre_per_second", 1.0, &["m/s"]),
    unit(
        Kind::Pressure,
        "in wg",
        "inch_water",
        INCH_WATER,
        &["inwg", "inwc", "inh2o", "\"wg", "\"wc"],
    ),
    unit(
        Kind::Pressure,
        "in wg (68 °F)",
        "inch_water_68_f",
        INCH_WATER_68_F,
        &["inwg(68°f)", "inwg(68f)", "inh2o(68f)"],
    ),
    unit(Kind::Pressure, "Pa", "pascal", 1.0, &["pa", "pascal"]),
    unit(Kind::Pressure, "kPa", "kilopascal", 1e3, &["kpa"]),
    unit(
        Kind::Pressure,
        "lbf/ft²",
        "pound_per_square_foot",
        PSI / 144.0,
        &["lbf/ft2", "lbf/ft²", "psf", "lb/ft2"],
    ),
    unit(Kind::Pressure, "psia", "psia", PSI, &["psia", "psi"]),
    unit(Kind::GaugePressure, "psig", "psig", PSI, &["psig", "psi"]),
    unit(
        Kind::GaugePressure,
        "inHg vacuum",
        "inch_mercury_vacuum",
        -INCH_MERCURY,
        &["inhgvacuum", "inhgvac", "inhg"],
    ),
    unit(Kind::GaugePressure, "barg", "barg", 1e5, &["barg", "bar"]),
    unit(
        Kind::GaugePressure,
        "kPag",
        "kilopascal_gauge",
        1e3,
        &["kpag"],
    ),
    offset(
        unit(
            Kind::Temperature,
            "°F",
            "deg_f",
            FAHRENHEIT,
            &["°f", "f", "degf", "fahrenheit"],
        ),
        FAHRENHEIT_ZERO,
    ),
    offset(
        unit(
            Kind::Temperature,
            "°C",
            "deg_c",
            1.0,
            &["°c", "c", "degc", "celsius"],
        ),
        273.15,
    ),
    unit(Kind::Temperature, "K", "kelvin", 1.0, &["k", "kelvin"]),
    unit(
        Kind::TemperatureDifference,
        "F°",
        "diff_f",
        FAHRENHEIT,
        &["f°", "°f", "f", "degf"],
    ),
    unit(
        Kind::TemperatureDifference,
        "K",
        "diff_k",
        1.0,
        &["k", "°c", "c", "degc"],
    ),
    unit(
        Kind::Duration,
        "min",
        "minute",
        60.0,
        &["min", "mins", "minute", "minutes"],
    ),
    unit(
        Kind::Duration,
        "s",
        "second",
        1.0,
        &["s", "sec", "secs", "second", "seconds"],
    ),
    unit(
        Kind::Duration,
        "h",
        "hour",
        3600.0,
        &["h", "hr", "hrs", "hour", "hours"],
    ),
    unit(Kind::Duration, "d", "day", 86_400.0, &["d", "day", "days"]),
    unit(
        Kind::Duration,
        "yr",
        "year",
        365.0 * 86_400.0,
        &["yr", "y", "year", "years"],
    ),
    unit(
        Kind::Mass,
        "lb",
        "pound",
        POUND,
        &["lb", "lbs", "pound", "pounds"],
    ),
    unit(Kind::Mass, "kg", "kilogram", 1.0, &["kg"]),
    unit(Kind::Mass, "g", "gram", 1e-3, &["g"]),
    unit(
        Kind::Density,
        "lb/ft³",
        "pound_per_cubic_foot",
        POUND / (FOOT * FOOT * FOOT),
        &["lb/ft3", "lb/ft³"],
    ),
    unit(
        Kind::Density,
        "kg/m³",
        "kilogram_per_cubic_metre",
        1.0,
        &["kg/m3", "kg/m³"],
    ),
    unit(
        Kind::Energy,
        "kWh",
        "kilowatt_hour",
        KILOWATT_HOUR,
        &["kwh"],
    ),
    unit(
        Kind::Energy,
        "MWh",
        "megawatt_hour",
        1e3 * KILOWATT_HOUR,
        &["mwh"],
    ),
    unit(Kind::Energy, "Btu", "btu", BTU, &["btu"]),
    unit(Kind::Energy, "J", "joule", 1.0, &["j", "joule"]),
    unit(
        Kind::SpecificEnergy,
        "Btu/lb",
        "btu_per_pound",
        BTU / POUND,
        &["btu/lb"],
    ),
    unit(
        Kind::SpecificEnergy,
        "kJ/kg",
        "kilojoule_per_kilogram",
        1e3,
        &["kj/kg"],
    ),
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
    unit(
        Kind::FinPitch,
        "fpi",
        "fins_per_inch",
        1.0 / INCH,
        &["fpi", "fins/in", "fin/in"],
    ),
    unit(Kind::FinPitch, "fins/m", "fins_per_metre", 1.0, &["fins/m"]),
    unit(
        Kind::CoolingEfficiency,
        "W/W",
        "watt_per_watt",
        1.0,
        &["w/w", "cop"],
    ),
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
        &[
            "perkwh", "/kwh", "usd/kwh", "$/kwh", "eur/kwh", "€/kwh", "gbp/kwh", "£/kwh",
        ],
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
    unit(
        Kind::Ratio,
        "×",
        "ratio",
        1.0,
        &["×", "x", "ratio", "factor"],
    ),
];
