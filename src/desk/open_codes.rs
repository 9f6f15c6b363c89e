//! Codes to join that nobody used yet: who sees them, and withdrawing one.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::screen::Named;
use super::tables::{InvitationRow, Purpose, key as row_key, list, remove};
use crate::flow::model::Role;
use crate::record::around::CrewWhat;
use crate::record::chain::Hash;
use crate::store::{Batch, IndexChange, InputKey};

/// How many rows are read at once.
const CODES_AT_ONCE: usize = 256;

/// A code to join the crew that was given out and that still works.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenCode {
    /// The hash of the code; the code itself was shown once and is not kept.
    pub code: Hash,
    /// What whoever uses it becomes.
    pub roles: BTreeSet<Role>,
    /// It works until then.
    pub until: Timestamp,
    /// Who gave it out; nobody for the operator of the server.
    pub by: Option<Named>,
}

impl Desk {
    /// The codes to join the supervisor's crew that still work, the first to end first.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn open_codes(&self, actor: &Actor) -> Result<Vec<OpenCode>, DeskError> {
        self.must_be_supervisor(actor, "see the open codes").await?;
        let now = self.now();
        let mut open = Vec::new();
        for code in self.listed_codes(actor.crew).await? {
            let row = self.row::<InvitationRow>(code.0).await?;
            let Some((row, roles)) = row.and_then(|row| joins(row, actor.crew)) else {
                continue;
            };
            if row.until < now {
                continue;
            }
            let by = match row.by {
                Some(person) => Some(self.named(person).await?),
                None => None,
            };
            open.push(OpenCode {
                code,
                roles,
                until: row.until,
                by,
            });
        }
        open.sort_by_key(|open| (open.until, open.code.0));
        Ok(open)
    }

    /// Withdraws a code to join the supervisor's crew: from then on nobody joins with it.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the crew has no such open code.
    pub async fn withdraw_code(
        &self,
        key: InputKey,
        actor: &Actor,
        code: Hash,
    ) -> Result<(), DeskError> {
        let stream = actor.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            self.must_be_supervisor(actor, "withdraw a code").await?;
            let expected = self.last(stream).await?;
            let now = self.now();
            if self.store().handled(key.clone(), now).await? {
                return Ok(());
            }
            let row = self.row::<InvitationRow>(code.0).await?;
            let row = row.and_then(|row| joins(row, actor.crew));
            row.filter(|(row, _)| row.until >= now)
                .ok_or(DeskError::NotFound("open code"))?;
            let what = CrewWhat::InvitationWithdrawn { code };
            let mut batch = Batch::handling(key.clone(), now);
            let append = Hand::of(actor, now).writes(stream, expected, vec![what])?;
            batch.appends.push(append);
            batch.index.push(remove::<InvitationRow>(code.0));
            batch.index.push(unlisted_code(actor.crew, code));
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    async fn listed_codes(&self, crew: CrewId) -> Result<Vec<Hash>, DeskError> {
        let mut codes = Vec::new();
        let mut after = None;
        loop {
            let prefix = crew.0.as_bytes().to_vec();
            let rows = self.store();
            let rows = rows.scan(list::CREW_CODES, prefix, after, CODES_AT_ONCE);
            let page = rows.await?;
            let hash = |key: &Vec<u8>| key.last_chunk::<32>().copied().map(Hash);
            codes.extend(page.items.iter().filter_map(|row| hash(&row.key)));
            after = page.next;
            if after.is_none() {
                return Ok(codes);
            }
        }
    }

    /// Lists the codes that an older program gave out.
    pub(super) async fn list_older_codes(&self) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        for (key, row) in self.rows::<InvitationRow>(&[]).await? {
            if let (Purpose::Join { crew, .. }, Some(code)) = (row.purpose, key.last_chunk()) {
                batch.index.push(listed_code(crew, Hash(*code)));
            }
        }
        if !batch.index.is_empty() {
            self.keep(batch).await?;
        }
        Ok(())
    }
}

/// The roles that a code gives in this crew, if it is one to join it.
fn joins(row: InvitationRow, crew: CrewId) -> Option<(InvitationRow, BTreeSet<Role>)> {
    match &row.purpose {
        Purpose::Join { crew: of, roles } if *of == crew => {
            let roles = roles.clone();
            Some((row, roles))
        }
        _ => None,
    }
}

/// The change that lists a code among the crew's.
pub(super) fn listed_code(crew: CrewId, code: Hash) -> IndexChange {
    let key = row_key(&[crew.0.as_bytes(), &code.0]);
    IndexChange::put(list::CREW_CODES, key, [])
}

/// The change that takes a code off the crew's list; one that is not there changes nothing.
pub(super) fn unlisted_code(crew: CrewId, code: Hash) -> IndexChange {
    let key = row_key(&[crew.0.as_bytes(), &code.0]);
    IndexChange::remove(list::CREW_CODES, key)
}
