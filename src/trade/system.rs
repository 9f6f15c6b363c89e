//! What volts a supply system may have: by the standard, by a utility's rule.

use uom::si::electric_potential::volt;
use uom::si::f64::ElectricPotential;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::rating::{Band, HIGH, LOW, RATED, RATED_TO, RatedVoltage, rating, rating_words};
use super::typed::{Measured, VOLTAGE, chosen, given, row_value};
use super::worded::worded;

worded! {
    /// A voltage band of ANSI C84.1: where it is measured, and how often it may occur.
    pub enum SystemRange {
        /// At the service entrance, the usual band.
        ServiceA = "service_a",
        /// At the service entrance, tolerated for a short time.
        ServiceB = "service_b",
        /// At the equipment, the usual band.
        UtilizationA = "utilization_a",
        /// At the equipment, tolerated for a short time.
        UtilizationB = "utilization_b",
    }
}

worded! {
    /// A service whose band a state's rule for utilities fixes.
    pub enum UtilitySystem {
        /// 120 V, two wires.
        V120 = "120",
        /// 120/240 V, from a line to the neutral.
        V120Of240 = "120_240_line_neutral",
        /// 120/240 V, between the lines.
        V240Of120 = "120_240_line_line",
        /// 208Y/120 V, between two lines.
        V208 = "208",
        /// 240 V, three wires.
        V240 = "240",
        /// 480 V.
        V480 = "480",
    }
}

worded! {
    /// Whether a motor may stay on a service for every voltage that the service may have.
    pub enum ServiceFit {
        /// The motor's band covers the service.
        Covered = "covered",
        /// A healthy service can be too low for the motor.
        LowEndOut = "low_end_out",
        /// A healthy service can be too high for the motor.
        HighEndOut = "high_end_out",
        /// Both.
        BothEndsOut = "both_ends_out",
    }
}

/// The band of a 120, 208 or 240 V system.
///
/// Source: ANSI C84.1 (2006 and later) Table 1, from memory, behind the rows
/// `ansi_c84_1_<range>_<volts>_<end>`.
///
/// # Errors
/// For another nominal voltage.
pub fn system_band(
    nominal: ElectricPotential,
    range: SystemRange,
) -> Result<Band<ElectricPotential>, CannotWorkOut> {
    let volts = nominal.get::<volt>();
    let Some(system) = [120.0, 208.0, 240.0]
        .into_iter()
        .find(|known| *known == volts)
    else {
        return Err(CannotWorkOut(format!(
            "There is no band on file for a {} system; 120, 208 and 240 V are known.",
            nominal.shown()
        )));
    };
    let end = |end: &str| row_value(&format!("ansi_c84_1_{}_{system}_{end}", range.word()));
    Ok(Band {
        low: end("low")?,
        high: end("high")?,
    })
}

/// The band that one state's rule demands of its utilities, as an example of such a rule; the
/// local rule may differ.
///
/// Source: COMAR 20.50.07.02, table.
pub fn utility_band(system: UtilitySystem) -> Band<ElectricPotential> {
    let (low, high) = match system {
        UtilitySystem::V120 | UtilitySystem::V120Of240 => (114.0, 126.0),
        UtilitySystem::V240Of120 => (228.0, 252.0),
        UtilitySystem::V208 => (197.0, 219.0),
        UtilitySystem::V240 => (216.0, 252.0),
        UtilitySystem::V480 => (432.0, 504.0),
    };
    Band {
        low: ElectricPotential::new::<volt>(low),
        high: ElectricPotential::new::<volt>(high),
    }
}

