//! The browsers in which a person is signed in: looking at them, and signing out there.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::{Actor, ChannelAddress};
use super::error::DeskError;
use super::invitations::person_stream;
use super::keep::{Hand, TRIES};
use super::tables::{AddressRow, Row, SessionRow, key as row_key, put, remove};
use crate::record::around::PersonWhat;
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::store::{Batch, IndexChange, Table};

/// When a session was last used, give or take a few minutes: under its address. It lies apart, so
/// that noting it never brings a session back that was ended meanwhile.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct SessionUseRow {
    pub(super) used: Timestamp,
}

impl Row for SessionUseRow {
    const TABLE: Table = Table::named("session_use");
}

/// How long a browser stays signed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SessionLimits {
    /// A browser that was not used for so long is signed out.
    pub idle: SignedDuration,
    /// A browser is signed out after so long, used or not.
    pub most: SignedDuration,
}

impl Default for SessionLimits {
    fn default() -> Self {
        SessionLimits {
            idle: SignedDuration::from_hours(7 * 24),
            most: SignedDuration::from_hours(30 * 24),
        }
    }
}

impl SessionLimits {
    /// Whether a session is over at this time.
    pub(super) fn is_over(&self, bound: Timestamp, used: Timestamp, now: Timestamp) -> bool {
        now.duration_since(used) > self.idle || now.duration_since(bound) > self.most
    }
}

/// One browser in which the person is signed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SessionLine {
    /// The hash of its token, by which it can be named and not used.
    pub id: Hash,
    /// When the person signed in there.
    pub since: Timestamp,
    /// When it was last used, give or take a few minutes.
    pub used: Timestamp,
    /// Whether it is the one that asks.
    pub is_this: bool,
}

impl Desk {
    /// The browsers in which the actor is signed in, the last used first. `here` is the address
    /// that they ask from.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn sessions(
        &self,
        actor: &Actor,
        here: &ChannelAddress,
    ) -> Result<Vec<SessionLine>, DeskError> {
        self.present(actor).await?;
        let now = self.now();
        let mut lines = Vec::new();
        for id in self.session_ids(actor.person).await? {
            let key = address_key(id);
            let is_this = key == here.key();
            let row = self.row::<AddressRow>(key.as_str()).await?;
            let Some(row) = row.filter(|row| row.person == actor.person) else {
                continue;
            };
            let used = self.last_use(&key, &row).await?;
            if !self.rules().sessions.is_over(row.bound, used, now) {
                lines.push(SessionLine {
                    id,
                    since: row.bound,
                    used,
                    is_this,
                });
            }
        }
        lines.sort_by_key(|line| std::cmp::Reverse((line.is_this, line.used)));
        Ok(lines)
    }

    /// Signs the actor out in one of their browsers.
    ///
    /// # Errors
    /// When the actor is not signed in there.
    pub async fn end_session(&self, actor: &Actor, id: Hash) -> Result<(), DeskError> {
        self.present(actor).await?;
        let row = self.row::<AddressRow>(address_key(id)).await?;
        if row.is_none_or(|row| row.person != actor.person) {
            return Err(DeskError::NotFound("browser"));
        }
        self.end(actor, vec![id]).await
    }

    /// Signs the actor out everywhere but at the address that they ask from.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn end_other_sessions(
        &self,
        actor: &Actor,
        here: &ChannelAddress,
    ) -> Result<(), DeskError> {
        self.present(actor).await?;
        let mut ids = self.session_ids(actor.person).await?;
        ids.retain(|id| address_key(*id) != here.key());
        self.end(actor, ids).await
    }

    async fn end(&self, actor: &Actor, ids: Vec<Hash>) -> Result<(), DeskError> {
        if ids.is_empty() {
            return Ok(());
        }
        let stream = person_stream(actor.person);
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let now = self.now();
            let ended = ids
                .iter()
                .map(|id| PersonWhat::SessionEnded { session: *id });
            let expected = self.last(stream).await?;
            let mut batch = Batch::new(now);
            let ended = Hand::of(actor, now).writes(stream, expected, ended.collect())?;
            batch.appends.push(ended);
            batch.index.extend(gone(actor.person, &ids));
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// Gives a signed-in browser another token in place of the one that it had before it signed
    /// in, so that whoever knew that one knows nothing. A second time changes nothing.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn renew_session(
        &self,
        before: &ChannelAddress,
        after: &ChannelAddress,
    ) -> Result<(), DeskError> {
        let Some(row) = self.row::<AddressRow>(before.key()).await? else {
            return Ok(());
        };
        let used = self.last_use(&before.key(), &row).await?;
        let row = AddressRow { used, ..row };
        let mut batch = Batch::new(self.now());
        batch.index.push(remove::<AddressRow>(before.key()));
        batch.index.push(remove::<SessionUseRow>(before.key()));
        batch
            .index
            .extend(session_key(row.person, before).map(remove::<SessionRow>));
        batch.index.push(put(after.key(), &row)?);
        batch.index.extend(opened(row.person, after, row.bound)?);
        self.keep(batch).await.map(drop)
    }

    /// When the session at the address with this key was last used.
    pub(super) async fn last_use(
        &self,
        key: &str,
        row: &AddressRow,
    ) -> Result<Timestamp, DeskError> {
        let noted = self.row::<SessionUseRow>(key).await?;
        Ok(noted.map_or(row.used, |noted| noted.used.max(row.used)))
    }

    /// What ends every session of a person.
    pub(super) async fn all_sessions_gone(
        &self,
        person: PersonId,
    ) -> Result<Vec<IndexChange>, DeskError> {
        Ok(gone(person, &self.session_ids(person).await?))
    }

    async fn session_ids(&self, person: PersonId) -> Result<Vec<Hash>, DeskError> {
        let rows = self.rows::<SessionRow>(person.0.as_bytes()).await?;
        let id = |(key, _): &(Vec<u8>, SessionRow)| key.last_chunk::<32>().map(|id| Hash(*id));
        Ok(rows.iter().filter_map(id).collect())
    }
}

