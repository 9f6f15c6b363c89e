//! Motors: shaft power and input power, efficiency by type, speed and slip, volts times amps.

use uom::si::angular_velocity::{radian_per_second, revolution_per_minute};
use uom::si::f64::{
    AngularVelocity, ElectricCurrent, ElectricPotential, Energy, Frequency, Power, Ratio, Time,
};
use uom::si::power::watt;
use uom::si::ratio::ratio;

use super::formula::CannotWorkOut;
use super::spread::Spread;
use super::typed::{Measured, above_zero, from_to, not_negative, result};
use super::worded::worded;

mod formulas;

pub(crate) use formulas::FORMULAS;

/// Every watt a fan takes inside the box ends up there as heat: Btu/h per watt.
pub const BTU_PER_HOUR_PER_WATT: f64 = 3600.0 / 1_055.055_852_62;

worded! {
    /// How a small fan motor works.
    pub enum MotorType {
        /// Shaded pole: one winding, no capacitor.
        ShadedPole = "shaded_pole",
        /// Permanent split capacitor: two windings and a run capacitor.
        Psc = "psc",
        /// Electronically commutated: permanent magnets and its own electronics.
        Ec = "ec",
        /// Three-phase induction.
        ThreePhase = "three_phase",
    }
}

worded! {
    /// Who says how efficient a motor type is.
    pub enum EfficiencySource {
        /// US Department of Energy motor report, December 2013.
        EnergyDepartment = "energy_department",
        /// Small PSC motors in the US prototype building models.
        PrototypeBuildings = "prototype_buildings",
    }
}

/// Volts times amperes. It is not watts: the power factor stands between the two.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct ApparentPower(f64);

impl ApparentPower {
    /// In volt-amperes.
    pub fn volt_amperes(self) -> f64 {
        self.0
    }
}

/// The efficiency of a type by one source.
///
/// Sources: US Department of Energy motor report, December 2013, pp. 5 and 16, as quoted in a
/// national laboratory's walk-in model: shaded pole 30 %, PSC 45 %, EC 75 %. Prototype
/// building models: small PSC 29 %.
///
/// # Errors
/// Where the source says nothing of the type.
pub fn efficiency_by(motor: MotorType, source: EfficiencySource) -> Result<Ratio, CannotWorkOut> {
    let share = match (source, motor) {
        (EfficiencySource::EnergyDepartment, MotorType::ShadedPole) => 0.30,
        (EfficiencySource::EnergyDepartment, MotorType::Psc) => 0.45,
        (EfficiencySource::EnergyDepartment, MotorType::Ec) => 0.75,
        (EfficiencySource::PrototypeBuildings, MotorType::Psc) => 0.29,
        _ => {
            return Err(CannotWorkOut(format!(
                "No efficiency of a {} motor is on file by this source; use its data sheet.",
                motor.word()
            )));
        }
    };
    Ok(Ratio::new::<ratio>(share))
}

/// The efficiencies that motors of a type have, for 1 to 50 W of shaft power.
///
/// Source: trade press on refrigeration motors of 1 to 50 W: shaded pole 15 to 30 %, PSC 35 to
/// 50 %, EC 65 to 75 %. The likely value is the middle.
///
/// # Errors
/// For three-phase motors, of which the source says nothing.
pub fn efficiency_band(motor: MotorType) -> Result<Spread<f64>, CannotWorkOut> {
    let (low, high) = match motor {
        MotorType::ShadedPole => (0.15, 0.30),
        MotorType::Psc => (0.35, 0.50),
        MotorType::Ec => (0.65, 0.75),
        MotorType::ThreePhase => {
            return Err(CannotWorkOut(
                "No efficiency of small three-phase motors is on file; use the data sheet.".into(),
            ));
        }
    };
    Spread::new(low, 0.5 * (low + high), high)
}

/// The power a motor takes from the wires: P = shaft power / η. 0 < η ≤ 1.
///
/// # Errors
/// When the shaft power is below zero or the efficiency out of range.
pub fn input_power(shaft: Power, efficiency: Ratio) -> Result<Power, CannotWorkOut> {
    let watts = not_negative("The shaft power", shaft)?;
    result(
        "The input power",
        watts / share_of_one("The efficiency", efficiency)?,
    )
}

