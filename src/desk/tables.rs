//! The lookup tables of the desk: what is in them, under which keys.
//!
//! Every row follows from entries; it is written in the same batch as they are and never holds
//! anything that the entries do not say.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::error::DeskError;
use super::id::CrewId;
use super::kept_rows::{Look, Slot};
use super::notice::Notice;
use super::whereabouts::Near;
use crate::flow::model::Role;
use crate::record::around::LookedAt;
use crate::record::chain::Hash;
use crate::record::entry::Channel;
use crate::record::person::PersonId;
use crate::record::seal::PublicKey;
use crate::store::{IndexChange, Table};

/// How many rows are read at once.
const ROWS_AT_ONCE: usize = 256;

/// A value of a lookup table.
pub(super) trait Row: Serialize + DeserializeOwned + Clone + Send + Sync + 'static {
    /// Its table.
    const TABLE: Table;
    /// Where rows of it are kept that were read, if they are.
    const KEPT: Option<Slot> = None;
}

/// Who speaks from an address.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct AddressRow {
    pub(super) person: PersonId,
    /// When the address was bound; a session ends some time after.
    pub(super) bound: Timestamp,
    /// When a session was last used, as far as this row knows.
    pub(super) used: Timestamp,
}

impl Row for AddressRow {
    const TABLE: Table = Table::named("address");
    const KEPT: Option<Slot> = Some(Slot::Address);
}

/// A browser in which a person is signed in: under the person and the hash of its token.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct SessionRow {
    /// When the person signed in there.
    pub(super) since: Timestamp,
}

impl Row for SessionRow {
    const TABLE: Table = Table::named("session");
}

/// The password of a person: under the person. It is no part of any record.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct PasswordRow {
    /// What the person types beside it.
    pub(super) login: String,
    /// Its hash with salt and cost, as the PHC string format has it.
    pub(super) phc: String,
    /// When it was set.
    pub(super) since: Timestamp,
}

impl Row for PasswordRow {
    const TABLE: Table = Table::named("password");
}

/// Whose login it is: under the login.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct LoginRow {
    pub(super) person: PersonId,
}

impl Row for LoginRow {
    const TABLE: Table = Table::named("login");
}

/// Who looked at what: under the crew, the time with the latest first, and the person.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct LookRow {
    pub(super) at: Timestamp,
    /// None is the operator.
    pub(super) who: Option<PersonId>,
    pub(super) looked: LookedAt,
    pub(super) channel: Channel,
    /// What the token is for through which it came.
    #[serde(default)]
    pub(super) program: Option<String>,
}

impl Row for LookRow {
    const TABLE: Table = Table::named("look");
}

/// A person, as the desk needs them at every input.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct PersonRow {
    pub(super) crew: CrewId,
    /// None at all means that the person left.
    pub(super) roles: BTreeSet<Role>,
}

impl Row for PersonRow {
    const TABLE: Table = Table::named("person");
    const KEPT: Option<Slot> = Some(Slot::Person);
}

/// Where a person hears news; apart from [`PersonRow`] because it is written without a look at
/// the roles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct ReachRow {
    /// The chat that the person last spoke from; none while they last used another channel.
    pub(super) chat: Option<i64>,
}

impl Row for ReachRow {
    const TABLE: Table = Table::named("reach");
    const KEPT: Option<Slot> = Some(Slot::Reach);
}

/// A code that was not used yet.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct InvitationRow {
    pub(super) purpose: Purpose,
    pub(super) until: Timestamp,
    /// Who gave it out; nobody for the operator.
    #[serde(default)]
    pub(super) by: Option<PersonId>,
}

/// What a code is for.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Purpose {
    /// Founding a crew and becoming its first supervisor.
    Found,
    /// Joining a crew.
    Join { crew: CrewId, roles: BTreeSet<Role> },
    /// Signing in a known person at another address.
    SignIn { person: PersonId },
}

impl Row for InvitationRow {
    const TABLE: Table = Table::named("invitation");
}

