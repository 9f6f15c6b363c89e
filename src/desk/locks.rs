//! The locks of people who are away, as a supervisor sees them.

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use super::screen::Named;
use crate::flow::model::Role;
use crate::flow::name::SourceName;

/// Somebody's lock on an energy source of a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LockLine {
    /// The source, as the job's flow names it.
    pub source: SourceName,
    /// What people call it.
    pub label: String,
    /// Whose lock hangs on it.
    pub owner: Named,
}

impl Desk {
    /// The locks of other people on the energy sources of a job. A lock comes off by the hand of
    /// its owner; where the owner is away, a supervisor may take it off under the conditions of
    /// 29 CFR 1910.147(e)(3), by [`crate::walk::input::Input::TakeLockOff`].
    ///
    /// # Errors
    /// When the crew has no such job, or the actor is no supervisor.
    pub async fn locks_of_others(
        &self,
        actor: &Actor,
        job: JobId,
    ) -> Result<Vec<LockLine>, DeskError> {
        let person = self.present(actor).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        if !person.roles.contains(&Role::Supervisor) {
            return Err(DeskError::NotAllowed(
                "Only a supervisor may take off another person's lock. Call yours.".to_owned(),
            ));
        }
        let mut lines = Vec::new();
        for (name, source) in &work.state.sources {
            for owner in source.locks.iter().filter(|owner| **owner != actor.person) {
                lines.push(LockLine {
                    source: name.clone(),
                    label: source.declared.label.clone(),
                    owner: self.named(*owner).await?,
                });
            }
        }
        Ok(lines)
    }
}
