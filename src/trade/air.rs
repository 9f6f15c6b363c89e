//! Moist air: what the air in the box weighs, holds and gives up.
//!
//! The relations are those of ASHRAE Handbook, Fundamentals (2017), chapter 1
//! "Psychrometrics"; equation numbers refer to it. Temperatures from −100 to 200 °C.

pub(crate) mod formulas;

use uom::si::available_energy::joule_per_kilogram;
use uom::si::f64::{
    AvailableEnergy, Length, MassDensity, Pressure, Ratio, SpecificVolume, ThermodynamicTemperature,
};
use uom::si::length::meter;
use uom::si::mass_density::{kilogram_per_cubic_meter, pound_per_cubic_foot};
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::specific_volume::cubic_meter_per_kilogram;
use uom::si::thermodynamic_temperature::{degree_fahrenheit, kelvin};

use super::formula::CannotWorkOut;
use super::root;

/// Gas constant of dry air, J/(kg·K); eq. 1.
const DRY_AIR_GAS_CONSTANT: f64 = 287.042;
/// Ratio of the molar masses of water and dry air; eq. 20.
const MOLAR_MASS_RATIO: f64 = 0.621_945;
/// Temperature below which water saturates over ice: the triple point, 0.01 °C.
const TRIPLE_POINT: f64 = 273.16;
/// Lowest and highest temperature of the saturation equations, K.
const TEMPERATURES: (f64, f64) = (173.15, 473.15);
/// One Btu per pound in J/kg, by definition of the international table Btu.
const BTU_PER_POUND: f64 = 2_326.0;
/// The altitudes of eq. 3, m.
const ALTITUDES: (f64, f64) = (-5_000.0, 11_000.0);

/// A state of moist air: temperature, moisture and pressure together.
///
/// It can only be built from values inside the published ranges, so everything asked of it
/// has an answer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoistAir {
    /// K
    temperature: f64,
    /// kg of water per kg of dry air
    humidity_ratio: f64,
    /// Pa
    pressure: f64,
}

/// Where the moisture of the air starts to come out when a surface gets colder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Saturates {
    /// As dew, at or above 0.01 °C.
    AsDew(ThermodynamicTemperature),
    /// As frost, below 0.01 °C.
    AsFrost(ThermodynamicTemperature),
}

impl Saturates {
    /// The dew or frost point.
    pub fn temperature(self) -> ThermodynamicTemperature {
        match self {
            Self::AsDew(temperature) | Self::AsFrost(temperature) => temperature,
        }
    }
}

impl MoistAir {
    /// Air of temperature `t`, relative humidity `φ` (0 to 1) and absolute pressure `p`.
    ///
    /// p_w = φ·p_ws(t); W = 0.621945·p_w/(p − p_w) (eqs. 12, 20, 22). Below 0.01 °C the
    /// saturation is over ice.
    ///
    /// # Errors
    /// Outside −100 to 200 °C, 0 to 100 % or where the water alone would exceed the pressure.
    pub fn new(
        temperature: ThermodynamicTemperature,
        relative_humidity: Ratio,
        pressure: Pressure,
    ) -> Result<Self, CannotWorkOut> {
        let saturation = saturation_pressure(temperature)?.get::<pascal>();
        let humidity = relative_humidity.get::<ratio>();
        if !(0.0..=1.0).contains(&humidity) {
            return Err(CannotWorkOut(format!(
                "A relative humidity of {:.0} % is not possible: it is between 0 and 100 %.",
                100.0 * humidity
            )));
        }
        let pressure = pressure.get::<pascal>();
        let vapour = humidity * saturation;
        if !pressure.is_finite() || pressure <= vapour {
            return Err(CannotWorkOut(
                "The air pressure is not above that of its water vapour: it must be an \
                 absolute pressure, such as 14.7 psia."
                    .into(),
            ));
        }
        Ok(Self {
            temperature: temperature.get::<kelvin>(),
            humidity_ratio: MOLAR_MASS_RATIO * vapour / (pressure - vapour),
            pressure,
        })
    }

    /// Air as [`MoistAir::new`], at the standard pressure of an altitude.
    ///
    /// # Errors
    /// As [`MoistAir::new`] and [`standard_pressure`].
    pub fn at_altitude(
        temperature: ThermodynamicTemperature,
        relative_humidity: Ratio,
        altitude: Length,
    ) -> Result<Self, CannotWorkOut> {
        Self::new(temperature, relative_humidity, standard_pressure(altitude)?)
    }

    /// Dry-bulb temperature `t`.
    pub fn temperature(&self) -> ThermodynamicTemperature {
        ThermodynamicTemperature::new::<kelvin>(self.temperature)
    }

    /// Absolute pressure `p`.
    pub fn pressure(&self) -> Pressure {
        Pressure::new::<pascal>(self.pressure)
    }

    /// Humidity ratio `W`: mass of water per mass of dry air.
    pub fn humidity_ratio(&self) -> Ratio {
        Ratio::new::<ratio>(self.humidity_ratio)
    }

    /// Partial pressure `p_w` of the water: p·W/(0.621945 + W) (eq. 36).
    pub fn vapour_pressure(&self) -> Pressure {
        let share = self.humidity_ratio / (MOLAR_MASS_RATIO + self.humidity_ratio);
        Pressure::new::<pascal>(self.pressure * share)
    }

