//! Several numbers of one kind as bars on one scale.

use super::CannotDraw;
use super::canvas::{At, INK, LETTERS, STRONG, Sheet, fitting, round_up, svg, width};

/// One number of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What it counts.
    pub what: String,
    /// How much: zero or above.
    pub value: f64,
    /// The same with its unit, as people read it: `12 jobs`.
    pub says: String,
}

/// More bars than this make no picture; the rest stands in the table beside it.
pub const BARS_MAX: usize = 12;
/// Height of one bar with its text above it.
const ROW: i32 = 84;
/// The longest bar, in pixels.
const LONGEST: i32 = 560;

/// Draws the first [`BARS_MAX`] of `bars`, as they stand.
///
/// # Errors
/// With no bar, or with a value that is negative or not a number.
pub fn bars(title: &str, bars: &[Bar]) -> Result<String, CannotDraw> {
    let shown = &bars[..bars.len().min(BARS_MAX)];
    if shown.is_empty() {
        return Err(CannotDraw("A chart needs at least one bar.".into()));
    }
    if !bars
        .iter()
        .all(|bar| bar.value.is_finite() && bar.value >= 0.0)
    {
        return Err(CannotDraw("The numbers must be zero or above.".into()));
    }
    let most = round_up(shown.iter().map(|bar| bar.value).fold(0.0, f64::max));
    let left = bars.len() - shown.len();
    let more = (left > 0).then(|| format!("{left} more stand in the table."));
    let says = shown
        .iter()
        .map(|bar| format!("{}: {}", bar.what, bar.says));
    let says: Vec<String> = says.chain(more.clone()).collect();
    let below = 60 + ROW * shown.len() as i32;
    svg(
        (760, (below + 40) as u32),
        title,
        &says.join("; "),
        |sheet| {
            for (index, bar) in shown.iter().enumerate() {
                draw(sheet, bar, 74 + ROW * index as i32, most)?;
            }
            match &more {
                Some(more) => sheet.text(more, (20, below + 14), At::Left, LETTERS, &INK),
                None => Ok(()),
            }
        },
    )
}

fn draw(sheet: &Sheet<'_>, bar: &Bar, y: i32, most: f64) -> Result<(), CannotDraw> {
    let what = fitting(&bar.what, 720, LETTERS);
    sheet.text(&what, (20, y), At::Left, LETTERS, &INK)?;
    let says = fitting(&bar.says, 150, LETTERS);
    let end = 20 + (bar.value / most * f64::from(LONGEST)).round() as i32;
    sheet.bar((20, y + 18), (end.max(22), y + 46), &STRONG)?;
    let room = 760 - width(&says, LETTERS) - 8;
    let at = (end.max(22) + 10).min(room);
    sheet.text(&says, (at, y + 32), At::Left, LETTERS, &INK)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(what: &str, value: f64) -> Bar {
        Bar {
            what: what.to_owned(),
            value,
            says: format!("{value} jobs"),
        }
    }

    #[test]
    fn every_number_is_written_beside_its_bar() {
        let svg = bars(
            "How jobs ended",
            &[bar("Repaired", 3.0), bar("Passed <on>", 0.0)],
        )
        .unwrap();
        for text in [
            "How jobs ended",
            "Repaired",
            "3 jobs",
            "0 jobs",
            "Passed &lt;on&gt;",
        ] {
            assert!(svg.contains(text), "{text}");
        }
        assert!(bars("Nothing", &[]).is_err());
        assert!(bars("Wrong", &[bar("Less than nothing", -1.0)]).is_err());
    }

    #[test]
    fn what_is_left_out_of_the_picture_is_said() {
        let many: Vec<Bar> = (0..15)
            .map(|number| bar("Cause", f64::from(number)))
            .collect();
        assert!(
            bars("Causes", &many)
                .unwrap()
                .contains("3 more stand in the table.")
        );
    }
}
