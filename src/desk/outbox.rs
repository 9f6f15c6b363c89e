//! The outbox: messages that wait to be delivered.

use std::collections::HashSet;

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use super::notice::{About, InboxItem, Notice, Outgoing};
use super::tables::{
    InboxRow, ReachRow, earliest_first, key as row_key, put, read, remove, written,
};
use super::webhooks::is_call;
use crate::record::person::PersonId;
use crate::store::{Batch, Cursor, DeliveryMark, NewNotice, Page, PendingNotice};

/// What the address of a notice to a chat begins with.
const TELEGRAM: &str = "telegram:";

impl Desk {
    /// What waits to be pushed to chats and is due, in the order in which it was written.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn pending(
        &self,
        after: Option<Cursor>,
        limit: usize,
    ) -> Result<Page<Outgoing>, DeskError> {
        let now = self.now();
        let (mut items, mut after) = (Vec::new(), after);
        loop {
            let room = limit.max(1) - items.len();
            let page = self.store().notices_pending(now, after, room).await?;
            let to_chats = page.items.into_iter().filter(|one| !is_call(&one.address));
            for pending in to_chats {
                items.push(self.outgoing(pending).await?);
            }
            after = page.next;
            if after.is_none() || items.len() >= limit.max(1) {
                return Ok(Page { items, next: after });
            }
        }
    }

    async fn outgoing(&self, pending: PendingNotice) -> Result<Outgoing, DeskError> {
        let address = pending.address.strip_prefix(TELEGRAM);
        let chat = address.and_then(|chat| chat.parse().ok());
        let chat = chat.ok_or_else(|| {
            DeskError::Fault(format!("The address of notice {} is none.", pending.id))
        })?;
        Ok(Outgoing {
            id: pending.id,
            chat,
            notice: self.with_names(read(&pending.payload)?).await?,
            attempts: pending.attempts,
            due: pending.due,
        })
    }

    /// A notice as it is told now, with the names of its people.
    pub(super) async fn with_names(&self, notice: Notice) -> Result<Notice, DeskError> {
        let mut names = Vec::with_capacity(notice.people.len());
        for person in &notice.people {
            names.push(self.name_of(*person).await?);
        }
        Ok(notice.with(&names))
    }

    /// When the next message is due; `None` when none waits.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn next_pending(&self) -> Result<Option<Timestamp>, DeskError> {
        let mut after = None;
        loop {
            let page = self
                .store()
                .notices_pending(Timestamp::MAX, after, 64)
                .await?;
            let mut to_chats = page.items.iter().filter(|one| !is_call(&one.address));
            if let Some(first) = to_chats.next() {
                return Ok(Some(first.due));
            }
            after = page.next;
            if after.is_none() {
                return Ok(None);
            }
        }
    }

    /// Says what became of messages.
    ///
    /// # Errors
    /// When the store cannot keep it; the message is then sent once more.
    pub async fn mark(&self, marks: Vec<DeliveryMark>) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        batch.marks = marks;
        self.keep(batch).await?;
        Ok(())
    }

    /// What waits for the actor on pages and the terminal, the oldest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn inbox(&self, actor: &Actor) -> Result<Vec<InboxItem>, DeskError> {
        let rows = self.rows::<InboxRow>(actor.person.0.as_bytes()).await?;
        let mut items = Vec::new();
        for (key, row) in rows {
            let notice = self.by_now(&row.notice).await?;
            items.extend(notice.map(|notice| InboxItem {
                key: hexadecimal(key.get(16..).unwrap_or_default()),
                at: row.at,
                notice,
            }));
        }
        Ok(items)
    }

    /// The actor has seen these; they leave the inbox.
    ///
    /// # Errors
    /// When a key is none of the inbox, or the store cannot keep it.
    pub async fn seen(&self, actor: &Actor, keys: &[String]) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        for key in keys {
            let key = bytes_of(key).ok_or(DeskError::NotFound("message"))?;
            let key = row_key(&[actor.person.0.as_bytes(), &key]);
            batch.index.push(remove::<InboxRow>(key));
        }
        self.keep(batch).await?;
        Ok(())
    }

    /// Puts a notice where its person hears of it: the outbox for whoever last spoke from a
    /// chat, else the inbox.
    pub(super) async fn put_out(&self, batch: &mut Batch, notice: Notice) -> Result<(), DeskError> {
        let at = batch.at;
        let reach = self.row::<ReachRow>(notice.to.0).await?;
        if let Some(chat) = reach.and_then(|reach| reach.chat) {
            batch.notices.push(NewNotice {
                address: format!("{TELEGRAM}{chat}"),
                payload: written(&notice)?,
                // Times of entries never go back; a clock that does holds no message up.
                due: at.min(self.now()),
            });
            return Ok(());
        }
        let key = inbox_key(&notice, at);
        batch.index.push(put(key, &InboxRow { at, notice })?);
        Ok(())
    }

    /// The change that notes where an actor speaks from; none if that is known, or if a program
    /// speaks in their name.
    pub(super) async fn note_reach(
        &self,
        batch: &mut Batch,
        actor: &Actor,
    ) -> Result<(), DeskError> {
        let reach = ReachRow { chat: actor.chat };
        if actor.token.is_some() {
            return Ok(());
        }
        if self.row::<ReachRow>(actor.person.0).await? != Some(reach) {
            batch.index.push(put(actor.person.0, &reach)?);
        }
        Ok(())
    }

    /// What waits in the outbox for people in chats.
    pub(super) async fn in_outbox(&self) -> Result<HashSet<Like>, DeskError> {
        let (mut out, mut after) = (HashSet::new(), None);
        loop {
            let page = self.store();
            let page = page.notices_pending(Timestamp::MAX, after, 256).await?;
            for pending in page.items.iter().filter(|one| !is_call(&one.address)) {
                out.insert(Like::of(&read(&pending.payload)?));
            }
            after = page.next;
            if after.is_none() {
                return Ok(out);
            }
        }
    }

    /// Whether a notice like this one waits on pages for its person.
    pub(super) async fn in_inbox(&self, notice: &Notice) -> Result<bool, DeskError> {
        let inbox = self.rows::<InboxRow>(notice.to.0.as_bytes()).await?;
        let like = Like::of(notice);
        Ok(inbox.iter().any(|(_, row)| Like::of(&row.notice) == like))
    }
}

/// By what two notices say the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Like {
    to: PersonId,
    about: About,
    job: Option<JobId>,
    revision: u64,
}

impl Like {
    pub(super) fn of(notice: &Notice) -> Like {
        Like {
            to: notice.to,
            about: notice.about,
            job: notice.job,
            revision: notice.revision,
        }
    }
}

/// Person, time, then what makes the notice different from others of the same time.
fn inbox_key(notice: &Notice, at: Timestamp) -> Vec<u8> {
    let PersonId(person) = notice.to;
    let about = format!("{:?}", notice.about);
    let revision = notice.revision.to_be_bytes();
    let job = notice.job.map_or([0; 16], |job| *job.0.as_bytes());
    let parts: [&[u8]; 5] = [
        person.as_bytes(),
        &earliest_first(at),
        job.as_slice(),
        &revision,
        about.as_bytes(),
    ];
    row_key(&parts)
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn bytes_of(text: &str) -> Option<Vec<u8>> {
    if !text.len().is_multiple_of(2) || !text.bytes().all(|digit| digit.is_ascii_hexdigit()) {
        return None;
    }
    let pair = |at: usize| u8::from_str_radix(text.get(at..at + 2)?, 16).ok();
    (0..text.len()).step_by(2).map(pair).collect()
}
