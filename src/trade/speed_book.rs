//! The crew's own table of evaporator models and the speed or air flow they need.
//!
//! A speed book is one YAML file per crew, as strict as a kit file. Every row says where it came
//! from. A model is looked up as typed: case, dashes and blanks do not matter; of what is merely
//! near, suggestions are made and a person decides.

mod file;
mod formulas;
mod look_up;
mod propose;
mod write;

pub(crate) use formulas::FORMULAS;
pub use formulas::PROPOSES;
pub use look_up::Found;
pub use propose::{FinishedJob, ProposedRow};
pub use write::{with_row, written};

use uom::si::f64::{AngularVelocity, Length, Pressure, VolumeRate};

use super::goods::{Problem, Revision, parse};

/// More rows than this in one speed book are refused.
const ROWS_MAX: usize = 20_000;

/// A crew's speed book, as its file lists it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpeedBook {
    name: String,
    crew: String,
    rows: Vec<SpeedRow>,
    revision: Revision,
}

/// What one model's fan needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Need {
    /// This speed, with the blade of the row.
    Speed(AngularVelocity),
    /// This air flow of one fan.
    AirFlow(VolumeRate),
}

/// Where a row came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RowSource {
    /// The label on the equipment.
    EquipmentLabel,
    /// The maker's printed matter.
    Literature,
    /// Measured on a good fan of the same model.
    Measured,
    /// A finished job whose row was accepted.
    FinishedJob,
}

impl RowSource {
    /// Words of a file with their values.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("equipment_label", Self::EquipmentLabel),
        ("literature", Self::Literature),
        ("measured", Self::Measured),
        ("finished_job", Self::FinishedJob),
    ];

    /// The word of this source.
    pub fn word(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, value)| *value == self)
            .map_or("", |(word, _)| word)
    }
}

/// One row of the speed book.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeedRow {
    /// The evaporator model, as written.
    pub model: String,
    /// What its fan needs.
    pub need: Need,
    /// Static pressure at that need, where known.
    pub static_pressure: Option<Pressure>,
    /// Diameter of the blade that the need holds for.
    pub blade_diameter: Option<Length>,
    /// Where the row came from.
    pub source: RowSource,
    /// More about where it came from: which label, which page, which job.
    pub noted: String,
}

impl SpeedBook {
    /// Reads the text of a speed book file.
    ///
    /// # Errors
    /// With the place of the first thing that is not as it should be.
    pub fn read(text: &str) -> Result<Self, Problem> {
        let file: file::SpeedBookFile = parse(text)?;
        if file.models.len() > ROWS_MAX {
            return Err(file.problem(format!(
                "A speed book may list at most {ROWS_MAX} models; this one has {}.",
                file.models.len()
            )));
        }
        let (name, crew) = file.titles()?;
        let rows = file.rows()?;
        Ok(Self {
            name,
            crew,
            rows,
            revision: Revision::of(text),
        })
    }

    /// A speed book of `rows` that was not read from a file; it has no revision.
    pub fn of(rows: Vec<SpeedRow>) -> Self {
        Self {
            rows,
            ..Self::default()
        }
    }

    /// What the speed book is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The crew it belongs to.
    pub fn crew(&self) -> &str {
        &self.crew
    }

    /// Its rows in the order of the file.
    pub fn rows(&self) -> &[SpeedRow] {
        &self.rows
    }

    /// The hash of the text it was read from.
    pub fn revision(&self) -> &Revision {
        &self.revision
    }

    /// The row of the model that somebody typed, or the rows that it may have meant.
    pub fn look_up(&self, typed: &str) -> Found<'_> {
        look_up::look_up(&self.rows, typed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../flows/demo/speed-book.yaml");

    #[test]
    fn the_demo_speed_book_reads_whole() {
        let book = SpeedBook::read(DEMO).unwrap();
        assert_eq!(book.rows().len(), 4);
        assert!(matches!(book.look_up("nq hv 4120"), Found::Exactly(row)
            if matches!(row.need, Need::AirFlow(_)) && row.source == RowSource::Measured));
    }

    #[test]
    fn a_speed_book_has_only_so_many_models() {
        let (head, _) = DEMO.split_once("  NQ-LP-2060:\n").unwrap();
        let book = |count| {
            let row = "speed: 1550 rpm, blade_diameter: 10 in, from: literature, noted: page 3";
            let rows = (0..count).map(|at| format!("  M-{at}: {{ {row} }}\n"));
            SpeedBook::read(&(head.to_owned() + &rows.collect::<String>()))
        };
        assert_eq!(book(20_000).unwrap().rows().len(), 20_000);
        let problem = book(20_001).unwrap_err().to_string();
        assert!(
            problem.contains("at most 20000 models; this one has 20001."),
            "{problem}"
        );
    }

    #[test]
    fn what_is_wrong_is_said_with_its_place() {
        for (from, to, said) in [
            (
                "speed: 1550 rpm",
                "speed: 1550",
                "6:12: \"1550\" is not a rotational speed",
            ),
            (
                "speed: 1550 rpm",
                "air: 1550 rpm",
                "6:5: \"air\" is an unknown key",
            ),
            ("    speed: 1550 rpm\n", "", "needs either a speed"),
            (
                "from: literature",
                "from: rumour",
                "must be one of equipment_label",
            ),
            ("NQ-LP-2080:", "nq lp 2060:", "differ only in case"),
            ("NQ-LP-2080:", "NQ-LP-2060:", "is a duplicate key"),
        ] {
            assert!(DEMO.contains(from), "{from}");
            let problem = SpeedBook::read(&DEMO.replacen(from, to, 1))
                .unwrap_err()
                .to_string();
            assert!(problem.contains(said), "{from} → {to}: {problem}");
        }
    }
}
