//! The people of a crew, their roles and names.

use std::collections::BTreeSet;

use super::actor::Actor;
use super::error::DeskError;
use super::{Desk, todo_body};
use crate::flow::model::Role;
use crate::record::person::PersonId;
use crate::store::InputKey;

/// One person of a crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonLine {
    /// Who.
    pub person: PersonId,
    /// The name to show.
    pub name: String,
    /// Their roles; none means that they left.
    pub roles: BTreeSet<Role>,
}

impl Desk {
    /// Everybody of the actor's crew, by name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn people(&self, _actor: &Actor) -> Result<Vec<PersonLine>, DeskError> {
        todo_body()
    }

    /// Gives a person of the crew exactly these roles; none takes them off the crew.
    ///
    /// # Errors
    /// When the actor is no supervisor, the person is not of the crew, or the crew would be left
    /// without a supervisor.
    pub async fn set_roles(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _person: PersonId,
        _roles: BTreeSet<Role>,
    ) -> Result<PersonLine, DeskError> {
        todo_body()
    }

    /// Changes the actor's own name to show.
    ///
    /// # Errors
    /// When the name is empty or too long.
    pub async fn rename(&self, _actor: &Actor, _name: &str) -> Result<(), DeskError> {
        todo_body()
    }

    /// Erases a person's name from the disk: the actor's own, or anybody's by a supervisor.
    ///
    /// # Errors
    /// When the actor may not.
    pub async fn erase_name(&self, _actor: &Actor, _person: PersonId) -> Result<(), DeskError> {
        todo_body()
    }
}
