//! What the air side of a coil does: its temperature difference, its capacity, the room it keeps.

use uom::si::f64::{Power, Ratio, TemperatureInterval, ThermodynamicTemperature, VolumeRate};
use uom::si::power::watt;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::{degree_fahrenheit, kelvin as kelvin_interval};
use uom::si::thermodynamic_temperature::kelvin;

use super::air::MoistAir;
use super::formula::CannotWorkOut;
use super::rows::row_si;

/// The room humidity that a coil keeps at a temperature difference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RoomHumidity {
    /// About this.
    About(Ratio),
    /// Below this.
    Below(Ratio),
}

/// The data rows of the table, each with its lowest and highest whole degree Fahrenheit.
const TABLE: &[(i64, i64, &str)] = &[
    (8, 9, "room_humidity_at_td_8_to_10"),
    (10, 11, "room_humidity_at_td_10_to_12"),
    (12, 13, "room_humidity_at_td_12_to_14"),
    (14, 16, "room_humidity_at_td_14_to_16"),
    (17, 22, "room_humidity_at_td_17_to_22"),
];

/// `TD` = air on the coil − saturated suction temperature (the dew column for a blend).
///
/// # Errors
/// When the air is not warmer than the coil.
pub fn temperature_difference(
    air_on: ThermodynamicTemperature,
    saturated_suction: ThermodynamicTemperature,
) -> Result<TemperatureInterval, CannotWorkOut> {
    let difference = air_on.get::<kelvin>() - saturated_suction.get::<kelvin>();
    if !difference.is_finite() || difference < 0.0 {
        return Err(CannotWorkOut(
            "The coil can't be warmer than the air it cools: check both readings and that the \
             refrigerant is right."
                .into(),
        ));
    }
    Ok(TemperatureInterval::new::<kelvin_interval>(difference))
}

/// The room humidity that a forced-air coil usually keeps at a `TD`, read from a table of whole
/// degrees Fahrenheit.
///
/// The table must be used: assuming that the room is as moist as saturated air at the coil
/// would give only 64 % at a TD of 10 °F. The rows are from memory; 10 °F with about 85 % is
/// confirmed by a published text.
///
/// # Errors
/// Outside 8 to 22 °F.
pub fn room_humidity(difference: TemperatureInterval) -> Result<RoomHumidity, CannotWorkOut> {
    let degrees = difference.get::<degree_fahrenheit>().round();
    let place = TABLE
        .iter()
        .position(|(low, high, _)| (*low as f64..=*high as f64).contains(&degrees));
    let Some(place) = place else {
        return Err(CannotWorkOut(format!(
            "A TD of {degrees:.0} F° is outside the table, which goes from 8 to 22 F°."
        )));
    };
    let humidity = Ratio::new::<ratio>(row_si(TABLE[place].2)?);
    Ok(if place + 1 == TABLE.len() {
        RoomHumidity::Below(humidity)
    } else {
        RoomHumidity::About(humidity)
    })
}

/// Heat that the air gives to the coil, moisture included: Q/v·(h_on − h_off).
///
/// `flow` is measured in the air on the coil. Counting the whole enthalpy difference leaves out
/// only the small heat of the water that drains or freezes (ASHRAE Handbook, Fundamentals
/// (2017), ch. 1, "Moist air cooling and dehumidification").
///
/// # Errors
/// When the flow is negative, or the air comes off with more heat than it had.
pub fn air_side_capacity(
    air_on: &MoistAir,
    air_off: &MoistAir,
    flow: VolumeRate,
) -> Result<Power, CannotWorkOut> {
    if !flow.value.is_finite() || flow.value < 0.0 {
        return Err(CannotWorkOut(
            "The air flow must be zero or more, such as 1500 cfm.".into(),
        ));
    }
    let difference = air_on.enthalpy().value - air_off.enthalpy().value;
    if difference < 0.0 {
        return Err(CannotWorkOut(
            "The air off the coil holds more heat than the air on it: check which reading is \
             which, and that the unit is not in defrost."
                .into(),
        ));
    }
    Ok(Power::new::<watt>(
        flow.value / air_on.specific_volume().value * difference,
    ))
}
