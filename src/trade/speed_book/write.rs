//! Writing a speed book: rows as lines of its file, and a row put into its text.

use super::{Need, SpeedBook, SpeedRow};
use crate::trade::goods::Problem;
use crate::trade::quantity::{Kind, Quantity, Unit};

/// The line under which the rows of a file stand.
const MODELS: &str = "models:";

impl SpeedRow {
    /// The row as lines of a speed book file, to paste under `models:`.
    pub fn yaml(&self) -> String {
        let (key, need) = match self.need {
            Need::Speed(speed) => ("speed", (Kind::RotationalSpeed, speed.value)),
            Need::AirFlow(flow) => ("air_flow", (Kind::AirFlow, flow.value)),
        };
        let mut lines = format!("  {}:\n    {key}: {}\n", quoted(&self.model), exact(need));
        if let Some(pressure) = self.static_pressure {
            let pressure = exact((Kind::Pressure, pressure.value));
            lines.push_str(&format!("    static_pressure: {pressure}\n"));
        }
        if let Some(diameter) = self.blade_diameter {
            let diameter = exact((Kind::Length, diameter.value));
            lines.push_str(&format!("    blade_diameter: {diameter}\n"));
        }
        lines.push_str(&format!("    from: {}\n", self.source.word()));
        lines.push_str(&format!("    noted: {}\n", quoted(&self.noted)));
        lines
    }
}

/// The text of a speed book with `row` in it, instead of the row that its model has there. A new
/// row goes on top and leaves every other line, and what people remarked, as it was; to change a
/// row the file is written anew.
///
/// # Errors
/// When the text is no speed book, or the row does not read back as itself.
pub fn with_row(text: &str, row: &SpeedRow) -> Result<String, Problem> {
    let book = SpeedBook::read(text)?;
    let folded = super::look_up::folded(&row.model);
    let is_it = |other: &SpeedRow| super::look_up::folded(&other.model) == folded;
    if !book.rows().iter().any(is_it)
        && let Some(added) = on_top(text, row)
        && SpeedBook::read(&added).is_ok_and(|read| read.rows().len() == book.rows().len() + 1)
    {
        return Ok(added);
    }
    let mut rows: Vec<SpeedRow> = book.rows().to_vec();
    match rows.iter().position(is_it) {
        Some(place) => rows[place] = row.clone(),
        None => rows.push(row.clone()),
    }
    let text = written(book.name(), book.crew(), &rows);
    SpeedBook::read(&text).map(|_| text)
}

/// The text of a speed book with these rows.
pub fn written(name: &str, crew: &str, rows: &[SpeedRow]) -> String {
    let lines: String = rows.iter().map(SpeedRow::yaml).collect();
    let (name, crew) = (quoted(name), quoted(crew));
    let none = if rows.is_empty() { " {}" } else { "" };
    format!("speed_book: {name}\ncrew: {crew}\n{MODELS}{none}\n{lines}")
}

/// The text with the row right under `models:`.
fn on_top(text: &str, row: &SpeedRow) -> Option<String> {
    let mut added = String::with_capacity(text.len() + 256);
    let mut is_in = false;
    for line in text.lines() {
        added.push_str(line);
        added.push('\n');
        if line.trim_end() == MODELS && !is_in {
            added.push_str(&row.yaml());
            is_in = true;
        }
    }
    is_in.then_some(added)
}

/// The value in its usual unit with enough digits to be nearly the same when it is read back.
pub(super) fn exact((kind, si): (Kind, f64)) -> String {
    let unit: &Unit = kind.usual_unit();
    Quantity { kind, si }.show(unit)
}

/// A JSON string, which is a YAML string too, whatever is in it.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::speed_book::RowSource;
    use uom::si::angular_velocity::revolution_per_minute;
    use uom::si::f64::AngularVelocity;

    const DEMO: &str = include_str!("../../../flows/demo/speed-book.yaml");

    fn row(model: &str) -> SpeedRow {
        SpeedRow {
            model: model.into(),
            need: Need::Speed(AngularVelocity::new::<revolution_per_minute>(1230.0)),
            static_pressure: None,
            blade_diameter: None,
            source: RowSource::FinishedJob,
            noted: "job of 2031-05-04: \"north\" box".into(),
        }
    }

    #[test]
    fn a_new_row_leaves_every_other_line_as_it_was() {
        let text = with_row(DEMO, &row("ZZ-1")).unwrap();
        let read = SpeedBook::read(&text).unwrap();
        assert_eq!(read.rows().len(), 5);
        assert!(DEMO.lines().all(|line| text.contains(line)), "{text}");
        assert!(read.rows().contains(&row("ZZ-1")));
    }

    #[test]
    fn a_row_that_is_there_is_put_in_its_place() {
        let text = with_row(DEMO, &row("nq lp 2060")).unwrap();
        let read = SpeedBook::read(&text).unwrap();
        assert_eq!(read.rows().len(), 4);
        assert_eq!(read.rows()[0], row("nq lp 2060"));
        let before = SpeedBook::read(DEMO).unwrap();
        assert_eq!(read.rows()[1..], before.rows()[1..]);
    }

    #[test]
    fn a_file_of_another_shape_is_written_anew() {
        let text = written("B", "C", &[]);
        let added = with_row(&text, &row("ZZ-1")).unwrap();
        assert_eq!(SpeedBook::read(&added).unwrap().rows(), [row("ZZ-1")]);
        assert!(with_row("nonsense", &row("ZZ-1")).is_err());
    }
}
