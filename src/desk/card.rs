//! What the lists say of a job: one row per job and its places in the lists, all following from
//! the job's state.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::catalog::listed_among_all;
use super::error::DeskError;
use super::evaporators::label as evaporator_label;
use super::finds::moved;
use super::floor::Work;
use super::id::{CrewId, EvaporatorId, JobId};
use super::noted::noted;
use super::screen::{EvaporatorLabel, JobLine, Offer, Phase};
use super::stands_out::StandsOutRow;
use super::tables::{
    EvaporatorRow, PersonRow, Row, earliest_first, key as row_key, latest_first, list, put,
};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Role};
use crate::flow::name::FlowName;
use crate::record::entry::Entry;
use crate::record::person::PersonId;
use crate::store::{IndexChange, Table};
use crate::walk::State;
use crate::walk::state::{Mode, Review};

/// A job, as lists need it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct CardRow {
    pub(super) crew: CrewId,
    pub(super) evaporator: EvaporatorId,
    pub(super) flow: FlowName,
    pub(super) title: String,
    pub(super) holder: PersonId,
    pub(super) holders: BTreeSet<PersonId>,
    pub(super) phase: Phase,
    pub(super) outcome: Option<String>,
    /// Left with an owner; then the outcome names that owner.
    #[serde(default)]
    pub(super) left: bool,
    pub(super) training: bool,
    pub(super) offered: Option<Offer>,
    /// Who may answer where it stands, if not anybody.
    #[serde(default)]
    pub(super) awaited: BTreeSet<Role>,
    pub(super) began: Timestamp,
    pub(super) last: Timestamp,
    pub(super) last_human: Timestamp,
    pub(super) revision: u64,
}

impl Row for CardRow {
    const TABLE: Table = Table::named("job");
}

/// How far a job is.
pub(super) fn phase(state: &State) -> Phase {
    match (&state.review, &state.mode) {
        (Review::Accepted, _) => Phase::Accepted,
        (Review::HandedIn, _) => Phase::HandedIn,
        (_, Mode::Walking) => Phase::Open,
        (_, Mode::Paused) => Phase::Paused,
        (_, Mode::Stopped { .. } | Mode::Leaving { .. }) => Phase::Stopped,
        (_, Mode::Left { .. }) => Phase::LockedOut,
        (Review::SentBack { .. }, Mode::Finished { .. }) => Phase::SentBack,
        (Review::None, Mode::Finished { .. }) => Phase::Finished,
    }
}

/// The roles that a walk waits for: who may release the hold, or answer the step, where not
/// anybody may.
pub(super) fn awaited(edition: &Edition, state: &State) -> BTreeSet<Role> {
    let call = state.top().filter(|_| state.mode == Mode::Walking);
    let step = call.and_then(|call| edition.step(&call.flow, &call.step));
    match step {
        Some(step) => match &step.act {
            Act::Hold { role, .. } => [*role].into(),
            _ => step.by.iter().copied().collect(),
        },
        None => BTreeSet::new(),
    }
}

/// The row of a job.
pub(super) fn card_of(work: &Work) -> CardRow {
    let state = &work.state;
    let outcome = match &state.mode {
        Mode::Finished { label, .. } => Some(label.clone()),
        Mode::Left { owner, again } => Some(format!("Owner: {owner}. Looked at again: {again}.")),
        _ => None,
    };
    CardRow {
        crew: work.crew,
        evaporator: work.evaporator,
        flow: state.pins.flow.clone(),
        title: super::editions::title(&work.edition),
        holder: state.holder,
        holders: state.holders.clone(),
        phase: phase(state),
        outcome,
        left: matches!(state.mode, Mode::Left { .. }),
        training: state.pins.training,
        offered: state
            .offer
            .as_ref()
            .map(|offer| offer.to.map_or(Offer::Anybody, Offer::One)),
        awaited: awaited(&work.edition, state),
        began: state.began_at,
        last: state.last_at,
        last_human: state.last_human_at,
        revision: state.revision,
    }
}

/// The changes that bring the lists from one state of a job to the next.
fn moves(job: JobId, crew: CrewId, before: Option<&State>, after: &State) -> Vec<IndexChange> {
    let before = before
        .map(|state| places(job, crew, state))
        .unwrap_or_default();
    let after = places(job, crew, after);
    let gone = before.iter().filter(|place| !after.contains(place));
    let new = after.iter().filter(|place| !before.contains(place));
    let gone = gone.map(|(table, key)| IndexChange::remove(table.clone(), key.clone()));
    let new = new.map(|(table, key)| IndexChange::add(table.clone(), key.clone(), []));
    gone.chain(new).collect()
}

