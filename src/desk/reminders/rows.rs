//! What is kept of reminders: none of it belongs to the record of a job.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::matter::Kind;
use super::rhythm::Told;
use crate::desk::id::JobId;
use crate::desk::tables::{Row, key as row_key};
use crate::record::person::PersonId;
use crate::store::Table;

/// When a job is looked at next: time, job. A row too many is looked at in vain and goes.
pub(super) const DUE: Table = Table::named("reminders_due");

/// What a person was told of a matter: under job, kind, person.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct ToldRow {
    /// Which matter of this kind: the one that waits since then.
    pub(super) since: Timestamp,
    /// How often.
    pub(super) count: u32,
    /// When last.
    pub(super) last: Timestamp,
}

impl Row for ToldRow {
    const TABLE: Table = Table::named("reminded");
}

impl ToldRow {
    pub(super) fn key(of: &Of, person: PersonId) -> Vec<u8> {
        let job = of.job.0.as_bytes();
        row_key(&[job, &[of.kind.code()], person.0.as_bytes()])
    }

    /// What it says of this matter: nothing, if it is about an earlier one.
    pub(super) fn told(row: Option<ToldRow>, of: &Of) -> Told {
        let row = row.filter(|row| row.since == of.since);
        row.map_or(Told::default(), |row| Told {
            count: row.count,
            last: row.last,
        })
    }
}

/// The reminders to a person: under the person.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct SentRow {
    /// When, of the last 24 hours.
    pub(super) sent: Vec<Timestamp>,
    /// What the last one is about.
    pub(super) of: Vec<Of>,
}

impl Row for SentRow {
    const TABLE: Table = Table::named("reminders_sent");
}

/// One matter of one job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Of {
    pub(super) job: JobId,
    pub(super) kind: Kind,
    pub(super) since: Timestamp,
}
