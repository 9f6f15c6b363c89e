//! Watts and box heat before and after.

use super::CannotDraw;
use super::canvas::{At, INK, LETTERS, SOFT, STRONG, Sheet, fitting, round_up, svg};
use crate::trade::chart::Pair;
use crate::trade::quantity::plain_number;

/// More pairs than this do not fit on one chart.
const PAIRS_MAX: usize = 4;
/// Height of one pair on the sheet.
const PAIR: i32 = 170;

/// Draws each pair as two bars of one scale.
///
/// # Errors
/// With no pair or more than 4, or with a value that is negative or not a number.
pub(super) fn before_and_after(pairs: &[Pair], note: &str) -> Result<String, CannotDraw> {
    if pairs.is_empty() || pairs.len() > PAIRS_MAX {
        return Err(CannotDraw(format!("A chart shows 1 to {PAIRS_MAX} pairs.")));
    }
    let usable = |value: f64| value.is_finite() && value >= 0.0;
    if !pairs
        .iter()
        .all(|pair| usable(pair.before) && usable(pair.after))
    {
        return Err(CannotDraw(
            "Values before and after must be zero or above.".into(),
        ));
    }
    let mut says: Vec<String> = pairs
        .iter()
        .map(|pair| {
            let (before, after) = (whole(pair.before), whole(pair.after));
            format!(
                "{} {before} {unit} before, {after} {unit} after",
                pair.what,
                unit = pair.unit
            )
        })
        .collect();
    says.push(note.to_owned());
    let below = 70 + PAIR * pairs.len() as i32;
    svg(
        (760, (below + 40) as u32),
        "Before and after",
        &says.join("; "),
        |sheet| {
            for (index, pair) in pairs.iter().enumerate() {
                draw(sheet, pair, 78 + PAIR * index as i32)?;
            }
            sheet.text(
                &fitting(note, 720, LETTERS),
                (20, below + 8),
                At::Left,
                LETTERS,
                &INK,
            )
        },
    )
}

fn draw(sheet: &Sheet<'_>, pair: &Pair, top: i32) -> Result<(), CannotDraw> {
    let heading = format!("{}, {}", pair.what, pair.known);
    sheet.text(
        &fitting(&heading, 720, LETTERS),
        (20, top),
        At::Left,
        LETTERS,
        &INK,
    )?;
    let most = round_up(pair.before.max(pair.after));
    for (row, name, value, colour) in [
        (0, "before", pair.before, &SOFT),
        (1, "after", pair.after, &STRONG),
    ] {
        let y = top + 44 + 48 * row;
        let end = 110 + (value / most * 420.0).round() as i32;
        sheet.text(name, (100, y), At::Right, LETTERS, &INK)?;
        sheet.bar((110, y - 18), (end.max(111), y + 18), colour)?;
        let text = fitting(&format!("{} {}", whole(value), pair.unit), 200, LETTERS);
        sheet.text(&text, (end + 10, y), At::Left, LETTERS, &INK)?;
    }
    sheet.line((110, top + 20), (110, top + 116), &INK, 2)
}

/// Watts and heat are not known to tenths.
fn whole(value: f64) -> String {
    plain_number(value.round())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_values_and_how_they_are_known_are_written() {
        let pair = Pair {
            what: "Fan power".into(),
            unit: "W".into(),
            before: 270.0,
            after: 90.0,
            known: "by wattmeter".into(),
        };
        let svg = before_and_after(&[pair], "Saved: 150 W to 210 W.").unwrap();
        for text in ["270 W", "90 W", "by wattmeter", "Saved: 150 W"] {
            assert!(svg.contains(text), "{text}");
        }
        assert!(before_and_after(&[], "").is_err());
    }
}
