//! Putting together what one input leaves behind, and keeping it.

use std::sync::atomic::Ordering;

use jiff::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::tables::{MadeRow, remove, written};
use crate::metrics::{Stopwatch, metrics};
use crate::record::around::{AROUND_FORMAT, Happening};
use crate::record::entry::Channel;
use crate::record::person::PersonId;
use crate::record::stream::{Seq, StreamId};
use crate::store::{AppendError, Batch, InputKey, Store, StreamAppend};

/// How often something is tried again when somebody else was first.
pub(super) const TRIES: usize = 16;

/// What became of a batch.
pub(super) enum Kept {
    /// It was kept.
    Fresh,
    /// Its input was handled before; nothing was kept.
    Before,
}

/// Who writes into a stream around jobs.
#[derive(Clone, Copy)]
pub(super) struct Hand {
    pub(super) at: Timestamp,
    pub(super) who: Option<PersonId>,
    pub(super) channel: Channel,
    /// The token of the program that acts in the person's name.
    pub(super) token: Option<Uuid>,
}

impl Hand {
    /// A person's hand.
    pub(super) fn of(actor: &Actor, at: Timestamp) -> Hand {
        Hand {
            at,
            who: Some(actor.person),
            channel: actor.channel,
            token: actor.token,
        }
    }

    /// The hand of the server or its operator.
    pub(super) fn server(at: Timestamp) -> Hand {
        Hand {
            at,
            who: None,
            channel: Channel::Server,
            token: None,
        }
    }

    /// An append of these happenings to a stream that ends with `expected`.
    pub(super) fn writes<W: Serialize>(
        self,
        stream: StreamId,
        expected: Seq,
        whats: Vec<W>,
    ) -> Result<StreamAppend, DeskError> {
        let entry = |what| {
            let Hand {
                at,
                who,
                channel,
                token,
            } = self;
            written(&Happening {
                v: AROUND_FORMAT,
                at,
                who,
                channel,
                token,
                what,
            })
        };
        let entries = whats.into_iter().map(entry).collect::<Result<_, _>>()?;
        Ok(StreamAppend {
            stream,
            expected,
            entries,
        })
    }
}

impl Desk {
    pub(super) fn store(&self) -> &dyn Store {
        self.inner.parts.store.as_ref()
    }

    pub(super) fn now(&self) -> Timestamp {
        self.inner.parts.clock.now()
    }

    /// The place of the last entry of a stream.
    pub(super) async fn last(&self, stream: StreamId) -> Result<Seq, DeskError> {
        Ok(self.store().head(stream).await?.seq)
    }

    /// Whether this input was handled before: whoever sends it again gets the same answer, also
    /// where what it was about is gone by now.
    pub(super) async fn was_handled(&self, key: &InputKey) -> Result<bool, DeskError> {
        Ok(self.store().handled(key.clone(), self.now()).await?)
    }

    /// Keeps a batch; [`DeskError::Busy`] if one of its streams has moved on.
    pub(super) async fn keep(&self, batch: Batch) -> Result<Kept, DeskError> {
        let began = Stopwatch::started();
        let puts_out = !batch.notices.is_empty();
        let kept = self.store().append(batch).await;
        metrics().appended(began);
        match kept {
            Ok(_) => {
                self.inner.keeps.store(true, Ordering::Release);
                if puts_out {
                    self.inner.put_out.send_replace(());
                }
                Ok(Kept::Fresh)
            }
            Err(error @ AppendError::Conflict { .. }) => {
                metrics().conflict();
                Err(error.into())
            }
            Err(AppendError::AlreadyHandled { .. }) => Ok(Kept::Before),
            Err(error) => {
                if matches!(error, AppendError::Failed(_) | AppendError::Unsure(_)) {
                    self.inner.keeps.store(false, Ordering::Release);
                }
                Err(error.into())
            }
        }
    }

    /// Whether work can be kept: the last was, or else the store is tried.
    ///
    /// # Errors
    /// Why nothing can be kept.
    pub async fn keeps(&self) -> Result<(), DeskError> {
        if self.inner.keeps.load(Ordering::Acquire) {
            return Ok(());
        }
        let mut batch = Batch::new(self.now());
        // It takes away what was never there, so it leaves nothing behind and is kept like work.
        batch.index.push(remove::<MadeRow>(b"nothing"));
        self.keep(batch).await.map(drop)
    }
}