/// Whether a motor suits every voltage that a healthy service may have (service Range A).
///
/// The trap: a motor rated 230 V only is out of its band on a 208 V service that reads 206 V;
/// one rated 208-230 V is not.
///
/// # Errors
/// As [`system_band`].
pub fn service_fit(
    rated: &RatedVoltage,
    nominal: ElectricPotential,
) -> Result<ServiceFit, CannotWorkOut> {
    let service = system_band(nominal, SystemRange::ServiceA)?;
    let band = rated.band();
    Ok(match (band.holds(service.low), band.holds(service.high)) {
        (true, true) => ServiceFit::Covered,
        (false, true) => ServiceFit::LowEndOut,
        (true, false) => ServiceFit::HighEndOut,
        (false, false) if band.high.si() < service.low.si() => ServiceFit::HighEndOut,
        (false, false) if band.low.si() > service.high.si() => ServiceFit::LowEndOut,
        (false, false) => ServiceFit::BothEndsOut,
    })
}

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "service_fits_motor",
        version: 1,
        about: "Whether a motor suits every voltage that a healthy service may have.",
        symbols: "0.9 Vr ≤ service Range A ≤ 1.1 Vr",
        source: "NEMA MG 1-12.44.1; ANSI C84.1 (2006 and later) Table 1, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            RATED,
            RATED_TO,
            Parameter::needed("nominal", VOLTAGE, "the service's name: 120, 208 or 240 V"),
        ],
        gives: &[Output::of(
            "fit",
            ValueType::Word(ServiceFit::WORDS),
            "the verdict",
        )],
        run: service_fits_motor,
    },
    Formula {
        name: "system_voltage_band",
        version: 1,
        about: "The volts that a 60 Hz system may have.",
        symbols: "table",
        source: "ANSI C84.1 (2006 and later) Table 1, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("nominal", VOLTAGE, "the system's name: 120, 208 or 240 V"),
            Parameter::needed(
                "range",
                ValueType::Word(SystemRange::WORDS),
                "the band wanted",
            ),
        ],
        gives: &[LOW, HIGH],
        run: |arguments, _| {
            let band = system_band(given(arguments, "nominal")?, chosen(arguments, "range")?)?;
            Ok(Results::default()
                .put("low", band.low)
                .put("high", band.high)
                .warn("These limits are from memory; a person must confirm the edition."))
        },
    },
    Formula {
        name: "utility_voltage_band",
        version: 1,
        about: "The volts that one state's rule demands of its utilities.",
        symbols: "table",
        source: "COMAR 20.50.07.02",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "system",
            ValueType::Word(UtilitySystem::WORDS),
            "the service and where it is measured",
        )],
        gives: &[LOW, HIGH],
        run: |arguments, _| {
            let band = utility_band(chosen(arguments, "system")?);
            Ok(Results::default()
                .put("low", band.low)
                .put("high", band.high)
                .warn("The utility's limits are local; another state allows other volts."))
        },
    },
];

fn service_fits_motor(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let rated = rating(arguments)?;
    let nominal: ElectricPotential = given(arguments, "nominal")?;
    let fit = service_fit(&rated, nominal)?;
    let (rating, service) = (rating_words(&rated), nominal.shown());
    let sentence = match fit {
        ServiceFit::Covered => format!("A {rating} motor suits a healthy {service} service."),
        ServiceFit::LowEndOut => {
            format!("A healthy {service} service can be too low for a {rating} motor.")
        }
        ServiceFit::HighEndOut => {
            format!("A healthy {service} service can be too high for a {rating} motor.")
        }
        ServiceFit::BothEndsOut => {
            format!("A healthy {service} service can be too low and too high for a {rating} motor.")
        }
    };
    Ok(Results::default()
        .put_word("fit", fit.word())
        .warn("The service's limits are from memory; the utility's own limits govern.")
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    #[test]
    fn a_230_volt_motor_is_out_of_its_band_on_a_healthy_208_volt_service() {
        let fit = |rated: &str| service_fit(&RatedVoltage::parse(rated).unwrap(), volts(208.0));
        assert_eq!(fit("230 V"), Ok(ServiceFit::LowEndOut));
        assert_eq!(fit("208-230 V"), Ok(ServiceFit::Covered));
        assert_eq!(fit("115"), Ok(ServiceFit::HighEndOut));
    }
}
