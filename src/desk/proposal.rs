//! The row of the speed book that a finished job proposes, and what a supervisor makes of it.
//!
//! What is proposed follows from the job's own record, so nothing of it is kept twice. It is
//! compared with the crew's speed book of today: what that says already is no proposal.

use super::Desk;
use super::actor::Actor;
use super::card::phase;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use super::keep::{Hand, Kept, TRIES};
use super::screen::{Closing, Handled, Outcome, Phase, RowDecision};
use super::tables::{CrewRow, RowDecided, put};
use crate::flow::model::Role;
use crate::record::around::CrewWhat;
use crate::store::{Batch, InputKey};
use crate::trade::formula::Value;
use crate::trade::speed_book::{FinishedJob, PROPOSES, ProposedRow, SpeedBook, with_row, written};
use crate::walk::State;
use crate::walk::prompt::{Note, Tone};

/// What a screen says about a proposal, and what its viewer may do with it.
#[derive(Default)]
pub(super) struct Shown {
    pub(super) notes: Vec<Note>,
    pub(super) closing: Vec<Closing>,
}

/// Whether the job proposes a row, by its own record.
pub(super) fn proposes(state: &State) -> bool {
    let worked = state.worked.get(PROPOSES);
    let results = worked.and_then(|worked| worked.results.as_ref().ok());
    let news = results.and_then(|results| results.get("news"));
    matches!(news, Some(Value::Word(word)) if word != "same")
}

impl Desk {
    /// What the screen of a job that was handed in says about its proposal.
    pub(super) async fn shown_proposal(
        &self,
        work: &Work,
        reviewer: bool,
    ) -> Result<Shown, DeskError> {
        if !matches!(phase(&work.state), Phase::HandedIn | Phase::Accepted)
            || !proposes(&work.state)
        {
            return Ok(Shown::default());
        }
        let decided = self.row::<RowDecided>(work.job.0).await?;
        let text = match decided.map(|row| row.decision) {
            Some(RowDecision::Accept) => "Its row went into the speed book.".to_owned(),
            Some(RowDecision::Decline) => "Its row for the speed book was declined.".to_owned(),
            None => match self.proposed(work).await? {
                Some(row) => format!("Proposed for the speed book: {}", row.sentence()),
                None => return Ok(Shown::default()),
            },
        };
        let undecided = decided.is_none() && reviewer;
        let note = Note {
            tone: Tone::Plain,
            text,
        };
        Ok(Shown {
            notes: vec![note],
            closing: if undecided {
                [RowDecision::Accept, RowDecision::Decline]
                    .map(Closing::Row)
                    .to_vec()
            } else {
                Vec::new()
            },
        })
    }

    /// The row that the job proposes, if the crew's speed book does not say as much already.
    async fn proposed(&self, work: &Work) -> Result<Option<ProposedRow>, DeskError> {
        let Some(worked) = work
            .state
            .worked
            .get(PROPOSES)
            .filter(|_| proposes(&work.state))
        else {
            return Ok(None);
        };
        let line = self.evaporator_label(work.evaporator).await?.line();
        let day = work.state.began_at.strftime("%Y-%m-%d");
        let noted = format!("job of {day}, {line}, number {}", work.job);
        let (kit, speed_book) = self.revisions(work.crew).await?;
        let goods = self.goods_at(&kit, &speed_book).await?;
        let row = FinishedJob::of(&worked.inputs, noted)
            .and_then(|job| ProposedRow::from_job(&job, &goods.speed_book));
        // What was worked out once works out again; a book that changed cannot make it fail.
        Ok(row.ok().filter(|row| !row.is_known()))
    }