/// The power a motor gives at its shaft: input power · η. 0 < η ≤ 1.
///
/// # Errors
/// When the input power is below zero or the efficiency out of range.
pub fn shaft_power(input: Power, efficiency: Ratio) -> Result<Power, CannotWorkOut> {
    let watts = not_negative("The input power", input)?;
    result(
        "The shaft power",
        watts * share_of_one("The efficiency", efficiency)?,
    )
}

fn share_of_one(what: &str, share: Ratio) -> Result<f64, CannotWorkOut> {
    above_zero(what, share)?;
    from_to(
        what,
        share,
        Ratio::new::<ratio>(0.0),
        Ratio::new::<ratio>(1.0),
    )
}

/// New input power over old at the same shaft power: η_old / η_new, by the Energy
/// Department's efficiencies. Shaded pole to EC is 0.40.
///
/// # Errors
/// For a type without a published efficiency.
pub fn retrofit_ratio(old: MotorType, new: MotorType) -> Result<Ratio, CannotWorkOut> {
    let of = |motor| efficiency_by(motor, EfficiencySource::EnergyDepartment);
    result("The ratio", of(old)?.si() / of(new)?.si())
}

/// The speed of the rotating field: 120·f/p in rpm, p the number of poles.
///
/// # Errors
/// When the frequency is not above zero or the poles are not an even number from 2 to 48.
pub fn synchronous_speed(
    frequency: Frequency,
    poles: u32,
) -> Result<AngularVelocity, CannotWorkOut> {
    let hertz = above_zero("The frequency", frequency)?;
    if !(2..=48).contains(&poles) || poles % 2 == 1 {
        return Err(CannotWorkOut(format!(
            "A motor cannot have {poles} poles; it has 2, 4, 6 or another even number up to 48."
        )));
    }
    let speed = AngularVelocity::new::<revolution_per_minute>(120.0 * hertz / f64::from(poles));
    result("The speed", speed.si())
}

/// How far an induction motor lags behind its field: (n_s − n)/n_s.
///
/// # Errors
/// When the synchronous speed is not above zero or the shaft runs below zero or above it.
pub fn slip(
    measured: AngularVelocity,
    synchronous: AngularVelocity,
) -> Result<Ratio, CannotWorkOut> {
    let field = above_zero("The synchronous speed", synchronous)?;
    let zero = AngularVelocity::new::<radian_per_second>(0.0);
    let shaft = from_to("The measured speed", measured, zero, synchronous)?;
    result("The slip", (field - shaft) / field)
}

/// The number of poles that a nameplate speed tells: the slowest field above it.
///
/// # Errors
/// When the speed is not above zero, or faster than a 2-pole field.
pub fn poles_by_speed(rated: AngularVelocity, frequency: Frequency) -> Result<u32, CannotWorkOut> {
    let shaft = above_zero("The speed", rated)?;
    let mut found = None;
    for poles in (2..=48).step_by(2) {
        if synchronous_speed(frequency, poles)?.si() < shaft * (1.0 - 1e-9) {
            break;
        }
        found = Some(poles);
    }
    found.ok_or_else(|| {
        CannotWorkOut(format!(
            "{} is faster than an induction motor can turn at {}.",
            rated.shown(),
            frequency.shown()
        ))
    })
}

/// Volts times amperes.
///
/// # Errors
/// When either is below zero.
pub fn apparent_power(
    voltage: ElectricPotential,
    current: ElectricCurrent,
) -> Result<ApparentPower, CannotWorkOut> {
    let product = not_negative("The voltage", voltage)? * not_negative("The current", current)?;
    let checked: Ratio = result("The apparent power", product)?;
    Ok(ApparentPower(checked.si()))
}

/// True power on one phase: V·I·pf, with 0 ≤ pf ≤ 1.
///
/// # Errors
/// When the power factor is out of range.
pub fn true_power(apparent: ApparentPower, power_factor: Ratio) -> Result<Power, CannotWorkOut> {
    let share = Ratio::new::<ratio>;
    let factor = from_to("The power factor", power_factor, share(0.0), share(1.0))?;
    result("The power", apparent.0 * factor)
}

/// The power factor that measured watts, volts and amperes tell: P/(V·I).
///
/// # Errors
/// When there is no apparent power, or the watts exceed it by more than 5 %.
pub fn power_factor(power: Power, apparent: ApparentPower) -> Result<Ratio, CannotWorkOut> {
    let watts = not_negative("The power", power)?;
    if apparent.0 <= 0.0 || watts > 1.05 * apparent.0 {
        return Err(CannotWorkOut(format!(
            "{} of true power cannot come from {:.1} VA; check the readings.",
            power.shown(),
            apparent.0
        )));
    }
    result("The power factor", (watts / apparent.0).min(1.0))
}

