//! Saturation of refrigerants: pressure from temperature and back, bubble and dew.
//!
//! The values are those of the CoolProp 8.0.0 library (Helmholtz equations of state), tabled
//! every 5 °F and interpolated by a cubic through four neighbours; the difference is below
//! 0.001 °F. R-448A, R-449A, R-454C and R-455A are multi-fluid mixtures there. R-455A lacks
//! fitted interaction terms for carbon dioxide with its two partners, so allow 2.5 psi for it.
//!
//! From −70 to 140 °F; R-744 from −65 °F, just above its triple point, to 85 °F, just below its
//! critical point.

use uom::si::f64::{Pressure, TemperatureInterval, ThermodynamicTemperature};
use uom::si::pressure::pascal;
use uom::si::temperature_interval::kelvin as kelvin_interval;
use uom::si::thermodynamic_temperature::{degree_fahrenheit, kelvin};

use super::formula::CannotWorkOut;
use super::quantity::shown;
use super::refrigerant::Refrigerant;

mod table;

/// Which end of boiling a saturation value stands for. For a pure refrigerant both are one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Liquid with the first bubble: the column for subcooling.
    Bubble,
    /// Vapour with the first drop: the column for superheat and for the TD of a coil.
    Dew,
}

/// The tabled logarithms of pressure for one refrigerant and side.
fn logs(refrigerant: Refrigerant, side: Side) -> &'static [f64] {
    use Refrigerant::{R22, R134a, R290, R404A, R448A, R449A, R454C, R455A, R507A, R744};
    use Side::{Bubble, Dew};
    match (refrigerant, side) {
        (R404A, Bubble) => table::R404A_BUBBLE,
        (R404A, Dew) => table::R404A_DEW,
        (R507A, Bubble) => table::R507A_BUBBLE,
        (R507A, Dew) => table::R507A_DEW,
        (R448A, Bubble) => table::R448A_BUBBLE,
        (R448A, Dew) => table::R448A_DEW,
        (R449A, Bubble) => table::R449A_BUBBLE,
        (R449A, Dew) => table::R449A_DEW,
        (R454C, Bubble) => table::R454C_BUBBLE,
        (R454C, Dew) => table::R454C_DEW,
        (R455A, Bubble) => table::R455A_BUBBLE,
        (R455A, Dew) => table::R455A_DEW,
        (R134a, Bubble | Dew) => table::R134A_BUBBLE,
        (R290, Bubble | Dew) => table::R290_BUBBLE,
        (R22, Bubble | Dew) => table::R22_BUBBLE,
        (R744, Bubble | Dew) => table::R744_BUBBLE,
    }
}

/// The temperature of the first tabled value, °F.
fn lowest(refrigerant: Refrigerant) -> f64 {
    match refrigerant {
        Refrigerant::R744 => table::LOWEST_R744,
        _ => table::LOWEST,
    }
}

/// The lowest and the highest temperature that is tabled for a refrigerant.
pub fn temperatures(
    refrigerant: Refrigerant,
) -> (ThermodynamicTemperature, ThermodynamicTemperature) {
    let steps = logs(refrigerant, Side::Dew).len() - 1;
    let lowest = lowest(refrigerant);
    (
        in_fahrenheit(lowest),
        in_fahrenheit(lowest + steps as f64 * table::STEP),
    )
}

/// Absolute saturation pressure at a temperature.
///
/// # Errors
/// Outside the tabled temperatures ([`temperatures`]).
pub fn pressure(
    refrigerant: Refrigerant,
    side: Side,
    temperature: ThermodynamicTemperature,
) -> Result<Pressure, CannotWorkOut> {
    let logs = logs(refrigerant, side);
    let place = (temperature.get::<degree_fahrenheit>() - lowest(refrigerant)) / table::STEP;
    let last = (logs.len() - 1) as f64;
    // A temperature typed as the very limit may be off in its last digit.
    if !(-1e-9..=last + 1e-9).contains(&place) {
        let (low, high) = temperatures(refrigerant);
        return Err(CannotWorkOut(format!(
            "{refrigerant} at {} is outside the table, which goes from {} to {}.",
            shown("deg_f", temperature.get::<kelvin>()),
            shown("deg_f", low.get::<kelvin>()),
            shown("deg_f", high.get::<kelvin>())
        )));
    }
    let (piece, from_start) = piece_of(logs, place);
    Ok(Pressure::new::<pascal>(cubic(piece, from_start).0.exp()))
}

