//! Between values by name and typed quantities, and the refusals every topic shares.

use uom::si::angular_velocity::radian_per_second;
use uom::si::capacitance::farad;
use uom::si::electric_current::ampere;
use uom::si::electric_potential::volt;
use uom::si::electrical_resistance::ohm;
use uom::si::energy::joule;
use uom::si::f64::{
    AngularVelocity, Area, Capacitance, ElectricCurrent, ElectricPotential, ElectricalResistance,
    Energy, Frequency, Length, Mass, Power, Ratio, TemperatureInterval, ThermodynamicTemperature,
    Time,
};
use uom::si::frequency::hertz;
use uom::si::length::meter;
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_apart;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;

use super::formula::{Arguments, CannotWorkOut, Results, Value, ValueType};
use super::quantity::{Kind, Quantity};
use super::rows::row_si;
use super::worded::Worded;

/// A volt-typed input or output.
pub(crate) const VOLTAGE: ValueType = ValueType::Quantity(Kind::Voltage);
/// An ampere-typed one.
pub(crate) const CURRENT: ValueType = ValueType::Quantity(Kind::Current);
/// A watt-typed one.
pub(crate) const POWER: ValueType = ValueType::Quantity(Kind::Power);
/// An ohm-typed one.
pub(crate) const RESISTANCE: ValueType = ValueType::Quantity(Kind::Resistance);
/// A farad-typed one.
pub(crate) const CAPACITANCE: ValueType = ValueType::Quantity(Kind::Capacitance);
/// A hertz-typed one.
pub(crate) const FREQUENCY: ValueType = ValueType::Quantity(Kind::Frequency);
/// A speed of rotation.
pub(crate) const SPEED: ValueType = ValueType::Quantity(Kind::RotationalSpeed);
/// A length.
pub(crate) const LENGTH: ValueType = ValueType::Quantity(Kind::Length);
/// An absolute temperature.
pub(crate) const TEMPERATURE: ValueType = ValueType::Quantity(Kind::Temperature);
/// A span of time.
pub(crate) const DURATION: ValueType = ValueType::Quantity(Kind::Duration);
/// A share of something.
pub(crate) const RATIO: ValueType = ValueType::Quantity(Kind::Ratio);
/// Whether something is so.
pub(crate) const TRUE_OR_FALSE: ValueType = ValueType::Word(super::formula::TRUTH);

/// A `uom` quantity that has a run-time [`Kind`].
pub(crate) trait Measured: Copy + Sized {
    /// The run-time kind.
    const KIND: Kind;
    /// From the SI value.
    fn of_si(si: f64) -> Self;
    /// To the SI value.
    fn si(self) -> f64;

    /// The run-time quantity.
    fn quantity(self) -> Quantity {
        Quantity {
            kind: Self::KIND,
            si: self.si(),
        }
    }

    /// Text in the usual unit.
    fn shown(self) -> String {
        self.quantity().to_string()
    }
}

macro_rules! measured {
    ($( $Type:ty, $kind:ident, $unit:ty; )+) => { $(
        impl Measured for $Type {
            const KIND: Kind = Kind::$kind;
            fn of_si(si: f64) -> Self {
                Self::new::<$unit>(si)
            }
            fn si(self) -> f64 {
                self.get::<$unit>()
            }
        }
    )+ };
}

measured! {
    ElectricPotential, Voltage, volt;
    ElectricCurrent, Current, ampere;
    Power, Power, watt;
    ElectricalResistance, Resistance, ohm;
    Capacitance, Capacitance, farad;
    Frequency, Frequency, hertz;
    AngularVelocity, RotationalSpeed, radian_per_second;
    Length, Length, meter;
    Area, Area, uom::si::area::square_meter;
    Time, Duration, second;
    Energy, Energy, joule;
    Mass, Mass, uom::si::mass::kilogram;
    ThermodynamicTemperature, Temperature, kelvin;
    TemperatureInterval, TemperatureDifference, kelvin_apart;
    Ratio, Ratio, ratio;
}

/// The typed quantity under `name`.
pub(crate) fn given<T: Measured>(arguments: &Arguments, name: &str) -> Result<T, CannotWorkOut> {
    arguments.si(name, T::KIND).map(T::of_si)
}

