//! One input of a person to one job, with what they saw when they acted.

use super::actor::Actor;
use super::carried::Carried;
use super::decided::{By, Seen};
use super::error::DeskError;
use super::id::JobId;
use super::screen::Handled;
use super::{Desk, standing};
use crate::store::InputKey;
use crate::walk::input::Input;

impl Desk {
    /// Handles one input to one job, whatever the person saw. A refusal is an
    /// [`super::screen::Outcome`], not an error.
    ///
    /// # Errors
    /// When the crew has no such job, or the store cannot keep the input.
    pub async fn handle(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        input: Input,
    ) -> Result<Handled, DeskError> {
        self.handle_seen(key, actor, job, (Seen::Anything, input))
            .await
    }

    /// Handles one input that counts only for what the person saw; elsewhere it is refused.
    ///
    /// # Errors
    /// As [`Desk::handle`].
    pub async fn handle_seen(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        meant: (Seen, Input),
    ) -> Result<Handled, DeskError> {
        let (desk, actor) = (self.clone(), actor.clone());
        // It goes on when the channel gives up waiting, and a panic that serving one person met
        // reaches nobody else.
        let handling = async move { desk.handle_whole(key, &actor, job, meant).await };
        Carried::new(handling).await.unwrap_or_else(|panic| {
            Err(DeskError::Fault(format!(
                "An input to job {job} was not handled: {panic}"
            )))
        })
    }

    async fn handle_whole(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        (seen, input): (Seen, Input),
    ) -> Result<Handled, DeskError> {
        let person = self.present(actor).await?;
        self.must_be_of_crew(actor, &input).await?;
        self.settle_doubt(job).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        let brings = self.brings(actor, &person).await?;
        let by = By {
            actor: Some((actor, &person)),
            brings: &brings,
            seen,
        };
        let outcome = match self.act(Some(&key), by, work, &input).await {
            Ok(outcome) => outcome,
            Err(error) => {
                // What is folded may be behind or ahead of what was kept.
                *place = None;
                return Err(error);
            }
        };
        standing::handled(actor.channel, &outcome);
        tracing::debug!(%job, revision = work.state.revision, "an input was handled");
        let screen = self.make_screen(actor, (&person, &brings), work).await?;
        Ok(Handled { outcome, screen })
    }
}