/// Saturation temperature at an absolute pressure, the inverse of [`pressure`].
///
/// # Errors
/// Outside the tabled pressures.
pub fn temperature(
    refrigerant: Refrigerant,
    side: Side,
    pressure: Pressure,
) -> Result<ThermodynamicTemperature, CannotWorkOut> {
    let logs = logs(refrigerant, side);
    let wanted = pressure.get::<pascal>().ln();
    let (first, last) = (logs[0], logs[logs.len() - 1]);
    if !(first - 1e-9..=last + 1e-9).contains(&wanted) {
        return Err(CannotWorkOut(format!(
            "{refrigerant} at {} is outside the table, which goes from {} to {}: \
             check the gauge and that it is this refrigerant.",
            shown("psia", pressure.get::<pascal>()),
            shown("psia", first.exp()),
            shown("psia", last.exp())
        )));
    }
    let above = logs
        .partition_point(|log| *log <= wanted)
        .clamp(1, logs.len() - 1);
    let (low, high) = (logs[above - 1], logs[above]);
    let mut place = (above - 1) as f64 + (wanted - low) / (high - low);
    // Newton's method on the cubic, which is nearly straight: two turns reach 1e-12.
    for _ in 0..3 {
        let (piece, from_start) = piece_of(logs, place);
        let (log, slope) = cubic(piece, from_start);
        place += (wanted - log) / slope;
    }
    Ok(in_fahrenheit(lowest(refrigerant) + place * table::STEP))
}

/// Temperature glide at a pressure: dew minus bubble temperature; zero for a pure refrigerant.
///
/// # Errors
/// Outside the tabled pressures.
pub fn glide(
    refrigerant: Refrigerant,
    pressure: Pressure,
) -> Result<TemperatureInterval, CannotWorkOut> {
    let dew = temperature(refrigerant, Side::Dew, pressure)?;
    let bubble = temperature(refrigerant, Side::Bubble, pressure)?;
    let glide = dew.get::<kelvin>() - bubble.get::<kelvin>();
    Ok(TemperatureInterval::new::<kelvin_interval>(glide))
}

fn in_fahrenheit(degrees: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<degree_fahrenheit>(degrees)
}

/// The four values around `place` and how far `place` is from the first of them.
fn piece_of(logs: &[f64], place: f64) -> (&[f64], f64) {
    let start = (place.floor().max(1.0) as usize - 1).min(logs.len() - 4);
    (&logs[start..start + 4], place - start as f64)
}

/// Value and slope at `x` of the cubic through four values at 0, 1, 2 and 3 (Newton's form).
fn cubic(values: &[f64], x: f64) -> (f64, f64) {
    let d1 = values[1] - values[0];
    let d2 = values[2] - 2.0 * values[1] + values[0];
    let d3 = values[3] - 3.0 * values[2] + 3.0 * values[1] - values[0];
    let value = values[0] + x * (d1 + (x - 1.0) * (d2 / 2.0 + (x - 2.0) * d3 / 6.0));
    let slope = d1 + (2.0 * x - 1.0) * d2 / 2.0 + (3.0 * x * x - 6.0 * x + 2.0) * d3 / 6.0;
    (value, slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    #[test]
    fn every_table_rises_and_bubble_is_never_below_dew() {
        for refrigerant in Refrigerant::ALL {
            for side in [Side::Bubble, Side::Dew] {
                let logs = logs(refrigerant, side);
                assert!(
                    logs.windows(2).all(|pair| pair[0] < pair[1]),
                    "{refrigerant}"
                );
            }
            let pairs = logs(refrigerant, Side::Bubble)
                .iter()
                .zip(logs(refrigerant, Side::Dew));
            for (bubble, dew) in pairs {
                assert!(bubble >= dew, "{refrigerant}");
            }
        }
    }

    #[test]
    fn the_limits_belong_to_the_table() {
        for refrigerant in Refrigerant::ALL {
            let (low, high) = temperatures(refrigerant);
            for limit in [low, high] {
                let pressure = pressure(refrigerant, Side::Dew, limit).unwrap();
                let back = temperature(refrigerant, Side::Dew, pressure).unwrap();
                assert!((back.value - limit.value).abs() < 1e-9, "{refrigerant}");
            }
        }
    }

    #[test]
    fn outside_the_table_there_is_a_reason_and_no_number() {
        let hot = in_fahrenheit(200.0);
        let why = pressure(Refrigerant::R744, Side::Dew, hot)
            .unwrap_err()
            .to_string();
        assert!(why.contains("-65 °F to 85 °F"), "{why}");
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let pressure = Pressure::new::<pascal>(value);
            assert!(temperature(Refrigerant::R22, Side::Dew, pressure).is_err());
        }
    }

    proptest! {
        #[test]
        fn temperature_undoes_pressure(
            which in 0_usize..10, bubble in any::<bool>(), t in -60.0_f64..85.0,
        ) {
            let refrigerant = Refrigerant::ALL[which];
            let side = if bubble { Side::Bubble } else { Side::Dew };
            let p = pressure(refrigerant, side, in_fahrenheit(t)).unwrap();
            let back = temperature(refrigerant, side, p).unwrap();
            prop_assert!((back.get::<degree_fahrenheit>() - t).abs() < 1e-7);
        }

        #[test]
        fn warmer_is_higher(which in 0_usize..10, t in -60.0_f64..84.0, more in 1e-3_f64..1.0) {
            let refrigerant = Refrigerant::ALL[which];
            for side in [Side::Bubble, Side::Dew] {
                let cold = pressure(refrigerant, side, in_fahrenheit(t)).unwrap();
                let warm = pressure(refrigerant, side, in_fahrenheit(t + more)).unwrap();
                prop_assert!(cold < warm);
            }
        }
    }
}
