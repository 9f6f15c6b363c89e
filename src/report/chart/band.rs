//! One reading against the band it should lie in.

use super::CannotDraw;
use super::canvas::{At, INK, LETTERS, MARK, SOFT, STRONG, fitting, svg};
use crate::trade::quantity::plain_number;

/// A reading and its band, in one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// What was read: `Volts at the motor leads`.
    pub what: String,
    /// Its unit: `V`.
    pub unit: String,
    /// The lowest good value.
    pub low: f64,
    /// The highest good value.
    pub high: f64,
    /// The reading.
    pub reading: f64,
    /// Where the band comes from: `±10 % of 208 V, NEMA MG 1`.
    pub source: String,
}

const LEFT: f64 = 60.0;
const WIDTH: f64 = 640.0;

/// Draws the band as a box and the reading as a mark on one line.
///
/// # Errors
/// When the band is upside down or a value is not a number.
pub fn reading_in_band(band: &Band) -> Result<String, CannotDraw> {
    let values = [band.low, band.high, band.reading];
    if !values.iter().all(|value| value.is_finite()) || band.low > band.high {
        return Err(CannotDraw(
            "A band needs its low end first, and numbers.".into(),
        ));
    }
    let inside = (band.low..=band.high).contains(&band.reading);
    let words = if inside {
        "inside the band"
    } else if band.reading < band.low {
        "below the band"
    } else {
        "above the band"
    };
    let reading = format!("{} {}, {words}", plain_number(band.reading), band.unit);
    // Both ends of the band and the reading stay a tenth away from the edges.
    let (least, most) = (band.low.min(band.reading), band.high.max(band.reading));
    let spare = ((most - least) * 0.15)
        .max(f64::EPSILON * most.abs())
        .max(1e-9);
    let x = |value: f64| {
        let share = (value - least + spare) / (most - least + 2.0 * spare);
        (LEFT + share * WIDTH).round() as i32
    };
    let title = fitting(&band.what, 720, super::canvas::HEADING);
    let colour = if inside { &STRONG } else { &MARK };
    svg((760, 250), &title, &reading, |sheet| {
        sheet.line((LEFT as i32, 136), ((LEFT + WIDTH) as i32, 136), &INK, 2)?;
        sheet.bar((x(band.low), 121), (x(band.high), 151), &SOFT)?;
        let mark = x(band.reading);
        sheet.line((mark, 104), (mark, 168), colour, 6)?;
        let side = if mark < 380 {
            (At::Left, mark - 3)
        } else {
            (At::Right, mark + 3)
        };
        sheet.text(&reading, (side.1, 84), side.0, LETTERS, colour)?;
        let ends = format!(
            "band {} to {} {}",
            plain_number(band.low),
            plain_number(band.high),
            band.unit
        );
        sheet.text(&ends, (20, 196), At::Left, LETTERS, &INK)?;
        sheet.text(
            &fitting(&band.source, 720, LETTERS),
            (20, 228),
            At::Left,
            LETTERS,
            &INK,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts(reading: f64) -> Band {
        Band {
            what: "Volts at the motor leads".into(),
            unit: "V".into(),
            low: 207.0,
            high: 253.0,
            reading,
            source: "rated 230 V ± 10%, NEMA MG 1-12.44".into(),
        }
    }

    #[test]
    fn the_words_say_where_the_reading_lies() {
        for (reading, words) in [
            (206.0, "206 V, below the band"),
            (207.0, "207 V, inside the band"),
            (260.0, "260 V, above the band"),
        ] {
            assert!(
                reading_in_band(&volts(reading)).unwrap().contains(words),
                "{words}"
            );
        }
    }

    #[test]
    fn a_band_upside_down_is_refused() {
        let band = Band {
            low: 10.0,
            high: 5.0,
            ..volts(7.0)
        };
        assert!(reading_in_band(&band).is_err());
    }
}
