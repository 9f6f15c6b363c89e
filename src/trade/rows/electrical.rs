//! Rows of the electrical topics.

use super::super::formula::Confidence;
use super::super::quantity::Kind;
use super::Row;

/// When these rows were last looked at.
const DATED: &str = "2026-11";

const fn from_memory(
    name: &'static str,
    kind: Kind,
    si: f64,
    about: &'static str,
    source: &'static str,
) -> Row {
    Row {
        name,
        kind,
        si,
        about,
        source,
        confidence: Confidence::FromMemory,
        dated: DATED,
    }
}

const fn practice(name: &'static str, kind: Kind, si: f64, about: &'static str) -> Row {
    Row {
        name,
        kind,
        si,
        about,
        source: "common practice, no source",
        confidence: Confidence::CommonPractice,
        dated: DATED,
    }
}

const fn seen(
    name: &'static str,
    kind: Kind,
    si: f64,
    about: &'static str,
    source: &'static str,
) -> Row {
    Row {
        name,
        kind,
        si,
        about,
        source,
        confidence: Confidence::Seen,
        dated: DATED,
    }
}

/// One limit of ANSI C84.1 Table 1, in volts.
const fn c84(name: &'static str, volts: f64) -> Row {
    from_memory(
        name,
        Kind::Voltage,
        volts,
        "a limit of the voltage bands of a 60 Hz system, named by band, nominal volts and end",
        "ANSI C84.1 (2006 and later) Table 1, from memory",
    )
}

const MEMORY: &str = "from memory";

