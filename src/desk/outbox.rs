//! The outbox: messages that wait to be delivered.

use jiff::Timestamp;

use super::actor::Actor;
use super::error::DeskError;
use super::notice::{InboxItem, Outgoing};
use super::{Desk, todo_body};
use crate::store::{Cursor, DeliveryMark, Page};

impl Desk {
    /// What waits to be pushed to chats and is due, in the order in which it was written.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn pending(
        &self,
        _after: Option<Cursor>,
        _limit: usize,
    ) -> Result<Page<Outgoing>, DeskError> {
        todo_body()
    }

    /// When the next message is due; `None` when none waits.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn next_pending(&self) -> Result<Option<Timestamp>, DeskError> {
        todo_body()
    }

    /// Says what became of messages.
    ///
    /// # Errors
    /// When the store cannot keep it; the message is then sent once more.
    pub async fn mark(&self, _marks: Vec<DeliveryMark>) -> Result<(), DeskError> {
        todo_body()
    }

    /// What waits for the actor on pages and the terminal, the oldest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn inbox(&self, _actor: &Actor) -> Result<Vec<InboxItem>, DeskError> {
        todo_body()
    }

    /// The actor has seen these; they leave the inbox.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn seen(&self, _actor: &Actor, _keys: &[String]) -> Result<(), DeskError> {
        todo_body()
    }
}