/// Every list that a job is on, with its key there.
fn places(job: JobId, crew: CrewId, state: &State) -> Vec<(Table, Vec<u8>)> {
    let (job, crew) = (job.0.as_bytes(), crew.0.as_bytes());
    let phase = phase(state);
    let last = latest_first(state.last_at);
    let of_phase = row_key(&[crew, &[phase_code(phase)], &last, job]);
    let mut places = vec![(list::CREW_PHASE, of_phase)];
    if phase.is_open() || phase == Phase::LockedOut {
        places.push((list::CREW_OPEN, row_key(&[crew, &last, job])));
    }
    if state.offer.is_some() {
        places.push((list::CREW_OFFERED, row_key(&[crew, job])));
    }
    if phase == Phase::HandedIn {
        places.push((list::CREW_REVIEW, row_key(&[crew, job])));
    }
    if !phase.is_open() {
        places.push((list::CREW_OVER, row_key(&[crew, &last, job])));
    }
    if is_held(state) {
        places.push((list::HELD, row_key(&[state.holder.0.as_bytes(), job])));
    }
    if let Some(due) = state.next_check_in() {
        places.push((list::CHECK_INS, wait_key(due, job)));
    }
    if let Some(until) = state.next_deadline() {
        places.push((list::WAITS, wait_key(until, job)));
    }
    places
}

/// Whether somebody still has something to do with a job.
pub(super) fn is_held(state: &State) -> bool {
    phase(state) != Phase::Accepted
}

/// One stable byte for keys; a code is never given to another phase.
pub(super) fn phase_code(phase: Phase) -> u8 {
    match phase {
        Phase::Open => 1,
        Phase::Paused => 2,
        Phase::Stopped => 3,
        Phase::Finished => 4,
        Phase::LockedOut => 5,
        Phase::HandedIn => 6,
        Phase::Accepted => 7,
        Phase::SentBack => 8,
    }
}

/// The key of a wait. Milliseconds are rounded up, so that a wait is never called too early.
pub(super) fn wait_key(until: Timestamp, job: &[u8; 16]) -> Vec<u8> {
    let rounded = until
        .checked_add(jiff::SignedDuration::from_micros(999))
        .unwrap_or(until);
    row_key(&[&earliest_first(rounded), job])
}

impl Desk {
    /// The rows that follow from entries of a job, whatever else comes of them; there is no job
    /// before it began.
    pub(super) async fn rows_of(
        &self,
        (before, after): (Option<&Work>, &Work),
        entries: &[Entry],
        of: &EvaporatorLabel,
    ) -> Result<Vec<IndexChange>, DeskError> {
        let (job, on) = (after.job, after.evaporator);
        let state_before = before.map(|it| &it.state);
        let mut rows = moves(job, after.crew, state_before, &after.state);
        rows.push(put(job.0, &card_of(after))?);
        rows.extend(self.looks(before, after).await?);
        rows.extend(noted((on, job), &after.edition, state_before, entries)?);
        rows.extend(moved(before, after, of));
        if before.is_none() {
            rows.push(listed_among_all(after.crew, job));
            let began = after.state.began_at;
            rows.push(Desk::list_under_evaporator(on, began, job.0));
        }
        Ok(rows)
    }

    /// The lines of these jobs, in this order.
    pub(super) async fn lines(&self, jobs: Vec<Uuid>) -> Result<Vec<JobLine>, DeskError> {
        let mut lines = Vec::with_capacity(jobs.len());
        for job in jobs {
            // A list and its rows change together, but a reader may fall between two of them.
            if let Some(card) = self.row::<CardRow>(job).await? {
                lines.push(self.line(JobId(job), card).await?);
            }
        }
        Ok(lines)
    }

    async fn line(&self, job: JobId, card: CardRow) -> Result<JobLine, DeskError> {
        let evaporator = self.row::<EvaporatorRow>(card.evaporator.0).await?;
        let evaporator = evaporator.ok_or(DeskError::NotFound("evaporator"))?;
        let nobody_to_review =
            card.phase == Phase::HandedIn && !self.has_reviewer(card.crew, &card.holders).await?;
        let waits_for = self.waits_for(&card).await?;
        let stands_out = match card.phase {
            Phase::HandedIn => self.row::<StandsOutRow>(job.0).await?,
            _ => None,
        };
        Ok(JobLine {
            job,
            evaporator: evaporator_label(card.evaporator, evaporator),
            flow: card.flow,
            title: card.title,
            holder: self.named(card.holder).await?,
            phase: card.phase,
            outcome: card.outcome,
            training: card.training,
            offered: card.offered,
            began: card.began,
            last: card.last,
            stands_out: stands_out.map_or(0, |row| row.findings),
            nobody_to_review,
            waits_for,
        })
    }

    /// The roles that a job waits for, as long as its holder has none of them.
    async fn waits_for(&self, card: &CardRow) -> Result<BTreeSet<Role>, DeskError> {
        if card.awaited.is_empty() {
            return Ok(BTreeSet::new());
        }
        let holder = self.row::<PersonRow>(card.holder.0).await?;
        let holder = holder.map(|row| row.roles).unwrap_or_default();
        Ok(match card.awaited.is_disjoint(&holder) {
            true => card.awaited.clone(),
            false => BTreeSet::new(),
        })
    }

    /// Whether the crew has a supervisor who did not work on the job.
    pub(super) async fn has_reviewer(
        &self,
        crew: CrewId,
        holders: &BTreeSet<PersonId>,
    ) -> Result<bool, DeskError> {
        let supervisors = self.in_role(crew, Role::Supervisor).await?;
        Ok(supervisors.iter().any(|person| !holders.contains(person)))
    }
}
