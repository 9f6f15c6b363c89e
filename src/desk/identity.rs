//! Invitations, joining, signing in and out.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::actor::{Actor, ChannelAddress, Code, SessionToken};
use super::error::DeskError;
use super::{Desk, todo_body};
use crate::flow::model::Role;
use crate::store::InputKey;

/// A one-time code that was just made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invitation {
    /// The code; it is not shown again.
    pub code: Code,
    /// It works until then.
    pub until: Timestamp,
}

impl Desk {
    /// Who speaks from this address; nobody if it is not known or its session is over.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn who_is(&self, _address: &ChannelAddress) -> Result<Option<Actor>, DeskError> {
        todo_body()
    }

    /// A code for the very first supervisor, who founds the first crew; `None` once there is one.
    /// A code that was given before and not used stops working.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn first_supervisor_code(&self) -> Result<Option<Invitation>, DeskError> {
        todo_body()
    }

    /// A code that founds another crew with its first supervisor; for the operator.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn invite_new_crew(&self) -> Result<Invitation, DeskError> {
        todo_body()
    }

    /// A code to join the supervisor's crew with these roles.
    ///
    /// # Errors
    /// When the actor is no supervisor, or no role is named.
    pub async fn invite(
        &self,
        _actor: &Actor,
        _roles: BTreeSet<Role>,
    ) -> Result<Invitation, DeskError> {
        todo_body()
    }

    /// A short-lived code with which the actor signs in at another channel.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn sign_in_code(&self, _actor: &Actor) -> Result<Invitation, DeskError> {
        todo_body()
    }

    /// Uses a code: joins the crew under this name, or signs a known person in. A browser calls
    /// it with a fresh [`Desk::new_session`] as its address.
    ///
    /// # Errors
    /// [`DeskError::BadCode`]; or a name that cannot be shown.
    pub async fn join(
        &self,
        _key: InputKey,
        _code: &Code,
        _display_name: &str,
        _address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        todo_body()
    }

    /// Joins as an apprentice without a code, where the operator left the door open.
    ///
    /// # Errors
    /// When the door is not open, or the name cannot be shown.
    pub async fn join_open_door(
        &self,
        _key: InputKey,
        _display_name: &str,
        _address: &ChannelAddress,
    ) -> Result<Actor, DeskError> {
        todo_body()
    }

    /// A fresh token for a browser. Nothing is kept until somebody joins with it.
    ///
    /// # Errors
    /// When the system has no randomness to give.
    pub fn new_session(&self) -> Result<SessionToken, DeskError> {
        todo_body()
    }

    /// Ends the session of this address.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn sign_out(&self, _address: &ChannelAddress) -> Result<(), DeskError> {
        todo_body()
    }
}