/// The code for the first supervisor that works at the moment.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct FirstCodeRow {
    pub(super) code: Hash,
}

impl Row for FirstCodeRow {
    const TABLE: Table = Table::named("first_code");
}

/// The one key of the table of the first code.
pub(super) const FIRST: &[u8] = b"first";

/// A crew.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub(super) struct CrewRow {
    /// The kit's revision; none before a kit was given.
    pub(super) kit: Option<Hash>,
    /// The speed book's revision.
    pub(super) speed_book: Option<Hash>,
    /// The sources of the crew's own flows; none while it walks the shipped ones.
    #[serde(default)]
    pub(super) flows: Option<Hash>,
}

impl Row for CrewRow {
    const TABLE: Table = Table::named("crew");
}

/// Flow files that a person is changing: under the person. No entry stands behind it, since a
/// draft is nothing that happened.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct DraftRow {
    /// The hash of each changed file's text, by the file's name.
    pub(super) files: BTreeMap<String, Hash>,
}

impl Row for DraftRow {
    const TABLE: Table = Table::named("draft");
}

/// What became of the row that a job proposed: under the job.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct RowDecided {
    pub(super) decision: super::screen::RowDecision,
}

impl Row for RowDecided {
    const TABLE: Table = Table::named("row_decided");
}

/// An evaporator.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct EvaporatorRow {
    pub(super) crew: CrewId,
    pub(super) site: String,
    pub(super) tag: String,
    pub(super) hangs: String,
    pub(super) added: Timestamp,
    /// Where it is, if somebody said so.
    #[serde(default)]
    pub(super) near: Option<Near>,
}

impl Row for EvaporatorRow {
    const TABLE: Table = Table::named("evaporator");
    const KEPT: Option<Slot> = Some(Slot::Evaporator);
}

/// Where the sources of an edition are kept.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct EditionRow {
    pub(super) sources: Hash,
}

impl Row for EditionRow {
    const TABLE: Table = Table::named("edition");
}

/// A key that seals records: under its public half.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct SealKeyRow {
    pub(super) key: PublicKey,
    /// When it was first used.
    pub(super) since: Timestamp,
}

impl Row for SealKeyRow {
    const TABLE: Table = Table::named("seal_key");
}

/// A notice that waits to be seen on a page.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct InboxRow {
    pub(super) at: Timestamp,
    pub(super) notice: Notice,
}

impl Row for InboxRow {
    const TABLE: Table = Table::named("inbox");
}

/// A group of a chat that is a crew's: under the group's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct GroupRow {
    pub(super) crew: CrewId,
    /// Who made it the crew's.
    pub(super) by: PersonId,
    pub(super) since: Timestamp,
}

impl Row for GroupRow {
    const TABLE: Table = Table::named("group");
}

/// A job that is run in a group: under the job.
///
/// That it is open to the crew is in the job's record; this is where, and what was posted there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct RoomRow {
    /// The group.
    pub(super) chat: i64,
    /// The topic of the group.
    pub(super) thread: Option<i32>,
    /// The message that says how the job stands.
    pub(super) message: Option<i32>,
    /// The step whose picture was posted last.
    pub(super) pictured: Option<String>,
}

impl Row for RoomRow {
    const TABLE: Table = Table::named("room");
    const KEPT: Option<Slot> = Some(Slot::Room);
}

/// What an input made: under the input's key, the id.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct MadeRow {
    pub(super) id: Uuid,
}

impl Row for MadeRow {
    const TABLE: Table = Table::named("made");
}

/// The job at hand: under the person, the job.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct AtHandRow {
    pub(super) job: Uuid,
}

impl Row for AtHandRow {
    const TABLE: Table = Table::named("at_hand");
    const KEPT: Option<Slot> = Some(Slot::AtHand);
}

/// Lists: keys that end with the id of what is listed, without values.
pub(super) mod list {
    use crate::store::Table;

