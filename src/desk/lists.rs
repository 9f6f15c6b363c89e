//! Lists of jobs, and the job at hand.

use super::Desk;
use super::actor::Actor;
use super::card::{CardRow, phase_code};
use super::error::DeskError;
use super::id::JobId;
use super::screen::{JobLine, Phase, Screen};
use super::tables::{AtHandRow, id_at_end, key as row_key, list, put};
use crate::flow::model::Role;
use crate::store::{Batch, Cursor, Page};

/// So many jobs are on one page of a list.
pub const JOBS_A_PAGE: usize = 50;

/// A part of a crew's jobs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pile {
    /// Those whose walk goes on, and those left locked out.
    Open,
    /// Those whose walk is over.
    Over,
    /// Those that are so far.
    In(Phase),
}

/// Why a job is in the list that a person chooses from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Reason {
    /// It is in the person's hands.
    Mine,
    /// It is offered to the person.
    Offered,
    /// It goes on only when somebody in a role of the person answered.
    WaitsForRole,
    /// It waits for a review that the person may do.
    ToReview,
    /// Somebody else of the crew works on it.
    OfTheCrew,
}

/// The jobs that a person chooses from.
#[derive(Clone, Debug, PartialEq)]
pub struct JobsToChoose {
    /// The jobs, each with why it is there.
    pub jobs: Vec<(Reason, JobLine)>,
    /// Whether no open job of the crew is left out.
    pub are_all: bool,
}

impl Desk {
    /// The open job that the person last worked on: what a chat message without a job is for.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn job_at_hand(&self, actor: &Actor) -> Result<Option<JobId>, DeskError> {
        self.present(actor).await?;
        let Some(row) = self.row::<AtHandRow>(actor.person.0).await? else {
            return Ok(None);
        };
        let card = self.row::<CardRow>(row.job).await?;
        let at_hand = card.filter(|card| card.crew == actor.crew && card.phase != Phase::Accepted);
        Ok(at_hand.map(|_| JobId(row.job)))
    }

    /// Makes a job the one at hand.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn take_up(&self, actor: &Actor, job: JobId) -> Result<Screen, DeskError> {
        let screen = self.screen(actor, job).await?;
        if self.job_at_hand(actor).await? != Some(job) {
            let mut batch = Batch::new(self.now());
            batch
                .index
                .push(put(actor.person.0, &AtHandRow { job: job.0 })?);
            self.keep(batch).await?;
        }
        Ok(screen)
    }

    /// The jobs in the actor's hands that are not accepted yet, the last worked on first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn my_jobs(&self, actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        self.present(actor).await?;
        let jobs = self.listed(list::HELD, actor.person.0.as_bytes()).await?;
        let mut lines = self.lines(jobs).await?;
        lines.sort_by_key(|line| std::cmp::Reverse(line.last));
        Ok(lines)
    }

    /// The jobs of the crew on one of its piles, the last worked on first, `limit` a page.
    ///
    /// # Errors
    /// When the store cannot be read or the cursor is not of this pile.
    pub async fn jobs_on(
        &self,
        actor: &Actor,
        pile: Pile,
        (after, limit): (Option<Cursor>, usize),
    ) -> Result<Page<JobLine>, DeskError> {
        self.present(actor).await?;
        let crew = actor.crew.0.as_bytes();
        let (list, prefix) = match pile {
            Pile::Open => (list::CREW_OPEN, crew.to_vec()),
            Pile::Over => (list::CREW_OVER, crew.to_vec()),
            Pile::In(phase) => (list::CREW_PHASE, row_key(&[crew, &[phase_code(phase)]])),
        };
        let page = self.store().scan(list, prefix, after, limit).await?;
        let jobs = page.items.iter();
        let jobs = jobs.filter_map(|row| id_at_end(&row.key)).collect();
        Ok(Page {
            items: self.lines(jobs).await?,
            next: page.next,
        })
    }

    /// The jobs that this person may take over now, the last worked on first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn offered_jobs(&self, actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        self.present(actor).await?;
        let crew = actor.crew.0.as_bytes();
        let jobs = self.listed(list::CREW_OFFERED, crew).await?;
        let mut lines = self.lines(jobs).await?;
        let me = actor.person;
        lines.retain(|line| line.holder.person != me && line.is_offered_to(me));
        lines.sort_by_key(|line| std::cmp::Reverse(line.last));
        Ok(lines)
    }

    /// The crew's jobs that wait for review: those in which something stands out before the
    /// others, and among them the longest waiting first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn jobs_to_review(&self, actor: &Actor) -> Result<Vec<JobLine>, DeskError> {
        self.present(actor).await?;
        let jobs = self
            .listed(list::CREW_REVIEW, actor.crew.0.as_bytes())
            .await?;
        let mut lines = self.lines(jobs).await?;
        lines.sort_by_key(|line| (line.stands_out == 0, line.last));
        Ok(lines)
    }

    /// The jobs that the person may want to look at now, each once, what is nearest to them first;
    /// of the others' jobs the last worked on.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn jobs_to_choose(&self, actor: &Actor) -> Result<JobsToChoose, DeskError> {
        let mine = self.my_jobs(actor).await?.into_iter();
        let mut jobs: Vec<_> = mine.map(|line| (Reason::Mine, line)).collect();
        let offered = self.offered_jobs(actor).await?;
        let is_offered = |line: &JobLine| offered.iter().any(|other| other.job == line.job);
        let Page { items, next } = self.jobs_on(actor, Pile::Open, (None, JOBS_A_PAGE)).await?;
        let mut others = items;
        others.retain(|line| line.holder.person != actor.person && !is_offered(line));
        let (waiting, others): (Vec<_>, Vec<_>) = others
            .into_iter()
            .partition(|line| line.waits_for_any(&actor.roles));
        jobs.extend(offered.into_iter().map(|line| (Reason::Offered, line)));
        jobs.extend(waiting.into_iter().map(|line| (Reason::WaitsForRole, line)));
        if actor.is(Role::Supervisor) {
            let review = self.jobs_to_review(actor).await?.into_iter();
            let of_others = review.filter(|line| line.holder.person != actor.person);
            jobs.extend(of_others.map(|line| (Reason::ToReview, line)));
        }
        jobs.extend(others.into_iter().map(|line| (Reason::OfTheCrew, line)));
        Ok(JobsToChoose {
            jobs,
            are_all: next.is_none(),
        })
    }
}
