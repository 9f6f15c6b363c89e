//! The row that a finished job proposes for the crew's speed book.

use uom::si::f64::{AngularVelocity, Length, Pressure, VolumeRate};

use super::{Found, Need, RowSource, SpeedBook, SpeedRow};
use crate::trade::formula::CannotWorkOut;
use crate::trade::quantity::{Kind, Quantity};

/// What a finished job knows about its evaporator's fan.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishedJob {
    /// The evaporator's model, as on its nameplate.
    pub model: String,
    /// Speed that was set and measured.
    pub speed: AngularVelocity,
    /// Air flow of one fan, where it was measured.
    pub air_flow: Option<VolumeRate>,
    /// Static pressure, where it was measured.
    pub static_pressure: Option<Pressure>,
    /// Diameter of the new blade.
    pub blade_diameter: Length,
    /// The job, as the crew finds it again.
    pub job: String,
}

/// A row for a person to accept; nothing is added to a speed book by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct ProposedRow {
    /// The row.
    pub row: SpeedRow,
    /// The row that is there already under this model, if there is one.
    pub instead_of: Option<SpeedRow>,
}

impl ProposedRow {
    /// The row that `job` proposes for `book`: air flow where it was measured, else the speed.
    ///
    /// # Errors
    /// When the model has neither letters nor digits, or a value is not above zero.
    pub fn from_job(job: &FinishedJob, book: &SpeedBook) -> Result<Self, CannotWorkOut> {
        if super::look_up::folded(&job.model).is_empty() {
            return Err(CannotWorkOut(
                "A row needs the evaporator's model, as on its nameplate.".into(),
            ));
        }
        let need = match job.air_flow {
            Some(flow) => Need::AirFlow(flow),
            None => Need::Speed(job.speed),
        };
        let values = [job.speed.value, job.blade_diameter.value];
        let flow = job.air_flow.map_or(1.0, |flow| flow.value);
        if !values
            .iter()
            .chain([&flow])
            .all(|value| value.is_finite() && *value > 0.0)
        {
            return Err(CannotWorkOut(
                "Speed, air flow and blade diameter of a row must be above zero.".into(),
            ));
        }
        let row = SpeedRow {
            model: job.model.trim().to_owned(),
            need,
            static_pressure: job.static_pressure,
            blade_diameter: Some(job.blade_diameter),
            source: RowSource::FinishedJob,
            noted: format!("job {}", job.job),
        };
        let instead_of = match book.look_up(&job.model) {
            Found::Exactly(row) => Some(row.clone()),
            Found::Near(_) | Found::Nothing => None,
        };
        Ok(Self { row, instead_of })
    }

    /// The row as lines of a speed book file, to paste under `models:`.
    pub fn yaml(&self) -> String {
        let row = &self.row;
        let (key, need) = match row.need {
            Need::Speed(speed) => ("speed", (Kind::RotationalSpeed, speed.value)),
            Need::AirFlow(flow) => ("air_flow", (Kind::AirFlow, flow.value)),
        };
        let mut lines = format!("  {}:\n    {key}: {}\n", quoted(&row.model), exact(need));
        if let Some(pressure) = row.static_pressure {
            lines.push_str(&format!(
                "    static_pressure: {}\n",
                exact((Kind::Pressure, pressure.value))
            ));
        }
        if let Some(diameter) = row.blade_diameter {
            let diameter = exact((Kind::Length, diameter.value));
            lines.push_str(&format!("    blade_diameter: {diameter}\n"));
        }
        lines.push_str(&format!("    from: {}\n", row.source.word()));
        lines.push_str(&format!("    noted: {}\n", quoted(&row.noted)));
        lines
    }
}

fn exact((kind, si): (Kind, f64)) -> String {
    Quantity { kind, si }.to_string()
}

/// A JSON string, which is a YAML string too, whatever is in it.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::angular_velocity::revolution_per_minute;
    use uom::si::length::inch;

    fn job(model: &str) -> FinishedJob {
        FinishedJob {
            model: model.into(),
            speed: AngularVelocity::new::<revolution_per_minute>(1550.0),
            air_flow: None,
            static_pressure: None,
            blade_diameter: Length::new::<inch>(12.0),
            job: "A-17: \"north\" box".into(),
        }
    }

    #[test]
    fn a_proposed_row_reads_back_as_itself() {
        let book = SpeedBook::default();
        let proposed = ProposedRow::from_job(&job("NQ-LP-2060: B"), &book).unwrap();
        let text = format!("speed_book: a\ncrew: b\nmodels:\n{}", proposed.yaml());
        let read = SpeedBook::read(&text).unwrap();
        let row = &read.rows()[0];
        assert_eq!(
            (&row.model, &row.noted),
            (&proposed.row.model, &proposed.row.noted)
        );
        assert_eq!(row.source, RowSource::FinishedJob);
        let again = ProposedRow::from_job(&job("nq lp 2060 b"), &read).unwrap();
        assert_eq!(again.instead_of.as_ref(), Some(row));
    }

    #[test]
    fn a_job_without_a_model_proposes_nothing() {
        assert!(ProposedRow::from_job(&job(" - "), &SpeedBook::default()).is_err());
    }
}
