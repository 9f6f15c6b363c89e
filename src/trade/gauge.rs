//! What a technician reads off the gauges: gauge pressure, superheat, subcooling.

use uom::si::f64::{Length, Pressure, TemperatureInterval, ThermodynamicTemperature};
use uom::si::pressure::pascal;
use uom::si::temperature_interval::kelvin as kelvin_interval;
use uom::si::thermodynamic_temperature::kelvin;

use super::air;
use super::formula::CannotWorkOut;
use super::quantity::shown;
use super::refrigerant::Refrigerant;
use super::saturation::{self, Side};

/// One inch of mercury at 32 °F in pascals (NIST Special Publication 811, 2008, App. B).
const INCH_MERCURY: f64 = 3_386.389;

/// A gauge pressure: what a gauge shows that reads zero in the open air around it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Gauge(Pressure);

impl Gauge {
    /// A gauge pressure `p`, negative below the surrounding air.
    pub fn new(above_surrounding: Pressure) -> Self {
        Self(above_surrounding)
    }

    /// What a gauge shows for an absolute pressure where the air has the pressure `atmosphere`.
    pub fn of_absolute(absolute: Pressure, atmosphere: Pressure) -> Self {
        Self(absolute - atmosphere)
    }

    /// The pressure above that of the surrounding air.
    pub fn above_surrounding(self) -> Pressure {
        self.0
    }

    /// The absolute pressure where the air has the pressure `atmosphere`.
    ///
    /// # Errors
    /// When the result would not be above zero, which no gauge can show.
    pub fn absolute(self, atmosphere: Pressure) -> Result<Pressure, CannotWorkOut> {
        let absolute = self.0 + atmosphere;
        if absolute.value.is_finite() && absolute.value > 0.0 {
            return Ok(absolute);
        }
        Err(CannotWorkOut(
            "That is deeper than a full vacuum; read the gauge again, and say psig or inHg vacuum."
                .into(),
        ))
    }

    /// As a compound gauge prints it: psig, and below zero inches of mercury vacuum.
    pub fn show(self) -> String {
        let pascals = self.0.get::<pascal>();
        if pascals < 0.0 {
            return format!("{:.1} inHg vacuum", -pascals / INCH_MERCURY);
        }
        shown("psig", pascals)
    }
}

/// The gauge pressure of a vacuum in inches of mercury below the surrounding air.
///
/// # Errors
/// When the number is negative or not a number.
pub fn vacuum(inches_of_mercury: f64) -> Result<Gauge, CannotWorkOut> {
    if inches_of_mercury.is_finite() && inches_of_mercury >= 0.0 {
        return Ok(Gauge(Pressure::new::<pascal>(
            -inches_of_mercury * INCH_MERCURY,
        )));
    }
    Err(CannotWorkOut(
        "A vacuum is given in inches of mercury, zero or more.".into(),
    ))
}

/// The pressure of the surrounding air at an altitude, as [`air::standard_pressure`].
///
/// # Errors
/// As [`air::standard_pressure`].
pub fn atmosphere(altitude: Length) -> Result<Pressure, CannotWorkOut> {
    air::standard_pressure(altitude)
}

/// Superheat: temperature of the suction line − *dew* temperature at the suction pressure.
///
/// The bubble column would read several degrees too much for a blend with glide and look
/// plausible. Below zero the line is wetter than saturated vapour: liquid runs back, or a
/// reading is wrong.
///
/// # Errors
/// When the pressure is outside the table or the temperature is not a number.
pub fn superheat(
    refrigerant: Refrigerant,
    suction: Gauge,
    atmosphere: Pressure,
    line: ThermodynamicTemperature,
) -> Result<TemperatureInterval, CannotWorkOut> {
    let absolute = suction.absolute(atmosphere)?;
    let saturated = saturation::temperature(refrigerant, Side::Dew, absolute)?;
    difference(line, saturated)
}

/// Subcooling: *bubble* temperature at the liquid pressure − temperature of the liquid line.
///
/// # Errors
/// When the pressure is outside the table or the temperature is not a number.
pub fn subcooling(
    refrigerant: Refrigerant,
    liquid: Gauge,
    atmosphere: Pressure,
    line: ThermodynamicTemperature,
) -> Result<TemperatureInterval, CannotWorkOut> {
    let absolute = liquid.absolute(atmosphere)?;
    let saturated = saturation::temperature(refrigerant, Side::Bubble, absolute)?;
    difference(saturated, line)
}

fn difference(
    warm: ThermodynamicTemperature,
    cold: ThermodynamicTemperature,
) -> Result<TemperatureInterval, CannotWorkOut> {
    let difference = warm.get::<kelvin>() - cold.get::<kelvin>();
    if difference.is_finite() {
        return Ok(TemperatureInterval::new::<kelvin_interval>(difference));
    }
    Err(CannotWorkOut(
        "The line temperature must be a number, such as 38 °F.".into(),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    use uom::si::pressure::psi;

    fn gauge(value: f64) -> Gauge {
        Gauge::new(Pressure::new::<psi>(value))
    }

    #[test]
    fn below_zero_a_gauge_shows_inches_of_mercury() {
        assert_eq!(gauge(-4.8).show(), "9.8 inHg vacuum");
        assert_eq!(gauge(26.1).show(), "26.1 psig");
        let back = vacuum(9.8).unwrap().above_surrounding().get::<psi>();
        assert!((back + 4.81).abs() < 0.01, "{back}");
    }

    #[test]
    fn altitude_shifts_the_gauge() {
        let mile_high = atmosphere(Length::new::<uom::si::length::foot>(5_280.0)).unwrap();
        let sea = atmosphere(Length::new::<uom::si::length::foot>(0.0)).unwrap();
        let same = gauge(30.0).absolute(sea).unwrap();
        let shown = Gauge::of_absolute(same, mile_high)
            .above_surrounding()
            .get::<psi>();
        assert!((shown - 32.6).abs() < 0.1, "{shown}");
    }

    #[test]
    fn deeper_than_a_vacuum_is_refused() {
        let sea = Pressure::new::<psi>(14.696);
        assert!(gauge(-15.0).absolute(sea).is_err());
        assert!(gauge(f64::NAN).absolute(sea).is_err());
        assert!(vacuum(-1.0).is_err());
    }
}
