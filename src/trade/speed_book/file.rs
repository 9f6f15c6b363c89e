//! The shape of a speed book file, and its way into typed rows.

use indexmap::IndexMap;
use serde::Deserialize;
use serde_yaml::Spanned;
use uom::si::angular_velocity::radian_per_second;
use uom::si::f64::{AngularVelocity, Length, Pressure, VolumeRate};
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::look_up::folded;
use super::{Need, RowSource, SpeedRow};
use crate::trade::goods::{Problem, Reader};
use crate::trade::quantity::Kind;

type Text = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SpeedBookFile {
    speed_book: Text,
    crew: Text,
    pub(super) models: IndexMap<String, RawRow>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRow {
    speed: Option<Text>,
    air_flow: Option<Text>,
    static_pressure: Option<Text>,
    blade_diameter: Option<Text>,
    from: Text,
    noted: Text,
}

impl SpeedBookFile {
    pub(super) fn titles(&self) -> Result<(String, String), Problem> {
        let name = self.speed_book.some_text("The speed book's name")?;
        Ok((name, self.crew.some_text("The crew's name")?))
    }

    pub(super) fn problem(&self, what: String) -> Problem {
        self.speed_book.problem(what)
    }

    pub(super) fn rows(&self) -> Result<Vec<SpeedRow>, Problem> {
        let mut folded_models = IndexMap::new();
        let mut rows = Vec::with_capacity(self.models.len());
        for (model, raw) in &self.models {
            let plain = folded(model);
            if plain.is_empty() {
                return Err(raw.from.problem(format!(
                    "\"{model}\" is no model; a model has letters or digits."
                )));
            }
            if let Some(other) = folded_models.insert(plain, model) {
                return Err(raw.from.problem(format!(
                    "{model} and {other} differ only in case, dashes or blanks; keep one."
                )));
            }
            rows.push(raw.row(model)?);
        }
        Ok(rows)
    }
}

impl RawRow {
    fn row(&self, model: &str) -> Result<SpeedRow, Problem> {
        let need = match (&self.speed, &self.air_flow) {
            (Some(speed), None) => Need::Speed(speed.above_zero(
                Kind::RotationalSpeed,
                AngularVelocity::new::<radian_per_second>,
            )?),
            (None, Some(flow)) => Need::AirFlow(
                flow.above_zero(Kind::AirFlow, VolumeRate::new::<cubic_meter_per_second>)?,
            ),
            _ => {
                return Err(self.from.problem(format!(
                    "{model} needs either a speed, such as 1550 rpm, or an air_flow of one fan, \
                     such as 600 cfm."
                )));
            }
        };
        let pressure = |text: &Text| text.above_zero(Kind::Pressure, Pressure::new::<pascal>);
        let length = |text: &Text| text.above_zero(Kind::Length, Length::new::<meter>);
        Ok(SpeedRow {
            model: model.to_owned(),
            need,
            static_pressure: self.static_pressure.as_ref().map(pressure).transpose()?,
            blade_diameter: self.blade_diameter.as_ref().map(length).transpose()?,
            source: self.from.word(RowSource::WORDS)?,
            noted: self.noted.some_text("Where the row came from")?,
        })
    }
}
