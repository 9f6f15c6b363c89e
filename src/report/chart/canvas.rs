//! A white sheet with the few marks that the charts are made of.

use std::fmt::Display;

use plotters::coord::Shift;
use plotters::element::{PathElement, Rectangle, Text};
use plotters::prelude::{DrawingArea, IntoDrawingArea, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, IntoFont, RGBColor, ShapeStyle, TextStyle};

use super::CannotDraw;

/// Text and outlines: nearly black.
pub(super) const INK: RGBColor = RGBColor(0x1a, 0x1a, 0x1a);
/// The bar that matters: 10 : 1 against white.
pub(super) const STRONG: RGBColor = RGBColor(0x0b, 0x3c, 0x6f);
/// Other bars; outlined in ink, so that they show on any paper.
pub(super) const SOFT: RGBColor = RGBColor(0xb9, 0xcd, 0xe2);
/// What is wanted, and what is out of band: 5.6 : 1 against white.
pub(super) const MARK: RGBColor = RGBColor(0xb3, 0x43, 0x00);
/// The sheet itself.
pub(super) const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
/// A guide behind the bars.
pub(super) const FAINT: RGBColor = RGBColor(0xd9, 0xd9, 0xd9);

/// Height of a heading's letters, in pixels of the drawing, which a phone shows at half size.
pub(super) const HEADING: i32 = 32;
/// Height of all other letters.
pub(super) const LETTERS: i32 = 26;
/// Widest letter over its height, on average, of a sans-serif text.
const LETTER_WIDTH: f64 = 0.5;

/// Which end of a text stands at its point.
#[derive(Clone, Copy)]
pub(super) enum At {
    Left,
    Middle,
    Right,
}

/// Draws an SVG of `size` with `draw`; `title` and `says` describe it to those who cannot see it.
pub(super) fn svg(
    size: (u32, u32),
    title: &str,
    says: &str,
    draw: impl FnOnce(&Sheet<'_>) -> Result<(), CannotDraw>,
) -> Result<String, CannotDraw> {
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        area.fill(&PAPER).map_err(failed)?;
        let sheet = Sheet { area };
        sheet.text(title, (20, 26), At::Left, HEADING, &INK)?;
        draw(&sheet)?;
        sheet.area.present().map_err(failed)?;
    }
    described(&text, title, says)
}

/// Puts a title and a description into the SVG, for screen readers.
fn described(svg: &str, title: &str, says: &str) -> Result<String, CannotDraw> {
    let (head, rest) = svg
        .find("<svg")
        .and_then(|start| Some(start + svg[start..].find('>')? + 1))
        .map(|end| svg.split_at(end))
        .ok_or_else(|| CannotDraw("The drawing came out empty.".into()))?;
    let head = head.replacen("<svg", "<svg role=\"img\"", 1);
    Ok(format!(
        "{head}<title>{}</title><desc>{}</desc>{rest}",
        escaped(title),
        escaped(says)
    ))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

fn failed(why: impl Display) -> CannotDraw {
    CannotDraw(format!("The chart could not be drawn: {why}."))
}

/// The sheet that is drawn on, in pixels from its top left corner.
pub(super) struct Sheet<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

impl Sheet<'_> {
    /// A filled box with an outline of ink.
    pub(super) fn bar(
        &self,
        from: (i32, i32),
        to: (i32, i32),
        fill: &RGBColor,
    ) -> Result<(), CannotDraw> {
        self.area
            .draw(&Rectangle::new([from, to], fill.filled()))
            .map_err(failed)?;
        self.area
            .draw(&Rectangle::new([from, to], INK.stroke_width(1)))
            .map_err(failed)
    }

    /// A box without an outline.
    pub(super) fn tint(
        &self,
        from: (i32, i32),
        to: (i32, i32),
        fill: &RGBColor,
    ) -> Result<(), CannotDraw> {
        self.area
            .draw(&Rectangle::new([from, to], fill.filled()))
            .map_err(failed)
    }

    /// A straight line.
    pub(super) fn line(
        &self,
        from: (i32, i32),
        to: (i32, i32),
        colour: &RGBColor,
        width: u32,
    ) -> Result<(), CannotDraw> {
        let style = ShapeStyle {
            color: colour.to_rgba(),
            filled: false,
            stroke_width: width,
        };
        self.area
            .draw(&PathElement::new(vec![from, to], style))
            .map_err(failed)
    }

    /// A level line of dashes.
    pub(super) fn dashes(&self, from: i32, to: i32, y: i32) -> Result<(), CannotDraw> {
        let mut x = from;
        while x < to {
            self.line((x, y), ((x + 10).min(to), y), &MARK, 3)?;
            x += 16;
        }
        Ok(())
    }

    /// A text whose height is centred on its point.
    #[expect(
        clippy::too_many_arguments,
        reason = "five besides the sheet: what, where, how it hangs, size and colour"
    )]
    pub(super) fn text(
        &self,
        text: &str,
        point: (i32, i32),
        at: At,
        size: i32,
        colour: &RGBColor,
    ) -> Result<(), CannotDraw> {
        let horizontal = match at {
            At::Left => HPos::Left,
            At::Middle => HPos::Center,
            At::Right => HPos::Right,
        };
        let style = TextStyle::from(("sans-serif", size).into_font())
            .color(colour)
            .pos(Pos::new(horizontal, VPos::Center));
        self.area
            .draw(&Text::new(text.to_owned(), point, style))
            .map_err(failed)
    }
}

/// Width of a text in pixels, roughly and rather too wide.
pub(super) fn width(text: &str, size: i32) -> i32 {
    (text.chars().count() as f64 * f64::from(size) * LETTER_WIDTH).ceil() as i32
}

/// `text`, cut with an ellipsis so that it stays within `width` pixels at `size`.
pub(super) fn fitting(text: &str, width: i32, size: i32) -> String {
    let room = (f64::from(width) / (f64::from(size) * LETTER_WIDTH))
        .floor()
        .max(1.0) as usize;
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(room.saturating_sub(1)).collect();
    cut.truncate(cut.trim_end().len());
    cut.push('…');
    cut
}

/// A round number at or above `value`, to end a scale with.
pub(super) fn round_up(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return 1.0;
    }
    let scale = 10f64.powf(value.log10().floor());
    let steps = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    steps
        .into_iter()
        .map(|step| step * scale)
        .find(|end| *end >= value)
        .unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scale_ends_at_a_round_number() {
        for (value, end) in [
            (0.0, 1.0),
            (0.9, 1.0),
            (12.0, 15.0),
            (912.0, 1000.0),
            (64.0, 80.0),
        ] {
            assert!((round_up(value) - end).abs() < 1e-9, "{value}");
        }
    }

    #[test]
    fn a_long_text_is_cut_with_an_ellipsis() {
        assert_eq!(fitting("short", 200, 20), "short");
        assert_eq!(
            fitting("a very long name of a setting", 100, 20),
            "a very lo…"
        );
    }
}