/// Every row of the electrical topics.
pub(super) const ROWS: &[Row] = &[
    c84("ansi_c84_1_service_a_120_low", 114.0),
    c84("ansi_c84_1_service_a_120_high", 126.0),
    c84("ansi_c84_1_service_b_120_low", 110.0),
    c84("ansi_c84_1_service_b_120_high", 127.0),
    c84("ansi_c84_1_utilization_a_120_low", 110.0),
    c84("ansi_c84_1_utilization_a_120_high", 126.0),
    c84("ansi_c84_1_utilization_b_120_low", 106.0),
    c84("ansi_c84_1_utilization_b_120_high", 127.0),
    c84("ansi_c84_1_service_a_208_low", 197.0),
    c84("ansi_c84_1_service_a_208_high", 218.0),
    c84("ansi_c84_1_service_b_208_low", 191.0),
    c84("ansi_c84_1_service_b_208_high", 220.0),
    c84("ansi_c84_1_utilization_a_208_low", 191.0),
    c84("ansi_c84_1_utilization_a_208_high", 218.0),
    c84("ansi_c84_1_utilization_b_208_low", 184.0),
    c84("ansi_c84_1_utilization_b_208_high", 220.0),
    c84("ansi_c84_1_service_a_240_low", 228.0),
    c84("ansi_c84_1_service_a_240_high", 252.0),
    c84("ansi_c84_1_service_b_240_low", 220.0),
    c84("ansi_c84_1_service_b_240_high", 254.0),
    c84("ansi_c84_1_utilization_a_240_low", 220.0),
    c84("ansi_c84_1_utilization_a_240_high", 252.0),
    c84("ansi_c84_1_utilization_b_240_low", 212.0),
    c84("ansi_c84_1_utilization_b_240_high", 254.0),
    practice(
        "meter_accuracy_of_reading",
        Kind::Ratio,
        0.01,
        "how far a hand meter's volts or amps may be off, as a share of the reading",
    ),
    practice(
        "voltage_worth_noting",
        Kind::Ratio,
        0.05,
        "off the rated volts by more than this, inside the band, is called low or high",
    ),
    practice(
        "no_voltage_share",
        Kind::Ratio,
        0.10,
        "below this share of the rated volts a supply counts as missing; never a proof",
    ),
    from_memory(
        "copper_coefficient_at_75_c",
        Kind::Ratio,
        0.003_23,
        "change of the resistance of copper per kelvin, based on its value at 75 °C",
        "NEC Chapter 9 Table 8 note 2, from memory",
    ),
    from_memory(
        "aluminum_coefficient_at_75_c",
        Kind::Ratio,
        0.003_30,
        "change of the resistance of aluminum per kelvin, based on its value at 75 °C",
        "NEC Chapter 9 Table 8 note 2, from memory",
    ),
    from_memory(
        "table_8_stranded_8_awg_per_kft",
        Kind::Resistance,
        0.778,
        "resistance of 1000 ft of uncoated 8 AWG copper in seven strands at 75 °C",
        "NEC Chapter 9 Table 8, from memory",
    ),
    from_memory(
        "copper_winding_zero",
        Kind::TemperatureDifference,
        234.5,
        "degrees below 0 °C where the straight line through a copper winding's ohms meets zero",
        "IEEE 118 and IEEE 112, from memory",
    ),
    practice(
        "sibling_temperature_spread",
        Kind::TemperatureDifference,
        3.0,
        "two windings further apart in temperature than this are not compared",
    ),
    practice(
        "sibling_resistance_spread",
        Kind::Ratio,
        0.10,
        "two windings of the same make at the same temperature agree within this",
    ),
    practice(
        "winding_sum_spread",
        Kind::Ratio,
        0.05,
        "how far run plus start may be off the total before a winding is suspect",
    ),
    practice(
        "inner_protector_cooling",
        Kind::Duration,
        1800.0,
        "how long a hot motor with an open winding cools before it is condemned",
    ),
    from_memory(
        "insulation_least_random_wound",
        Kind::Resistance,
        5e6,
        "least insulation resistance at 40 °C, random-wound or below 1 kV; guidance below 1 hp",
        "IEEE 43-2000 clause 12, from memory",
    ),
    from_memory(
        "insulation_least_form_wound",
        Kind::Resistance,
        100e6,
        "least insulation resistance at 40 °C, form-wound",
        "IEEE 43-2000 clause 12, from memory",
    ),
    practice(
        "insulation_good",
        Kind::Resistance,
        100e6,
        "a small motor above this at 40 °C raises no question",
    ),
    practice(
        "insulation_wet",
        Kind::Resistance,
        1.5e6,
        "a small motor at about this or below is likely wet: dry it and measure again",
    ),
    from_memory(
        "insulation_halving",
        Kind::TemperatureDifference,
        10.0,
        "rise in temperature that halves an insulation resistance",
        MEMORY,
    ),
    seen(
        "run_capacitor_tolerance",
        Kind::Ratio,
        0.06,
        "the usual tolerance of a run capacitor where none is printed; the printed one governs",
        "trade pages on run capacitors, read 2026",
    ),
    from_memory(
        "stored_charge_wait",
        Kind::Duration,
        300.0,
        "wait before measuring a drive or capacitor whose nameplate names no minutes",
        MEMORY,
    ),
    seen(
        "defrost_failsafe_least",
        Kind::Duration,
        1200.0,
        "shortest common limit that ends a defrost whatever the coil says",
        "trade article on defrost controls, read 2026: 20 to 40 minutes common",
    ),
    seen(
        "defrost_failsafe_most",
        Kind::Duration,
        2400.0,
        "longest common limit that ends a defrost whatever the coil says",
        "trade article on defrost controls, read 2026: 20 to 40 minutes common",
    ),
    practice(
        "defrost_termination",
        Kind::Temperature,
        283.15,
        "coil temperature that usually ends a defrost (50 °F; 40 to 75 °F are used)",
    ),
    practice(
        "fan_delay_release",
        Kind::Temperature,
        269.261_111_111_111_1,
        "coil temperature that usually lets the fans start after a defrost (25 °F)",
    ),
    from_memory(
        "speed_signal_missing",
        Kind::Voltage,
        0.5,
        "a 0 to 10 V speed signal below this counts as missing",
        MEMORY,
    ),
    from_memory(
        "soft_start_wait",
        Kind::Duration,
        30.0,
        "how long an EC motor's soft start may take before it is judged",
        MEMORY,
    ),
    practice(
        "blade_diameter_spread",
        Kind::Length,
        0.001_6,
        "blades whose diameters differ by no more than this (1/16 in) are of one size",
    ),
    practice(
        "open_element_share",
        Kind::Ratio,
        0.25,
        "how far heater amps may be off a whole number of elements, in elements",
    ),
];