/// The heat that a fan brings into the box: all its input power, motor and blade being inside.
/// 1 W is 3.412 Btu/h.
///
/// # Errors
/// When the power is below zero.
pub fn box_heat(input: Power) -> Result<Power, CannotWorkOut> {
    not_negative("The input power", input).map(Power::new::<watt>)
}

/// Electricity by the motor alone, without the compressor's part: E = P·t.
///
/// # Errors
/// When power or time is below zero.
pub fn direct_energy(power: Power, time: Time) -> Result<Energy, CannotWorkOut> {
    let joules = not_negative("The power", power)? * not_negative("The time", time)?;
    result("The energy", joules)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::electric_current::ampere;
    use uom::si::electric_potential::volt;
    use uom::si::frequency::hertz;
    use uom::si::power::horsepower;

    fn rpm(value: f64) -> AngularVelocity {
        AngularVelocity::new::<revolution_per_minute>(value)
    }

    #[test]
    fn a_four_pole_motor_at_1550_rpm_slips_by_a_seventh() {
        let field = synchronous_speed(Frequency::new::<hertz>(60.0), 4).unwrap();
        assert!((field.get::<revolution_per_minute>() - 1800.0).abs() < 1e-9);
        assert!((slip(rpm(1550.0), field).unwrap().si() - 0.1389).abs() < 1e-4);
    }

    #[test]
    fn a_nameplate_speed_tells_the_poles() {
        for (speed, poles) in [
            (3450.0, 2),
            (1725.0, 4),
            (1550.0, 4),
            (1075.0, 6),
            (825.0, 8),
        ] {
            assert_eq!(
                poles_by_speed(rpm(speed), Frequency::new::<hertz>(60.0)),
                Ok(poles)
            );
        }
        assert!(poles_by_speed(rpm(4000.0), Frequency::new::<hertz>(60.0)).is_err());
    }

    #[test]
    fn a_motor_has_an_even_number_of_poles() {
        for poles in [0, 1, 3, 50] {
            assert!(synchronous_speed(Frequency::new::<hertz>(60.0), poles).is_err());
        }
    }

    #[test]
    fn watts_above_the_volt_amperes_are_refused() {
        let apparent = apparent_power(
            ElectricPotential::new::<volt>(115.0),
            ElectricCurrent::new::<ampere>(1.0),
        )
        .unwrap();
        assert!(power_factor(Power::new::<watt>(200.0), apparent).is_err());
        assert!(true_power(apparent, Ratio::new::<ratio>(1.2)).is_err());
    }

    /// The published ratios of the walk-in motor measure: 0.40, 0.667 and 0.60.
    #[test]
    fn a_retrofit_there_and_back_is_no_change() {
        for old in [MotorType::ShadedPole, MotorType::Psc, MotorType::Ec] {
            for new in [MotorType::ShadedPole, MotorType::Psc, MotorType::Ec] {
                let there = retrofit_ratio(old, new).unwrap().si();
                let back = retrofit_ratio(new, old).unwrap().si();
                assert!((there * back - 1.0).abs() < 1e-12);
            }
        }
    }

    proptest! {
        #[test]
        fn shaft_and_input_power_are_inverse(hp in 0.001_f64..100.0, share in 0.01_f64..=1.0) {
            let shaft = Power::new::<horsepower>(hp);
            let efficiency = Ratio::new::<ratio>(share);
            let input = input_power(shaft, efficiency).unwrap();
            let back = shaft_power(input, efficiency).unwrap();
            prop_assert!((back.si() / shaft.si() - 1.0).abs() < 1e-12);
        }

        #[test]
        fn any_input_gives_a_number_or_a_refusal(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY,
        ) {
            let input = input_power(Power::of_si(a), Ratio::of_si(b));
            prop_assert!(input.is_err() || input.unwrap().si().is_finite());
            let speed = slip(AngularVelocity::of_si(a), AngularVelocity::of_si(b));
            prop_assert!(speed.is_err() || speed.unwrap().si().is_finite());
            let apparent =
                apparent_power(ElectricPotential::of_si(a), ElectricCurrent::of_si(b));
            prop_assert!(apparent.is_err() || apparent.unwrap().volt_amperes().is_finite());
        }
    }
}
