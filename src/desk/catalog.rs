//! Everything of a crew in an order that never changes, for whoever reads all of it page by page.
//!
//! Lists for people show what was worked on last first, so a job that moves on changes its place
//! there. Here jobs and evaporators stand by their numbers, which are given in order of time: a
//! page by page reading gives everything that was there when it began, and nothing twice.

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::card::CardRow;
use super::error::DeskError;
use super::evaporators::label;
use super::id::{CrewId, EvaporatorId, JobId};
use super::screen::{EvaporatorLabel, JobLine, Phase};
use super::tables::{EvaporatorRow, id_at_end, key as row_key, list};
use crate::flow::name::FlowName;
use crate::record::around::LookedAt;
use crate::record::person::PersonId;
use crate::store::{Cursor, IndexChange, Page};

/// The most items on one page.
pub const ITEMS_A_PAGE_MAX: usize = 200;
/// So many jobs are looked at for one page; with a narrow question it may hold fewer than asked.
const LOOKED_AT_MAX: usize = 1_000;

/// Which jobs are wanted: those that fit all that is given.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JobsWanted {
    /// So far.
    pub phase: Option<Phase>,
    /// On this evaporator.
    pub evaporator: Option<EvaporatorId>,
    /// In these hands.
    pub holder: Option<PersonId>,
    /// Along this flow.
    pub flow: Option<FlowName>,
    /// Something happened at this time or later.
    pub since: Option<Timestamp>,
}

impl JobsWanted {
    fn takes(&self, card: &CardRow) -> bool {
        self.phase.is_none_or(|phase| phase == card.phase)
            && self.evaporator.is_none_or(|one| one == card.evaporator)
            && self.holder.is_none_or(|holder| holder == card.holder)
            && self.flow.as_ref().is_none_or(|flow| *flow == card.flow)
            && self.since.is_none_or(|since| card.last >= since)
    }
}

impl Desk {
    /// The crew's jobs that are wanted, the oldest first.
    ///
    /// A page may hold fewer than `limit` and still have a next one. It is written down that the
    /// actor looked.
    ///
    /// # Errors
    /// When the crew has no such evaporator or person, or the cursor is not of this list.
    pub async fn all_jobs(
        &self,
        actor: &Actor,
        wanted: &JobsWanted,
        (after, limit): (Option<Cursor>, usize),
    ) -> Result<Page<JobLine>, DeskError> {
        self.present(actor).await?;
        if let Some(evaporator) = wanted.evaporator {
            self.evaporator_of(actor.crew, evaporator).await?;
        }
        if let Some(holder) = wanted.holder {
            self.ever_here(actor.crew, holder).await?;
        }
        self.note_look(actor, LookedAt::Jobs).await?;
        let limit = limit.clamp(1, ITEMS_A_PAGE_MAX);
        let prefix = actor.crew.0.as_bytes().to_vec();
        let (mut jobs, mut after, mut looked) = (Vec::new(), after, 0);
        loop {
            let room = limit - jobs.len();
            let scan = self
                .store()
                .scan(list::CREW_JOBS, prefix.clone(), after, room);
            let page = scan.await?;
            looked += page.items.len();
            for job in page.items.iter().filter_map(|row| id_at_end(&row.key)) {
                let card = self.row::<CardRow>(job).await?;
                if card.is_some_and(|card| wanted.takes(&card)) {
                    jobs.push(job);
                }
            }
            after = page.next;
            if after.is_none() || jobs.len() >= limit || looked >= LOOKED_AT_MAX {
                return Ok(Page {
                    items: self.lines(jobs).await?,
                    next: after,
                });
            }
        }
    }

    /// One job as a list shows it. It is written down that the actor looked.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn job_line(&self, actor: &Actor, job: JobId) -> Result<JobLine, DeskError> {
        self.present(actor).await?;
        let card = self.row::<CardRow>(job.0).await?;
        if card.is_none_or(|card| card.crew != actor.crew) {
            return Err(DeskError::NotFound("job"));
        }
        self.note_look(actor, LookedAt::Jobs).await?;
        let mut lines = self.lines(vec![job.0]).await?;
        lines.pop().ok_or(DeskError::NotFound("job"))
    }

    /// The crew's evaporators, the first added first.
    ///
    /// # Errors
    /// When the store cannot be read or the cursor is not of this list.
    pub async fn all_evaporators(
        &self,
        actor: &Actor,
        (after, limit): (Option<Cursor>, usize),
    ) -> Result<Page<(EvaporatorLabel, Timestamp)>, DeskError> {
        self.present(actor).await?;
        let prefix = actor.crew.0.as_bytes().to_vec();
        let limit = limit.clamp(1, ITEMS_A_PAGE_MAX);
        let scan = self
            .store()
            .scan(list::CREW_EVAPORATORS, prefix, after, limit);
        let page = scan.await?;
        let mut items = Vec::new();
        for id in page.items.iter().filter_map(|row| id_at_end(&row.key)) {
            if let Some(row) = self.row::<EvaporatorRow>(id).await? {
                let added = row.added;
                items.push((label(EvaporatorId(id), row), added));
            }
        }
        Ok(Page {
            items,
            next: page.next,
        })
    }

    /// One evaporator, and when it was added.
    ///
    /// # Errors
    /// When the crew has no such evaporator.
    pub async fn one_evaporator(
        &self,
        actor: &Actor,
        id: EvaporatorId,
    ) -> Result<(EvaporatorLabel, Timestamp), DeskError> {
        self.present(actor).await?;
        let row = self.evaporator_of(actor.crew, id).await?;
        let added = row.added;
        Ok((label(id, row), added))
    }
}

/// The change that lists a job among all of its crew.
pub(super) fn listed_among_all(crew: CrewId, job: JobId) -> IndexChange {
    let key = row_key(&[crew.0.as_bytes(), job.0.as_bytes()]);
    IndexChange::put(list::CREW_JOBS, key, [])
}
