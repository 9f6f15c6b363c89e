//! Sealing: at every hand-in and every decision the record is signed as it stands.

use std::sync::Arc;

use super::Desk;
use super::error::DeskError;
use super::floor::Work;
use super::keep::{Hand, Kept, TRIES};
use super::seal_keys::NoSealKey;
use super::tables::{SealKeyRow, put, written};
use crate::record::around::ServerWhat;
use crate::record::chain::Stored;
use crate::record::entry::{Channel, ENTRY_FORMAT, Entry, What};
use crate::record::seal::{Fingerprint, PublicKey, SigningKey, Statement, Subject};
use crate::record::stream::StreamId;
use crate::store::Batch;

/// A key that seals, or once sealed, records of this server.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnownKey {
    /// Its public half.
    pub key: PublicKey,
    /// When it was first used.
    pub since: jiff::Timestamp,
}

impl Desk {
    /// The seal that follows entries that hand the job in or decide about it. It goes into the
    /// same batch, so that no such entry is ever kept without its seal.
    pub(super) async fn seal(
        &self,
        before: &Work,
        entries: &[Entry],
    ) -> Result<Option<Entry>, DeskError> {
        let Some(last) = entries.last().filter(|_| entries.iter().any(is_sealed)) else {
            return Ok(None);
        };
        let at = last.at;
        let key = self.key_in_use().await?;
        let stream = before.job.stream();
        let mut head = self.store().head(stream).await?;
        if head.seq != before.seq() {
            // Another server wrote first. These entries will not be kept, but decided anew.
            return Ok(None);
        }
        for entry in entries {
            head = Stored::after(stream, head, written(entry)?).head();
        }
        let seal = key.seal(&Statement {
            subject: Subject::Record,
            stream,
            head,
            at,
        });
        Ok(Some(Entry {
            v: ENTRY_FORMAT,
            at,
            who: None,
            channel: Channel::Server,
            what: What::Sealed { head, seal },
        }))
    }

    /// The key to seal with, which the server's stream names before it is first used.
    pub(super) async fn key_in_use(&self) -> Result<Arc<SigningKey>, DeskError> {
        let key = self.inner.parts.keys.current();
        self.make_known(key.public()).await?;
        Ok(key)
    }

    /// Makes a new key, with which everything is sealed from then on. What the old ones sealed
    /// stays good: their public halves stay known.
    ///
    /// # Errors
    /// When the new key cannot be written, and the old one stays in use; or when the store cannot
    /// keep that it is known, which is then done before its first seal.
    pub async fn rotate_seal_key(&self) -> Result<Fingerprint, DeskError> {
        // An old key that never sealed anything is made known too: it may have been written down.
        self.key_in_use().await?;
        let (keys, chance) = (
            Arc::clone(&self.inner.parts.keys),
            Arc::clone(&self.inner.parts.chance),
        );
        let replaced = tokio::task::spawn_blocking(move || keys.replace(chance.as_ref())).await;
        let key = replaced.map_err(|error| DeskError::Fault(error.to_string()))??;
        self.make_known(key.public()).await?;
        Ok(key.public().fingerprint())
    }

    /// The keys that ever sealed records of this server, the one in use last.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn seal_keys(&self) -> Result<Vec<KnownKey>, DeskError> {
        let in_use = self.key_in_use().await?.public();
        let rows = self.rows::<SealKeyRow>(&[]).await?;
        let mut keys: Vec<KnownKey> = rows
            .into_iter()
            .map(|(_, SealKeyRow { key, since })| KnownKey { key, since })
            .collect();
        keys.sort_by_key(|known| (known.key == in_use, known.since, known.key));
        Ok(keys)
    }

    async fn make_known(&self, key: PublicKey) -> Result<(), DeskError> {
        for _ in 0..TRIES {
            if self.row::<SealKeyRow>(key.0.0).await?.is_some() {
                return Ok(());
            }
            let _turn = self.inner.queues.turn(StreamId::SERVER).await;
            let expected = self.last(StreamId::SERVER).await?;
            if self.row::<SealKeyRow>(key.0.0).await?.is_some() {
                return Ok(());
            }
            let since = self.now();
            let taken = ServerWhat::SealKeyTaken { key };
            let mut batch = Batch::new(since);
            batch.appends.push(Hand::server(since).writes(
                StreamId::SERVER,
                expected,
                vec![taken],
            )?);
            batch.index.push(put(key.0.0, &SealKeyRow { key, since })?);
            match self.keep(batch).await {
                Ok(Kept::Fresh | Kept::Before) => return Ok(()),
                Err(DeskError::Busy) => {}
                Err(error) => return Err(error),
            }
        }
        Err(DeskError::Busy)
    }
}

/// Whether a seal follows this entry.
fn is_sealed(entry: &Entry) -> bool {
    matches!(
        entry.what,
        What::HandedIn | What::Accepted { .. } | What::SentBack { .. }
    )
}

impl From<NoSealKey> for DeskError {
    fn from(error: NoSealKey) -> Self {
        DeskError::Fault(error.to_string())
    }
}
