//! One reading drawn against the band in which it was expected.
//!
//! The band is a bar between two ticks. A reading inside is a dot, one outside a diamond, so that
//! the picture says the same without colours; the words beside it say it once more.

/// Width and height of the drawing.
const WIDE: f64 = 240.0;
const HIGH: f64 = 28.0;
/// The bar stands between these when the reading lies inside.
const MARGIN: f64 = 14.0;

/// A reading and its band, in one unit: each a number and its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What was read.
    pub value: (f64, String),
    /// The least that was expected.
    pub low: (f64, String),
    /// The most.
    pub high: (f64, String),
    /// Whether it lies inside.
    pub is_within: bool,
}

impl Mark {
    /// `within 187 V to 253 V`, `below 187 V to 253 V`.
    pub fn words(&self) -> String {
        let side = match (self.is_within, self.value.0 < self.low.0) {
            (true, _) => "within",
            (false, true) => "below",
            (false, false) => "above",
        };
        format!("{side} {} to {}", self.low.1, self.high.1)
    }
}

/// The drawing.
pub fn svg(mark: &Mark) -> String {
    let from = mark.low.0.min(mark.value.0);
    let to = mark.high.0.max(mark.value.0);
    let wide = to - from;
    let place = |number: f64| {
        let share = if wide > 0.0 {
            (number - from) / wide
        } else {
            0.5
        };
        MARGIN + share.clamp(0.0, 1.0) * (WIDE - 2.0 * MARGIN)
    };
    let (low, high, at) = (place(mark.low.0), place(mark.high.0), place(mark.value.0));
    let middle = HIGH / 2.0;
    let drawn = if mark.is_within {
        format!(r##"<circle cx="{at:.1}" cy="{middle:.1}" r="7" fill="#17211f"/>"##)
    } else {
        let (left, right, up, down) = (at - 9.0, at + 9.0, middle - 9.0, middle + 9.0);
        format!(
            "<path d=\"M{at:.1} {up:.1}L{right:.1} {middle:.1}L{at:.1} {down:.1}\
             L{left:.1} {middle:.1}Z\" fill=\"#ffffff\" stroke=\"#9c1414\" stroke-width=\"3\"/>"
        )
    };
    let title = escaped(&format!("{}: {}", mark.value.1, mark.words()));
    let (end, top, wide) = (WIDE - 2.0, middle - 6.0, (high - low).max(2.0));
    let line = format!(r##"<path d="M2 {middle}H{end}" stroke="#4a5753" stroke-width="2"/>"##);
    let green = r##"stroke="#1d5b2f" stroke-width="2""##;
    let place = format!(r##"x="{low:.1}" y="{top:.1}" width="{wide:.1}" height="12""##);
    let bar = format!(r##"<rect {place} fill="#e4f2e4" {green}/>"##);
    let ticks = format!(r##"<path d="M{low:.1} 3V25M{high:.1} 3V25" {green}/>"##);
    let size = format!(r##"viewBox="0 0 {WIDE} {HIGH}" width="{WIDE}" height="{HIGH}""##);
    let title = format!("<title>{title}</title>");
    let drawn = [title, line, bar, ticks, drawn].concat();
    format!(r##"<svg class="band" {size} role="img">{drawn}</svg>"##)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(value: f64, is_within: bool) -> Mark {
        let volts = |number: f64| (number, format!("{number} V"));
        Mark {
            value: volts(value),
            low: volts(187.0),
            high: volts(253.0),
            is_within,
        }
    }

    #[test]
    fn a_reading_outside_has_another_shape_and_other_words() {
        for (value, is_within, words, shape) in [
            (208.0, true, "208 V: within 187 V to 253 V", "<circle"),
            (120.0, false, "120 V: below 187 V to 253 V", "Z\""),
            (300.0, false, "300 V: above 187 V to 253 V", "Z\""),
        ] {
            let svg = svg(&mark(value, is_within));
            assert!(svg.contains(words) && svg.contains(shape), "{svg}");
        }
    }

    #[test]
    fn a_band_of_one_value_is_drawn() {
        let one = (5.0, "5 A".to_owned());
        let mark = Mark {
            value: one.clone(),
            low: one.clone(),
            high: one,
            is_within: true,
        };
        assert!(!svg(&mark).contains("NaN"));
    }
}
