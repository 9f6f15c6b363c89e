//! Named data rows: published or remembered values that a person may have to confirm.
//!
//! A value from memory stands nowhere else in the code. A flow reads a row with
//! `row("absence_of_voltage_limit")`.

mod air;
mod electrical;
mod gains;

use super::formula::{CannotWorkOut, Confidence};
use super::quantity::{Kind, Quantity};

/// One named value with where it comes from.
pub struct Row {
    /// Its name in flows and code.
    pub name: &'static str,
    /// Its kind.
    pub kind: Kind,
    /// Its value in the SI unit of the kind.
    pub si: f64,
    /// What it is.
    pub about: &'static str,
    /// The source with its edition, or "from memory".
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
    /// When the row was last looked at, year and month.
    pub dated: &'static str,
}

impl Row {
    /// The row's value.
    pub fn quantity(&self) -> Quantity {
        Quantity {
            kind: self.kind,
            si: self.si,
        }
    }
}

/// Rows of general use; [`rows`] has them all.
pub const ROWS: &[Row] = &[
    Row {
        name: "absence_of_voltage_limit",
        kind: Kind::Voltage,
        si: 3.0,
        about: "highest reading between conductors, or to ground, that counts as dead",
        source: "proposed value, from memory",
        confidence: Confidence::FromMemory,
        dated: "2026-11",
    },
    Row {
        name: "never_dead_voltage",
        kind: Kind::Voltage,
        si: 50.0,
        about: "at or above this a conductor is live, whatever else is said",
        source: "29 CFR 1910.333(a)(1), from memory",
        confidence: Confidence::FromMemory,
        dated: "2026-11",
    },
    Row {
        name: "known_ac_source_minimum",
        kind: Kind::Voltage,
        si: 50.0,
        about: "lowest AC reading at a known live source that shows that the meter works",
        source: "common practice, no source",
        confidence: Confidence::CommonPractice,
        dated: "2026-11",
    },
    Row {
        name: "known_dc_source_minimum",
        kind: Kind::Voltage,
        si: 5.0,
        about: "lowest DC reading at a known source, such as a 9 V battery",
        source: "common practice, no source",
        confidence: Confidence::CommonPractice,
        dated: "2026-11",
    },
];

/// Every row that a flow or a formula may name.
pub fn rows() -> impl Iterator<Item = &'static Row> {
    ROWS.iter()
        .chain(air::ROWS)
        .chain(electrical::ROWS)
        .chain(gains::ROWS)
}

/// The row called `name`.
pub fn row(name: &str) -> Option<&'static Row> {
    rows().find(|row| row.name == name)
}

/// The SI value of the row called `name`.
///
/// # Errors
/// When there is no such row.
pub fn row_si(name: &str) -> Result<f64, CannotWorkOut> {
    row(name).map(|row| row.si).ok_or_else(|| {
        CannotWorkOut(format!(
            "There is no data row called {name}; check its spelling."
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn row_names_are_unique_and_values_finite() {
        let mut seen = std::collections::BTreeSet::new();
        for row in rows() {
            assert!(seen.insert(row.name), "{} is there twice", row.name);
            assert!(row.si.is_finite(), "{}", row.name);
        }
    }

    #[test]
    fn a_row_from_memory_or_practice_says_so() {
        for row in rows() {
            match row.confidence {
                Confidence::FromMemory => {
                    assert!(row.source.contains("from memory"), "{}", row.name)
                }
                Confidence::CommonPractice => {
                    assert!(
                        row.source.contains("common practice, no source"),
                        "{}",
                        row.name
                    )
                }
                _ => {}
            }
        }
    }
}
