//! The equipment of a crew.

use super::actor::Actor;
use super::error::DeskError;
use super::id::EvaporatorId;
use super::screen::{EvaporatorLabel, EvaporatorPage};
use super::{Desk, todo_body};
use crate::store::InputKey;

/// What is known of an evaporator when it is added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewEvaporator {
    /// Where: the shop, the building. Needed.
    pub site: String,
    /// What is written on it; may be empty.
    pub tag: String,
    /// Where it hangs: the box, the wall; may be empty.
    pub hangs: String,
}

impl Desk {
    /// Adds an evaporator; the same input twice adds it once.
    ///
    /// # Errors
    /// When a text is missing or too long.
    pub async fn add_evaporator(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _new: NewEvaporator,
    ) -> Result<EvaporatorLabel, DeskError> {
        todo_body()
    }

    /// The crew's evaporators by site and tag; with `words`, those whose line holds all of them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn evaporators(
        &self,
        _actor: &Actor,
        _words: &str,
    ) -> Result<Vec<EvaporatorLabel>, DeskError> {
        todo_body()
    }

    /// One evaporator with its jobs, the newest first.
    ///
    /// # Errors
    /// When the crew has no such evaporator.
    pub async fn evaporator(
        &self,
        _actor: &Actor,
        _id: EvaporatorId,
    ) -> Result<EvaporatorPage, DeskError> {
        todo_body()
    }
}
