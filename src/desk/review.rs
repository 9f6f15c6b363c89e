//! Review of finished jobs.

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use super::screen::Handled;
use crate::store::InputKey;
use crate::walk::input::Input;

impl Desk {
    /// Accepts a job that was handed in. Nobody reviews a job that they worked on: the outcome
    /// is then a refusal.
    ///
    /// # Errors
    /// As [`Desk::handle`].
    pub async fn accept(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        remark: &str,
    ) -> Result<Handled, DeskError> {
        let remark = remark.to_owned();
        self.handle(key, actor, job, Input::Accept { remark }).await
    }

    /// Sends a job back with a remark, which is needed.
    ///
    /// # Errors
    /// As [`Desk::handle`].
    pub async fn send_back(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        remark: &str,
    ) -> Result<Handled, DeskError> {
        let remark = remark.to_owned();
        self.handle(key, actor, job, Input::SendBack { remark })
            .await
    }
}