    /// Specific volume `v` per mass of *dry* air: 287.042·T·(1 + 1.607858·W)/p (eq. 26).
    pub fn specific_volume(&self) -> SpecificVolume {
        let volume = DRY_AIR_GAS_CONSTANT * self.temperature / self.pressure
            * (1.0 + self.humidity_ratio / MOLAR_MASS_RATIO);
        SpecificVolume::new::<cubic_meter_per_kilogram>(volume)
    }

    /// Density `ρ` of the mixture: (1 + W)/v (eq. 11).
    pub fn density(&self) -> MassDensity {
        let volume = self.specific_volume().get::<cubic_meter_per_kilogram>();
        MassDensity::new::<kilogram_per_cubic_meter>((1.0 + self.humidity_ratio) / volume)
    }

    /// Specific enthalpy `h` per mass of dry air, counted from dry air at 0 °F and liquid water
    /// at 32 °F: 0.240·t + W·(1061 + 0.444·t), Btu/lb with t in °F (eq. 30, I-P edition).
    ///
    /// The SI edition counts from 0 °C; only differences agree between the two.
    pub fn enthalpy(&self) -> AvailableEnergy {
        let t = self.temperature().get::<degree_fahrenheit>();
        let enthalpy = 0.240 * t + self.humidity_ratio * (1061.0 + 0.444 * t);
        AvailableEnergy::new::<joule_per_kilogram>(enthalpy * BTU_PER_POUND)
    }

    /// Dew or frost point: the temperature at which p_ws equals p_w (eq. 37).
    ///
    /// # Errors
    /// When the air is so dry that the point lies below −100 °C.
    pub fn saturates(&self) -> Result<Saturates, CannotWorkOut> {
        saturates_at(self.vapour_pressure())
    }
}

/// The dew or frost point of a vapour pressure, the inverse of [`saturation_pressure`].
///
/// # Errors
/// When it lies outside −100 to 200 °C.
pub fn saturates_at(vapour_pressure: Pressure) -> Result<Saturates, CannotWorkOut> {
    let wanted = vapour_pressure.get::<pascal>().ln();
    let (low, high) = TEMPERATURES;
    let point = root::between(|t| log_saturation_pressure(t) - wanted, low, high, 1e-9);
    let point = point.ok_or_else(|| {
        CannotWorkOut(
            "This air is too dry to have a dew or frost point above -148 °F: \
             check the humidity reading."
                .into(),
        )
    })?;
    let temperature = ThermodynamicTemperature::new::<kelvin>(point);
    Ok(if point < TRIPLE_POINT {
        Saturates::AsFrost(temperature)
    } else {
        Saturates::AsDew(temperature)
    })
}

/// Saturation pressure `p_ws` of water, over ice below 0.01 °C and over liquid above
/// (eqs. 5 and 6, after Hyland and Wexler, 1983).
///
/// # Errors
/// Outside −100 to 200 °C.
pub fn saturation_pressure(
    temperature: ThermodynamicTemperature,
) -> Result<Pressure, CannotWorkOut> {
    let t = temperature.get::<kelvin>();
    if !(TEMPERATURES.0..=TEMPERATURES.1).contains(&t) {
        return Err(CannotWorkOut(format!(
            "An air temperature of {:.0} °F is outside the range of these formulas, \
             -148 to 392 °F.",
            temperature.get::<degree_fahrenheit>()
        )));
    }
    Ok(Pressure::new::<pascal>(log_saturation_pressure(t).exp()))
}

/// ln p_ws with p_ws in Pa and `t` in K.
fn log_saturation_pressure(t: f64) -> f64 {
    if t < TRIPLE_POINT {
        -5.674_535_9e3 / t + 6.392_524_7 - 9.677_843e-3 * t
            + 6.221_570_1e-7 * t.powi(2)
            + 2.074_782_5e-9 * t.powi(3)
            - 9.484_024e-13 * t.powi(4)
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t + 1.391_499_3 - 4.864_023_9e-2 * t + 4.176_476_8e-5 * t.powi(2)
            - 1.445_209_3e-8 * t.powi(3)
            + 6.545_967_3 * t.ln()
    }
}

/// Standard atmospheric pressure at altitude `Z`: 101.325·(1 − 2.25577·10⁻⁵·Z)^5.2559 kPa with
/// Z in m (eq. 3).
///
/// # Errors
/// Outside −5000 to 11,000 m.
pub fn standard_pressure(altitude: Length) -> Result<Pressure, CannotWorkOut> {
    let z = altitude.get::<meter>();
    if !(ALTITUDES.0..=ALTITUDES.1).contains(&z) {
        return Err(CannotWorkOut(format!(
            "An altitude of {:.0} ft is outside the standard atmosphere: \
             give feet above sea level, up to 36,000.",
            z / 0.3048
        )));
    }
    Ok(Pressure::new::<pascal>(
        101_325.0 * (1.0 - 2.255_77e-5 * z).powf(5.2559),
    ))
}

/// Density at an altitude over that at sea level, at the same temperature and moisture:
/// the ratio of the standard pressures.
///
/// # Errors
/// As [`standard_pressure`].
pub fn altitude_density_ratio(altitude: Length) -> Result<Ratio, CannotWorkOut> {
    let sea_level = standard_pressure(Length::new::<meter>(0.0))?;
    Ok(standard_pressure(altitude)? / sea_level)
}

/// Standard air of fan catalogues: 0.075 lb/ft³ (dry, 70 °F, sea level, rounded).
pub fn standard_density() -> MassDensity {
    MassDensity::new::<pound_per_cubic_foot>(0.075)
}
