//! The readings of one fact over the jobs on an evaporator.

use super::CannotDraw;
use super::canvas::{At, FAINT, INK, LETTERS, MARK, STRONG, Sheet, fitting, round_up, svg};
use crate::trade::quantity::plain_number;

/// More points than this do not fit beside their values.
pub const POINTS_MAX: usize = 12;

/// One reading, in the unit of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// When, in a few letters: `05-04`.
    pub when: String,
    /// The value.
    pub value: f64,
    /// Whether it lay where it was expected; none where nothing was.
    pub as_expected: Option<bool>,
}

const LEFT: i32 = 40;
const WIDTH: i32 = 720;
const TOP: i32 = 90;
const HEIGHT: i32 = 190;

/// Draws readings from the earliest to the latest, at equal steps.
///
/// # Errors
/// With fewer than 2 points or more than [`POINTS_MAX`], or a value that is no number.
pub fn trend(title: &str, unit: &str, points: &[Point]) -> Result<String, CannotDraw> {
    if points.len() < 2 || points.len() > POINTS_MAX {
        return Err(CannotDraw(format!(
            "A trend shows 2 to {POINTS_MAX} readings."
        )));
    }
    if points.iter().any(|point| !point.value.is_finite()) {
        return Err(CannotDraw("A reading is not a number.".into()));
    }
    let said = points.iter().map(|point| {
        let outside = match point.as_expected {
            Some(false) => ", outside the expected range",
            _ => "",
        };
        format!(
            "{}: {} {unit}{outside}",
            point.when,
            plain_number(point.value)
        )
    });
    let says = said.collect::<Vec<_>>().join("; ");
    let heading = fitting(&format!("{title}, {unit}"), WIDTH, super::canvas::HEADING);
    svg((800, 360), &heading, &says, |sheet| draw(sheet, points))
}

fn draw(sheet: &Sheet<'_>, points: &[Point]) -> Result<(), CannotDraw> {
    let values = points.iter().map(|point| point.value);
    let least = values.clone().fold(f64::INFINITY, f64::min);
    let most = values.fold(f64::NEG_INFINITY, f64::max);
    // Readings that are nearly alike lie on a nearly level line.
    let span = (most - least).max(round_up(most.abs()) * 0.2);
    let low = (most + least - span) / 2.0;
    let place = |at: usize, value: f64| {
        let step = WIDTH - 2 * LEFT;
        let x = 2 * LEFT + step * at as i32 / (points.len() as i32 - 1).max(1);
        let y = TOP + HEIGHT - ((value - low) / span * f64::from(HEIGHT)).round() as i32;
        (x, y)
    };
    let foot = TOP + HEIGHT + 30;
    sheet.line((LEFT, foot), (LEFT + WIDTH, foot), &FAINT, 2)?;
    for (at, pair) in points.windows(2).enumerate() {
        let [from, to] = pair else { continue };
        sheet.line(place(at, from.value), place(at + 1, to.value), &STRONG, 3)?;
    }
    // Where many stand close together every other one is named; the table names all.
    let named = points.len().div_ceil(6);
    for (at, point) in points.iter().enumerate() {
        let (x, y) = place(at, point.value);
        let is_outside = point.as_expected == Some(false);
        let colour = if is_outside { &MARK } else { &STRONG };
        sheet.bar((x - 6, y - 6), (x + 6, y + 6), colour)?;
        if is_outside {
            sheet.line((x - 14, y - 14), (x + 14, y + 14), &MARK, 3)?;
            sheet.line((x - 14, y + 14), (x + 14, y - 14), &MARK, 3)?;
        }
        if (points.len() - 1 - at).is_multiple_of(named) {
            let value = plain_number(point.value);
            sheet.text(&value, (x, y - 28), At::Middle, LETTERS, &INK)?;
            sheet.text(&point.when, (x, foot + 24), At::Middle, LETTERS, &INK)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(value: f64) -> Point {
        Point {
            when: "05-04".into(),
            value,
            as_expected: Some(value < 250.0),
        }
    }

    #[test]
    fn every_value_is_said_and_the_last_is_written() {
        let svg = trend("Supply", "V", &[point(208.0), point(206.5), point(260.0)]).unwrap();
        for text in [
            "Supply, V",
            "206.5 V",
            "260 V, outside the expected range",
            ">\n260\n<",
        ] {
            assert!(svg.contains(text), "{text}: {svg}");
        }
    }

    #[test]
    fn one_reading_or_no_number_is_no_trend() {
        assert!(trend("Supply", "V", &[point(208.0)]).is_err());
        assert!(trend("Supply", "V", &[point(208.0), point(f64::NAN)]).is_err());
        let many = vec![point(1.0); POINTS_MAX + 1];
        assert!(trend("Supply", "V", &many).is_err());
        assert!(trend("Level", "V", &[point(0.0), point(0.0)]).is_ok());
    }
}