    /// The people of a crew: crew, person.
    pub(crate) const CREW_PEOPLE: Table = Table::named("crew_people");
    /// The people of a crew in one role: crew, role, person.
    pub(crate) const CREW_ROLES: Table = Table::named("crew_roles");
    /// The codes to join a crew that were given out: crew, hash of the code.
    pub(crate) const CREW_CODES: Table = Table::named("crew_codes");
    /// The groups of a chat that are a crew's: crew, number of the group.
    pub(crate) const CREW_GROUPS: Table = Table::named("crew_groups");
    /// The jobs that are run in a group: number of the group, job.
    pub(crate) const GROUP_ROOMS: Table = Table::named("group_rooms");
    /// The evaporators of a crew: crew, evaporator.
    pub(crate) const CREW_EVAPORATORS: Table = Table::named("crew_evaporators");
    /// All jobs of a crew: crew, job.
    pub(crate) const CREW_JOBS: Table = Table::named("crew_jobs");
    /// The jobs of a crew that are not over: crew, last work with the latest first, job.
    pub(crate) const CREW_OPEN: Table = Table::named("crew_open");
    /// The jobs of a crew that wait for review: crew, job.
    pub(crate) const CREW_REVIEW: Table = Table::named("crew_review");
    /// The jobs of a crew by how far they are: crew, phase, last work with the latest first, job.
    pub(crate) const CREW_PHASE: Table = Table::named("crew_phase");
    /// The jobs of a crew that are offered: crew, job.
    pub(crate) const CREW_OFFERED: Table = Table::named("crew_offered");
    /// The jobs of a crew whose walk is over: crew, end with the latest first, job.
    pub(crate) const CREW_OVER: Table = Table::named("crew_over");
    /// The jobs in a person's hands that are not accepted: person, job.
    pub(crate) const HELD: Table = Table::named("held");
    /// The jobs on an evaporator: evaporator, beginning with the latest first, job.
    pub(crate) const EVAPORATOR_JOBS: Table = Table::named("evaporator_jobs");
    /// Every list by which jobs are found ([`crate::desk::finds`]): crew, list, beginning with the
    /// latest first, job.
    pub(crate) const FOUND: Table = Table::named("found");
    /// The flows that a crew's jobs walked, with their titles: crew, name.
    pub(crate) const CREW_FLOWS: Table = Table::named("crew_flows");
    /// How a crew's jobs ended, with the labels: crew, hash of the label.
    pub(crate) const CREW_ENDS: Table = Table::named("crew_ends");
    /// A crew's sites, as they are written: crew, hash of the site in small letters.
    pub(crate) const CREW_SITES: Table = Table::named("crew_sites");
    /// The words of a crew's evaporators: crew, word.
    pub(crate) const CREW_WORDS: Table = Table::named("crew_words");
    /// What stays known of an evaporator, each with a value: evaporator, as what, fact.
    pub(crate) const STAYS: Table = Table::named("evaporator_stays");
    /// What was ever read on an evaporator, with what it is called: evaporator, flow, 0, fact.
    pub(crate) const READ: Table = Table::named("evaporator_read");
    /// The readings on an evaporator, each with a value: evaporator, flow, 0, fact, 0, beginning of
    /// the job with the latest first, job, which walk of the flow.
    pub(crate) const READINGS: Table = Table::named("evaporator_readings");
    /// Who is asked whether they are all right: when next, job.
    pub(crate) const CHECK_INS: Table = Table::named("check_ins");
    /// The waits that run: end, job.
    pub(crate) const WAITS: Table = Table::named("waits");
}

/// A key of several parts, one after the other.
pub(super) fn key(parts: &[&[u8]]) -> Vec<u8> {
    parts.concat()
}

/// A time as bytes that sort with the earliest first.
pub(super) fn earliest_first(at: Timestamp) -> [u8; 8] {
    // Turning the sign bit puts times before 1970 in front.
    (at.as_millisecond() ^ i64::MIN).to_be_bytes()
}

/// The time that [`earliest_first`] wrote.
pub(super) fn time_of(bytes: &[u8; 8]) -> Option<Timestamp> {
    Timestamp::from_millisecond(i64::from_be_bytes(*bytes) ^ i64::MIN).ok()
}