    /// Decides what becomes of the row that a job proposes. Whoever worked on the job decides
    /// nothing about its row, and a row is decided once: both are refusals in the outcome.
    ///
    /// # Errors
    /// When the crew has no such job, the actor is no supervisor, or the store cannot keep it.
    pub async fn decide_row(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        decision: RowDecision,
    ) -> Result<Handled, DeskError> {
        self.must_be_supervisor(actor, "decide about a row of the speed book")
            .await?;
        let work = self.work_for(actor, job).await?;
        let outcome = self.decided(key, actor, &work, decision).await?;
        if outcome == Outcome::Advanced {
            self.tell(&work);
        }
        let screen = self.screen(actor, job).await?;
        Ok(Handled { outcome, screen })
    }

    async fn decided(
        &self,
        key: InputKey,
        actor: &Actor,
        work: &Work,
        decision: RowDecision,
    ) -> Result<Outcome, DeskError> {
        let refused = |why: &str| Ok(Outcome::Refused(why.to_owned()));
        if work.state.holders.contains(&actor.person) {
            return refused("You worked on this job. Another supervisor decides about its row.");
        }
        if !matches!(phase(&work.state), Phase::HandedIn | Phase::Accepted) {
            return refused("This job is not handed in, so its row cannot be decided yet.");
        }
        let stream = work.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let expected = self.last(stream).await?;
            let now = self.now();
            let mut batch = Batch::handling(key.clone(), now);
            let before = self.row::<RowDecided>(work.job.0).await?;
            let whats = match (before, decision) {
                (Some(_), _) => Err("It is decided already what becomes of this row."),
                (None, RowDecision::Decline) => Ok(vec![CrewWhat::RowDeclined { job: work.job.0 }]),
                (None, RowDecision::Accept) => self.put_in(work, &mut batch).await?,
            };
            match whats {
                Ok(whats) => {
                    let hand = Hand::of(actor, now);
                    batch.appends.push(hand.writes(stream, expected, whats)?);
                    batch.index.push(put(work.job.0, &RowDecided { decision })?);
                    match self.keep(batch).await {
                        Err(DeskError::Busy) => {}
                        Ok(Kept::Before) => return Ok(Outcome::AlreadyHandled),
                        other => return other.map(|_| Outcome::Advanced),
                    }
                }
                // A second delivery of the same press is no second decision.
                Err(why) => {
                    return match self.keep(batch).await {
                        Ok(Kept::Before) => Ok(Outcome::AlreadyHandled),
                        Ok(Kept::Fresh) => refused(why),
                        Err(error) => Err(error),
                    };
                }
            }
        }
        Err(DeskError::Busy)
    }

    /// The speed book with the row, as entries and as a change of the crew's row.
    async fn put_in(
        &self,
        work: &Work,
        batch: &mut Batch,
    ) -> Result<Result<Vec<CrewWhat>, &'static str>, DeskError> {
        let Some(proposed) = self.proposed(work).await? else {
            return Ok(Err("The speed book says as much already."));
        };
        let mut crew = self.row::<CrewRow>(work.crew.0).await?.unwrap_or_default();
        let text = match crew.speed_book {
            Some(revision) => self.goods_text(&revision.to_string()).await?,
            None => None,
        };
        let text = text.unwrap_or_else(|| written("Speed book", "This crew", &[]));
        let with = with_row(&text, &proposed.row)
            .and_then(|text| SpeedBook::read(&text).map(|_| text))
            .map_err(|problem| DeskError::NotUnderstood(problem.to_string()))?;
        let revision = self.store().put_blob(with.into_bytes()).await?;
        crew.speed_book = Some(revision);
        batch.index.push(put(work.crew.0, &crew)?);
        Ok(Ok(vec![CrewWhat::RowAccepted {
            job: work.job.0,
            revision,
        }]))
    }
}

/// Whether a person may decide about the row of a job: a supervisor who did not work on it.
pub(super) fn may_decide(
    work: &Work,
    actor: &Actor,
    roles: &std::collections::BTreeSet<Role>,
) -> bool {
    roles.contains(&Role::Supervisor) && !work.state.holders.contains(&actor.person)
}
