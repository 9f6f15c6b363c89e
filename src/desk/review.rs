//! Review of finished jobs.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::card::{awaited, phase};
use super::checklist::Record;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use super::proposal::may_decide;
use super::screen::{Handled, Phase};
use super::tables::PersonRow;
use crate::flow::model::{Act, Role};
use crate::record::step_ref::StepRef;
use crate::report::checklist::review::Review;
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::step_label;

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

    /// Sends a job back with a remark, which is needed; the technician goes by it.
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
        let back = (remark, Vec::new());
        self.send_steps_back(key, actor, job, back).await
    }

    /// Sends a job back with a remark and the steps that are to be done again.
    ///
    /// # Errors
    /// As [`Desk::handle`].
    pub async fn send_steps_back(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        (remark, steps): (&str, Vec<StepRef>),
    ) -> Result<Handled, DeskError> {
        let remark = remark.to_owned();
        let input = Input::SendBack { remark, steps };
        self.handle(key, actor, job, input).await
    }

    /// The steps of a job that can be sent back, in the order in which they were walked, each
    /// with what people call it.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn steps_to_send_back(
        &self,
        actor: &Actor,
        job: JobId,
    ) -> Result<Vec<(StepRef, String)>, DeskError> {
        self.present(actor).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        let walked = work.state.walked().into_iter();
        let named = walked.map(|step| {
            let label = step_label(&work.edition, &step);
            (step, label)
        });
        Ok(named.collect())
    }

    /// A job as its reviewer reads it. Every supervisor of the crew may read it; who worked on
    /// the job decides nothing.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the crew has no such job.
    pub async fn review(&self, actor: &Actor, job: JobId) -> Result<Reviewed, DeskError> {
        self.must_be_supervisor(actor, "review a job").await?;
        let record = self.record_for(actor, job).await?;
        let Record { work, entries, .. } = &record;
        let names = self.shown_names(&record).await?;
        let known = self.known_besides(work, entries).await?;
        let around = self.around(&record, &names, &known).await?;
        let sheet = Review::of(&work.edition, entries, &around);
        let decides = may_decide(work, actor, &actor.roles);
        let waits = self.waits_at(work).await?;
        let phase = phase(&work.state);
        Ok(Reviewed {
            revision: work.state.revision,
            phase,
            sheet: sheet.ok_or(DeskError::NotFound("job"))?,
            may_decide: decides && phase == Phase::HandedIn,
            is_own: !decides,
            waits,
        })
    }

    /// The hold point that the job waits at; none where its holder can go on by themselves.
    async fn waits_at(&self, work: &Work) -> Result<Option<WaitsAt>, DeskError> {
        let state = &work.state;
        let call = state.top();
        let step = call.and_then(|call| work.edition.step(&call.flow, &call.step));
        if !step.is_some_and(|step| matches!(step.act, Act::Hold { .. })) {
            return Ok(None);
        }
        let roles = awaited(&work.edition, state);
        let holder = self.row::<PersonRow>(state.holder.0).await?;
        let holder = holder.map(|row| row.roles).unwrap_or_default();
        let waits = !roles.is_empty() && roles.is_disjoint(&holder);
        Ok(waits.then_some(WaitsAt {
            roles,
            since: state.stands_since,
        }))
    }
}

/// A job as its reviewer reads it, and what the reader may do.
#[derive(Clone, Debug)]
pub struct Reviewed {
    /// The revision of the job: a decision about another one is stale.
    pub revision: u64,
    /// How far the job is.
    pub phase: Phase,
    /// What happened.
    pub sheet: Review,
    /// Whether the reader may accept it or send it back now.
    pub may_decide: bool,
    /// Whether the reader worked on it: nobody reviews their own job.
    pub is_own: bool,
    /// The hold point that it waits at.
    pub waits: Option<WaitsAt>,
}

/// A hold point that a job waits at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WaitsAt {
    /// Who may release it: somebody in one of these roles.
    pub roles: BTreeSet<Role>,
    /// Since when.
    pub since: Timestamp,
}