/// The typed quantity under `name`, if it is given.
pub(crate) fn maybe<T: Measured>(
    arguments: &Arguments,
    name: &str,
) -> Result<Option<T>, CannotWorkOut> {
    if arguments.has(name) {
        given(arguments, name).map(Some)
    } else {
        Ok(None)
    }
}

/// All typed quantities under `name`.
pub(crate) fn several<T: Measured>(
    arguments: &Arguments,
    name: &str,
) -> Result<Vec<T>, CannotWorkOut> {
    Ok(arguments
        .si_list(name, T::KIND)?
        .into_iter()
        .map(T::of_si)
        .collect())
}

/// The word under `name` as a value of its type.
pub(crate) fn chosen<T: Worded>(arguments: &Arguments, name: &str) -> Result<T, CannotWorkOut> {
    let word = arguments.word_of(name, T::LIST)?;
    T::of_word(word).ok_or_else(|| {
        CannotWorkOut(format!(
            "{name} is {word}; it must be one of {}.",
            T::LIST.join(", ")
        ))
    })
}

/// The word under `name` as a value of its type, if it is given.
pub(crate) fn maybe_chosen<T: Worded>(
    arguments: &Arguments,
    name: &str,
) -> Result<Option<T>, CannotWorkOut> {
    if arguments.has(name) {
        chosen(arguments, name).map(Some)
    } else {
        Ok(None)
    }
}

/// The truth under `name`, if it is given.
pub(crate) fn maybe_truth(
    arguments: &Arguments,
    name: &str,
) -> Result<Option<bool>, CannotWorkOut> {
    if arguments.has(name) {
        arguments.truth(name).map(Some)
    } else {
        Ok(None)
    }
}

/// The value of the data row called `name`.
pub(crate) fn row_value<T: Measured>(name: &str) -> Result<T, CannotWorkOut> {
    row_si(name).map(T::of_si)
}

/// `value`, if it is finite and above zero.
pub(crate) fn above_zero<T: Measured>(what: &str, value: T) -> Result<f64, CannotWorkOut> {
    let si = value.si();
    if si.is_finite() && si > 0.0 {
        return Ok(si);
    }
    Err(refusal(what, value, "it must be above zero"))
}

/// `value`, if it is finite and not below zero.
pub(crate) fn not_negative<T: Measured>(what: &str, value: T) -> Result<f64, CannotWorkOut> {
    let si = value.si();
    if si.is_finite() && si >= 0.0 {
        return Ok(si);
    }
    Err(refusal(what, value, "it must be zero or above"))
}

/// `value`, if it lies from `low` to `high`.
pub(crate) fn from_to<T: Measured>(
    what: &str,
    value: T,
    low: T,
    high: T,
) -> Result<f64, CannotWorkOut> {
    let si = value.si();
    if si >= low.si() && si <= high.si() {
        return Ok(si);
    }
    let range = format!("it must be from {} to {}", low.shown(), high.shown());
    Err(refusal(what, value, &range))
}

fn refusal<T: Measured>(what: &str, value: T, wanted: &str) -> CannotWorkOut {
    let stated = if value.si().is_finite() {
        value.shown()
    } else {
        "not a number".into()
    };
    CannotWorkOut(format!("{what} is {stated}; {wanted}."))
}

/// The result `si`, unless the inputs were so extreme that it is no number.
pub(crate) fn result<T: Measured>(what: &str, si: f64) -> Result<T, CannotWorkOut> {
    if si.is_finite() {
        return Ok(T::of_si(si));
    }
    Err(CannotWorkOut(format!(
        "{what} comes out too large to be real; check the units of what was entered."
    )))
}

impl Results {
    /// Adds a typed quantity.
    #[must_use]
    pub(crate) fn put<T: Measured>(self, name: &str, value: T) -> Self {
        self.with(name, Value::Quantity(value.quantity()))
    }

    /// Adds a word.
    #[must_use]
    pub(crate) fn put_word(self, name: &str, word: &str) -> Self {
        self.with(name, Value::Word(word.to_owned()))
    }

    /// Adds whether something is so.
    #[must_use]
    pub(crate) fn put_truth(self, name: &str, truth: bool) -> Self {
        self.put_word(name, if truth { "true" } else { "false" })
    }
}
