//! Named data rows of the gains: emission factors, reference efficiencies, how sure a watt is.

use super::super::formula::Confidence;
use super::super::quantity::Kind;
use super::Row;

const POUND_PER_KILOWATT_HOUR: f64 = 0.453_592_37 / 3.6e6;
const EER: f64 = 1_055.055_852_62 / 3600.0;

const fn row(name: &'static str, kind: Kind, si: f64, about: &'static str) -> Row {
    Row {
        name,
        kind,
        si,
        about,
        source: "from memory",
        confidence: Confidence::FromMemory,
        dated: "2026-11",
    }
}

const fn seen(mut row: Row, source: &'static str, confidence: Confidence) -> Row {
    row.source = source;
    row.confidence = confidence;
    row
}

/// Rows of the gains.
pub(super) const ROWS: &[Row] = &[
    seen(
        row(
            "co2_us_average_2022",
            Kind::EmissionFactor,
            0.86 * POUND_PER_KILOWATT_HOUR,
            "carbon dioxide of the average US kilowatt-hour in 2022, all sources",
        ),
        "US EIA State Electricity Profiles, 2022, as quoted in a public page",
        Confidence::Seen,
    ),
    seen(
        row(
            "co2_us_average_2018",
            Kind::EmissionFactor,
            0.947 * POUND_PER_KILOWATT_HOUR,
            "carbon dioxide of the average US kilowatt-hour in 2018",
        ),
        "US EPA eGRID2018, as quoted in a public page",
        Confidence::Seen,
    ),
    row(
        "co2_us_average_egrid_2022",
        Kind::EmissionFactor,
        0.823 * POUND_PER_KILOWATT_HOUR,
        "carbon dioxide of the average US kilowatt-hour in 2022 by eGRID",
    ),
    row(
        "eer_cooler",
        Kind::CoolingEfficiency,
        12.4 * EER,
        "reference efficiency of a cooler's refrigeration, 10 CFR 431 subpart R",
    ),
    row(
        "cop_cooler_low",
        Kind::CoolingEfficiency,
        2.5,
        "low coefficient of performance of a cooler's refrigeration, efficiency-programme value",
    ),
    row(
        "cop_cooler_high",
        Kind::CoolingEfficiency,
        4.2,
        "high coefficient of performance of a cooler's refrigeration",
    ),
    row(
        "eer_freezer",
        Kind::CoolingEfficiency,
        6.3 * EER,
        "reference efficiency of a freezer's refrigeration, 10 CFR 431 subpart R",
    ),
    row(
        "cop_freezer_low",
        Kind::CoolingEfficiency,
        1.3,
        "low coefficient of performance of a freezer's refrigeration, efficiency-programme value",
    ),
    row(
        "cop_freezer_high",
        Kind::CoolingEfficiency,
        2.2,
        "high coefficient of performance of a freezer's refrigeration",
    ),
    row(
        "watts_spread_wattmeter",
        Kind::Ratio,
        0.03,
        "how far a clamp wattmeter's reading of a small motor may be off, either way",
    ),
    row(
        "watts_spread_nameplate",
        Kind::Ratio,
        0.20,
        "how far a motor's real input may lie from its nameplate watts, either way",
    ),
    row(
        "watts_spread_motor_type",
        Kind::Ratio,
        0.30,
        "how far a motor's real input may lie from an estimate by its type, either way",
    ),
    row(
        "defrosts_per_day_freezer",
        Kind::Ratio,
        4.0,
        "defrosts a day assumed for a freezer",
    ),
    row(
        "defrost_length_freezer",
        Kind::Duration,
        1200.0,
        "time that a freezer's fans stand still for one defrost, as assumed",
    ),
    row(
        "specific_heat_chilled_low",
        Kind::SpecificHeat,
        3000.0,
        "low specific heat of chilled food above freezing",
    ),
    row(
        "specific_heat_chilled_likely",
        Kind::SpecificHeat,
        3500.0,
        "likely specific heat of chilled food above freezing",
    ),
    row(
        "specific_heat_chilled_high",
        Kind::SpecificHeat,
        3900.0,
        "high specific heat of chilled food above freezing",
    ),
    row(
        "specific_heat_frozen_low",
        Kind::SpecificHeat,
        1700.0,
        "low specific heat of frozen food",
    ),
    row(
        "specific_heat_frozen_likely",
        Kind::SpecificHeat,
        1900.0,
        "likely specific heat of frozen food",
    ),
    row(
        "specific_heat_frozen_high",
        Kind::SpecificHeat,
        2200.0,
        "high specific heat of frozen food",
    ),
    row(
        "defrost_share_low",
        Kind::Ratio,
        0.25,
        "low share of the defrost heaters' heat that reaches the ice",
    ),
    row(
        "defrost_share_likely",
        Kind::Ratio,
        0.45,
        "likely share of the defrost heaters' heat that reaches the ice",
    ),
    row(
        "defrost_share_high",
        Kind::Ratio,
        0.7,
        "high share of the defrost heaters' heat that reaches the ice",
    ),
    row(
        "usual_face_velocity",
        Kind::Velocity,
        400.0 * 0.3048 / 60.0,
        "face velocity of a unit cooler by rule of thumb; usual are 300 to 600 fpm",
    ),
    seen(
        row(
            "usual_static_pressure",
            Kind::Pressure,
            24.908_891,
            "static pressure that a unit cooler's air path takes where nothing else is known",
        ),
        "common practice, no source",
        Confidence::CommonPractice,
    ),
];