/// A time as bytes that sort with the latest first.
pub(super) fn latest_first(at: Timestamp) -> [u8; 8] {
    (!(at.as_millisecond() ^ i64::MIN)).to_be_bytes()
}

/// Puts a row.
pub(super) fn put<R: Row>(key: impl Into<Vec<u8>>, row: &R) -> Result<IndexChange, DeskError> {
    Ok(IndexChange::put(R::TABLE, key, written(row)?))
}

/// Removes a row.
pub(super) fn remove<R: Row>(key: impl Into<Vec<u8>>) -> IndexChange {
    IndexChange::remove(R::TABLE, key)
}

/// Something of the desk as bytes.
pub(super) fn written<T: Serialize>(thing: &T) -> Result<Vec<u8>, DeskError> {
    serde_json::to_vec(thing).map_err(|error| DeskError::Fault(format!("Could not write: {error}")))
}

/// Reads back what [`written`] gave.
pub(super) fn read<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, DeskError> {
    serde_json::from_slice(bytes)
        .map_err(|error| DeskError::Fault(format!("Could not read what was kept: {error}")))
}

impl Desk {
    /// The row under a key.
    pub(super) async fn row<R: Row>(
        &self,
        key: impl Into<Vec<u8>>,
    ) -> Result<Option<R>, DeskError> {
        let key = key.into();
        let Some(slot) = R::KEPT else {
            return self.row_as_stored(key).await;
        };
        let reading = match self.inner.kept.look(slot, &key) {
            Look::Kept(row) => return Ok(row),
            Look::Unknown(reading) => reading,
        };
        let row: Option<R> = self.row_as_stored(key.clone()).await?;
        self.inner.kept.keep(&reading, key, row.clone());
        Ok(row)
    }

    async fn row_as_stored<R: Row>(&self, key: Vec<u8>) -> Result<Option<R>, DeskError> {
        let found = self.store().get(R::TABLE, key).await?;
        found.map(|bytes| read(&bytes)).transpose()
    }

    /// All rows whose keys begin with `prefix`, in order.
    pub(super) async fn rows<R: Row>(&self, prefix: &[u8]) -> Result<Vec<(Vec<u8>, R)>, DeskError> {
        let mut rows = Vec::new();
        let mut after = None;
        loop {
            let scan = self
                .store()
                .scan(R::TABLE, prefix.to_vec(), after, ROWS_AT_ONCE);
            let page = scan.await?;
            for row in page.items {
                rows.push((row.key, read(&row.value)?));
            }
            after = page.next;
            if after.is_none() {
                return Ok(rows);
            }
        }
    }

    /// The ids at the ends of all keys of a list that begin with `prefix`, in order.
    pub(super) async fn listed(&self, list: Table, prefix: &[u8]) -> Result<Vec<Uuid>, DeskError> {
        let mut ids = Vec::new();
        let mut after = None;
        loop {
            let scan = self
                .store()
                .scan(list.clone(), prefix.to_vec(), after, ROWS_AT_ONCE);
            let page = scan.await?;
            ids.extend(page.items.iter().filter_map(|row| id_at_end(&row.key)));
            after = page.next;
            if after.is_none() {
                return Ok(ids);
            }
        }
    }
}

/// The id that a key of a list ends with.
pub(super) fn id_at_end(key: &[u8]) -> Option<Uuid> {
    key.last_chunk::<16>().map(|bytes| Uuid::from_bytes(*bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_sort_as_bytes() {
        let times = [-5_000, -1, 0, 1, 1_700_000_000_000];
        let at = |millis: &i64| Timestamp::from_millisecond(*millis).unwrap();
        let early: Vec<_> = times.iter().map(at).map(earliest_first).collect();
        let late: Vec<_> = times.iter().map(at).map(latest_first).collect();
        assert!(early.is_sorted());
        let back: Vec<_> = early.iter().filter_map(time_of).collect();
        assert_eq!(back, times.iter().map(at).collect::<Vec<_>>());
        assert!(late.iter().rev().is_sorted());
    }
}
