//! Named data rows: published or remembered values that a person may have to confirm.
//!
//! A value from memory stands nowhere else in the code. A flow reads a row with
//! `row("absence_of_voltage_limit")`.

use super::formula::Confidence;
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
        Quantity { kind: self.kind, si: self.si }
    }
}

/// Every row that a flow or a formula may name.
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
        source: "29 CFR 1910.333(a)(1)",
        confidence: Confidence::FromMemory,
        dated: "2026-11",
    },
];

/// The row called `name`.
pub fn row(name: &str) -> Option<&'static Row> {
    ROWS.iter().find(|row| row.name == name)
}
