//! The row that a finished job proposes for the crew's speed book.

use uom::si::angular_velocity::radian_per_second;
use uom::si::f64::{AngularVelocity, Length, Pressure, VolumeRate};

use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::write::exact;
use super::{Found, Need, RowSource, SpeedBook, SpeedRow};
use crate::trade::formula::{Arguments, CannotWorkOut};
use crate::trade::quantity::Kind;

/// A need nearer than this to the book's own is no news.
const SAME: f64 = 0.03;

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
    /// The job, as the crew finds it again: what the row notes as its origin.
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

impl FinishedJob {
    /// What the inputs of `speed_book_proposal` say, for the job that the crew finds as `job`.
    ///
    /// # Errors
    /// When an input is missing, of another kind or out of its range.
    pub fn of(arguments: &Arguments, job: String) -> Result<Self, CannotWorkOut> {
        let si = |name: &str, kind| {
            arguments
                .has(name)
                .then(|| arguments.si(name, kind))
                .transpose()
        };
        let speed = match si("measured_speed", Kind::RotationalSpeed)? {
            Some(measured) => measured,
            None => arguments.si("set_speed", Kind::RotationalSpeed)?,
        };
        Ok(Self {
            model: arguments.word("model")?.to_owned(),
            speed: AngularVelocity::new::<radian_per_second>(speed),
            air_flow: si("air_flow", Kind::AirFlow)?.map(VolumeRate::new::<cubic_meter_per_second>),
            static_pressure: si("static_pressure", Kind::Pressure)?.map(Pressure::new::<pascal>),
            blade_diameter: Length::new::<meter>(arguments.si("blade_diameter", Kind::Length)?),
            job,
        })
    }
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
            noted: job.job.clone(),
        };
        let instead_of = match book.look_up(&job.model) {
            Found::Exactly(row) => Some(row.clone()),
            Found::Near(_) | Found::Nothing => None,
        };
        Ok(Self { row, instead_of })
    }

    /// Whether the book says the same already, near enough, or more: a speed holds for one blade
    /// and does not replace an air flow.
    pub fn is_known(&self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= SAME * b.abs();
        self.instead_of
            .as_ref()
            .is_some_and(|old| match (old.need, self.row.need) {
                (Need::Speed(old), Need::Speed(new)) => near(new.value, old.value),
                (Need::AirFlow(old), Need::AirFlow(new)) => near(new.value, old.value),
                (Need::AirFlow(_), Need::Speed(_)) => true,
                (Need::Speed(_), Need::AirFlow(_)) => false,
            })
    }

    /// One sentence: what the book would say, and what it says now.
    pub fn sentence(&self) -> String {
        let blade = self.row.blade_diameter.map_or_else(String::new, |blade| {
            format!(" with a blade of {}", exact((Kind::Length, blade.value)))
        });
        let now = match &self.instead_of {
            Some(old) => format!(
                "The book says {} now, {}: {}.",
                needs(old.need),
                old.source.phrase(),
                old.noted.trim_end_matches('.')
            ),
            None => "The book does not have this model yet.".to_owned(),
        };
        let model = &self.row.model;
        format!("{model} needs {}{blade}. {now}", needs(self.row.need))
    }

    /// The row as lines of a speed book file, to paste under `models:`.
    pub fn yaml(&self) -> String {
        self.row.yaml()
    }
}

fn needs(need: Need) -> String {
    match need {
        Need::Speed(speed) => exact((Kind::RotationalSpeed, speed.value)),
        Need::AirFlow(flow) => format!("{} by each fan", exact((Kind::AirFlow, flow.value))),
    }
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
    fn only_what_the_book_does_not_know_is_news() {
        use uom::si::volume_rate::cubic_foot_per_minute;
        let air = |cfm| Need::AirFlow(VolumeRate::new::<cubic_foot_per_minute>(cfm));
        let rpm = |rpm| Need::Speed(AngularVelocity::new::<revolution_per_minute>(rpm));
        for (book, measured_cfm, known) in [
            (rpm(1550.0), None, true),
            (rpm(1575.0), None, true),
            (rpm(1300.0), None, false),
            (air(600.0), None, true),
            (air(600.0), Some(610.0), true),
            (air(600.0), Some(700.0), false),
            (rpm(1550.0), Some(600.0), false),
        ] {
            let mut done = job("NQ-LP-2060");
            done.air_flow = measured_cfm.map(VolumeRate::new::<cubic_foot_per_minute>);
            let mut row = ProposedRow::from_job(&done, &SpeedBook::default())
                .unwrap()
                .row;
            row.need = book;
            let book = SpeedBook::of(vec![row]);
            let proposed = ProposedRow::from_job(&done, &book).unwrap();
            assert_eq!(proposed.is_known(), known, "{book:?} {measured_cfm:?}");
        }
    }

    #[test]
    fn a_job_without_a_model_proposes_nothing() {
        assert!(ProposedRow::from_job(&job(" - "), &SpeedBook::default()).is_err());
    }
}
