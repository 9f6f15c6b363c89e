//! Beginning a job: for oneself, or for somebody else of the crew.

use super::Desk;
use super::actor::Actor;
use super::card::CardRow;
use super::error::DeskError;
use super::floor::Work;
use super::jobs::NewJob;
use super::notice::{About, FIRST, Notice};
use super::screen::{Handled, Phase};
use super::tables::{AtHandRow, put};
use crate::record::person::PersonId;
use crate::store::{Batch, InputKey};

impl Desk {
    /// Begins a job in the actor's hands; the same input twice begins it once.
    ///
    /// # Errors
    /// When the evaporator or the flow is not there, or the engine refuses.
    pub async fn begin(
        &self,
        key: InputKey,
        actor: &Actor,
        new: NewJob,
    ) -> Result<Handled, DeskError> {
        self.begin_in_hands(key, actor, new, actor.person).await
    }

    /// Begins a job in the hands of somebody of the crew, who is told; the same input twice
    /// begins it once. Whoever began it never held it and may review it.
    ///
    /// # Errors
    /// When the actor is no supervisor, the person is not of the crew, and as [`Desk::begin`].
    pub async fn begin_for(
        &self,
        key: InputKey,
        actor: &Actor,
        new: NewJob,
        holder: PersonId,
    ) -> Result<Handled, DeskError> {
        self.must_be_supervisor(actor, "begin a job for somebody else")
            .await?;
        let row = self.of_crew(actor.crew, holder).await?;
        row.ok_or(DeskError::NotFound("person"))?;
        self.begin_in_hands(key, actor, new, holder).await
    }

    /// Makes a job that begins the one at hand of its holder, and tells them if somebody else
    /// began it. A job that they are at already stays the one at hand.
    pub(super) async fn comes_to_hand(
        &self,
        batch: &mut Batch,
        actor: &Actor,
        work: &Work,
    ) -> Result<(), DeskError> {
        let holder = work.state.holder;
        let themselves = holder == actor.person && actor.token.is_none();
        if themselves || !self.is_at_a_job(holder).await? {
            let at_hand = AtHandRow { job: work.job.0 };
            batch.index.push(put(holder.0, &at_hand)?);
        }
        if themselves {
            return Ok(());
        }
        let line = self.evaporator_label(work.evaporator).await?.line();
        let notice = Notice {
            to: holder,
            about: About::BegunFor,
            job: Some(work.job),
            revision: work.state.revision,
            sentence: format!("{FIRST} began a job for you at {line}."),
            lines: Vec::new(),
            people: vec![actor.person],
            show_screen: true,
        };
        self.put_out(batch, notice).await
    }

    /// Whether a person has an open job at hand.
    async fn is_at_a_job(&self, person: PersonId) -> Result<bool, DeskError> {
        let Some(row) = self.row::<AtHandRow>(person.0).await? else {
            return Ok(false);
        };
        let card = self.row::<CardRow>(row.job).await?;
        Ok(card.is_some_and(|card| {
            card.holder == person && (card.phase.is_open() || card.phase == Phase::SentBack)
        }))
    }
}
