//! Jobs: beginning them, answering them, looking at them, reviewing them.

use super::actor::Actor;
use super::error::DeskError;
use super::id::{EvaporatorId, JobId};
use super::screen::{FlowChoice, Handled, JobLine, Screen};
use super::{Desk, todo_body};
use crate::flow::name::FlowName;
use crate::store::{Cursor, InputKey, Page};
use crate::walk::input::Input;

/// What a new job is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewJob {
    /// On which evaporator.
    pub evaporator: EvaporatorId,
    /// Along which flow.
    pub flow: FlowName,
    /// A training walk: marked on every screen, never handed in.
    pub training: bool,
}

impl Desk {
    /// The flows that a job can begin with, the usual one first.
    pub fn flows(&self) -> Vec<FlowChoice> {
        Vec::new()
    }

    /// Begins a job in the actor's hands; the same input twice begins it once.
    ///
    /// # Errors
    /// When the evaporator or the flow is not there, or the engine refuses.
    pub async fn begin(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _new: NewJob,
    ) -> Result<Handled, DeskError> {
        todo_body()
    }

    /// Handles one input to one job. A refusal is an [`super::screen::Outcome`], not an error.
    ///
    /// # Errors
    /// When the crew has no such job, or the store cannot keep the input.
    pub async fn handle(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _job: JobId,
        _input: Input,
    ) -> Result<Handled, DeskError> {
        todo_body()
    }

    /// The screen of a job for this person, as it stands now.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn screen(&self, _actor: &Actor, _job: JobId) -> Result<Screen, DeskError> {
        todo_body()
    }

    /// The open job that the person last worked on: what a chat message without a job is for.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn job_at_hand(&self, _actor: &Actor) -> Result<Option<JobId>, DeskError> {
        todo_body()
    }

    /// Makes a job the one at hand.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn take_up(&self, _actor: &Actor, _job: JobId) -> Result<Screen, DeskError> {
        todo_body()
    }

    /// The jobs in the actor's hands that are not accepted yet, the last worked on first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn my_jobs(&self, _actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        todo_body()
    }

    /// All jobs of the crew whose walk goes on or that are left locked out.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn open_jobs(&self, _actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        todo_body()
    }

    /// The crew's jobs that wait for review.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn jobs_to_review(&self, _actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        todo_body()
    }

    /// The crew's finished jobs, the newest first, at most 50 a page.
    ///
    /// # Errors
    /// When the store cannot be read or the cursor is not of this list.
    pub async fn finished_jobs(
        &self,
        _actor: &Actor,
        _after: Option<Cursor>,
    ) -> Result<Page<JobLine>, DeskError> {
        todo_body()
    }

    /// Accepts a job that was handed in. Nobody reviews a job that they worked on.
    ///
    /// # Errors
    /// When the actor may not, or the job is not handed in.
    pub async fn accept(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _job: JobId,
        _remark: &str,
    ) -> Result<Handled, DeskError> {
        todo_body()
    }

    /// Sends a job back with a remark, which is needed.
    ///
    /// # Errors
    /// As [`Desk::accept`].
    pub async fn send_back(
        &self,
        _key: InputKey,
        _actor: &Actor,
        _job: JobId,
        _remark: &str,
    ) -> Result<Handled, DeskError> {
        todo_body()
    }
}