/// The key of the address row of a session.
fn address_key(id: Hash) -> String {
    format!("browser:{id}")
}

/// The key of a session in the person's list; none for what is no browser.
pub(super) fn session_key(person: PersonId, address: &ChannelAddress) -> Option<Vec<u8>> {
    match address {
        ChannelAddress::Browser { session } => {
            Some(row_key(&[person.0.as_bytes(), &session.hash().0]))
        }
        ChannelAddress::Telegram { .. } | ChannelAddress::Terminal { .. } => None,
    }
}

/// Puts a session into the person's list; nothing for what is no browser.
pub(super) fn opened(
    person: PersonId,
    address: &ChannelAddress,
    since: Timestamp,
) -> Result<Option<IndexChange>, DeskError> {
    let key = session_key(person, address);
    key.map(|key| put(key, &SessionRow { since })).transpose()
}

fn gone(person: PersonId, ids: &[Hash]) -> Vec<IndexChange> {
    let both = |id: &Hash| {
        let listed = row_key(&[person.0.as_bytes(), &id.0]);
        [
            remove::<AddressRow>(address_key(*id)),
            remove::<SessionUseRow>(address_key(*id)),
            remove::<SessionRow>(listed),
        ]
    };
    ids.iter().flat_map(both).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_session_ends_when_idle_and_when_old() {
        let at = |hours: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_hours(hours);
        let limits = SessionLimits::default();
        assert!(!limits.is_over(at(0), at(0), at(7 * 24)));
        assert!(limits.is_over(at(0), at(0), at(7 * 24 + 1)));
        assert!(!limits.is_over(at(0), at(29 * 24), at(30 * 24)));
        assert!(limits.is_over(at(0), at(30 * 24), at(30 * 24 + 1)));
    }
}
