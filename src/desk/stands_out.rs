//! What stands out in a job, seen with what is known from the crew's other jobs.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use tokio::sync::OwnedMutexGuard;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::floor::Work;
use super::id::{CrewId, JobId};
use super::photos_seen::photo_rows;
use super::tables::{Row, key as row_key, put};
use crate::flow::name::{FlowName, StepName};
use crate::record::entry::{Entry, What};
use crate::record::stands_out::{Finding, Known, count, step_times, usual_of};
use crate::record::stream::Seq;
use crate::report::stands_out::{findings, moments};
use crate::store::{Batch, IndexChange, Table};
use crate::walk::prompt::{Note, Tone};

/// So many times of a step are kept, the latest; what is usual may change.
const TIMES_KEPT: usize = 60;

/// So many findings stand on a screen, which must fit into one message.
const SHOWN_MAX: usize = 3;

/// How long the steps of a flow took in the crew's accepted jobs: under crew, flow.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
struct StepTimesRow {
    /// Seconds, the latest last.
    steps: BTreeMap<StepName, Vec<u32>>,
}

impl Row for StepTimesRow {
    const TABLE: Table = Table::named("step_times");
}

/// How much stood out when a job was last handed in: under the job.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct StandsOutRow {
    pub(super) findings: usize,
}

impl Row for StandsOutRow {
    const TABLE: Table = Table::named("stands_out");
}

/// What came of noting what other jobs will be seen with.
#[derive(Default)]
pub(super) struct ForOthers {
    /// How much stands out, if the job is handed in.
    pub(super) stands_out: usize,
    /// The whole record after it, if it had to be read.
    pub(super) record: Option<Arc<[Entry]>>,
}

impl Desk {
    /// What stands out in a job as it stands now.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn what_stands_out(
        &self,
        actor: &Actor,
        job: JobId,
    ) -> Result<Vec<Finding>, DeskError> {
        self.present(actor).await?;
        let work = self.work_for(actor, job).await?;
        let entries = self.entries_up_to(&work).await?;
        self.findings_of(&work, &entries).await
    }

    /// What the screen of a job that was handed in says about it to a reviewer.
    pub(super) async fn shown_findings(&self, work: &Work) -> Result<Vec<Note>, DeskError> {
        let entries = self.entries_up_to(work).await?;
        let findings = self.findings_of(work, &entries).await?;
        let Some(count) = count(findings.len()) else {
            return Ok(Vec::new());
        };
        let more = findings.len().saturating_sub(SHOWN_MAX);
        let count = match more {
            0 => count,
            _ => format!("{count} Here are {SHOWN_MAX}; all of them stand on the checklist."),
        };
        let shown = findings.into_iter().take(SHOWN_MAX);
        let texts = [count]
            .into_iter()
            .chain(shown.map(|finding| finding.sentence));
        let note = |text| Note {
            tone: Tone::Plain,
            text,
        };
        Ok(texts.map(note).collect())
    }

    /// What stands out in a job with these entries.
    pub(super) async fn findings_of(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Vec<Finding>, DeskError> {
        let known = self.known_besides(work, entries).await?;
        Ok(findings(&work.edition, entries, &known))
    }

    /// What is known from the crew's other jobs.
    pub(super) async fn known_besides(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Known, DeskError> {
        let mut usual = BTreeMap::new();
        for flow in flows(work, entries) {
            let row = self.row::<StepTimesRow>(times_key(work.crew, flow)).await?;
            usual.extend(usual_of(flow, &row.unwrap_or_default().steps));
        }
        Ok(Known {
            usual,
            seen: self.seen_before(work.crew, work.job, entries).await?,
        })
    }

    /// The entries of a job up to where it is folded.
    pub(super) async fn entries_up_to(&self, work: &Work) -> Result<Vec<Entry>, DeskError> {
        if let Some(record) = &work.record {
            return Ok(record.to_vec());
        }
        let mut entries = self.entries(work.job, Seq::FIRST).await?;
        entries.truncate(usize::try_from(work.seq().0).unwrap_or(usize::MAX));
        Ok(entries)
    }

    /// Waits for the turn to change what is known of the whole crew, if these entries do.
    pub(super) async fn crew_turn(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Option<OwnedMutexGuard<()>> {
        if entries.iter().any(changes_crew) {
            Some(self.inner.queues.turn(work.crew.stream()).await)
        } else {
            None
        }
    }

    /// Notes what other jobs will be seen with.
    pub(super) async fn note_for_others(
        &self,
        batch: &mut Batch,
        (before, after): (&Work, &Work),
        entries: &[Entry],
    ) -> Result<ForOthers, DeskError> {
        let mut noted = ForOthers::default();
        if after.state.pins.training {
            return Ok(noted);
        }
        batch
            .index
            .extend(photo_rows(after.crew, after.job, entries)?);
        if !entries.iter().any(changes_crew) {
            return Ok(noted);
        }
        let mut all = self.entries_up_to(before).await?;
        all.extend_from_slice(entries);
        batch.index.extend(self.counted(after, &all).await?);
        if entries
            .iter()
            .any(|entry| matches!(entry.what, What::Accepted { .. }))
        {
            batch.index.extend(self.learned(after, &all).await?);
        }
        if entries.iter().any(|entry| entry.what == What::HandedIn) {
            let findings = self.findings_of(after, &all).await?.len();
            batch
                .index
                .push(put(after.job.0, &StandsOutRow { findings })?);
            noted.stands_out = findings;
        }
        noted.record = Some(all.into());
        Ok(noted)
    }

    /// What an accepted job teaches about how long steps take.
    pub(super) async fn learned(
        &self,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Vec<IndexChange>, DeskError> {
        let mut flows: BTreeMap<FlowName, StepTimesRow> = BTreeMap::new();
        for (flow, step, seconds) in step_times(&moments(&work.edition, entries)) {
            if !flows.contains_key(&flow) {
                let row = self
                    .row::<StepTimesRow>(times_key(work.crew, &flow))
                    .await?;
                flows.insert(flow.clone(), row.unwrap_or_default());
            }
            if let Some(row) = flows.get_mut(&flow) {
                let times = row.steps.entry(step).or_default();
                times.push(seconds);
                let over = times.len().saturating_sub(TIMES_KEPT);
                times.drain(..over);
            }
        }
        let change = |(flow, row): (FlowName, StepTimesRow)| put(times_key(work.crew, &flow), &row);
        flows.into_iter().map(change).collect()
    }
}

fn times_key(crew: CrewId, flow: &FlowName) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), flow.as_str().as_bytes()])
}

/// Whether this changes what is known of the whole crew.
fn changes_crew(entry: &Entry) -> bool {
    matches!(
        entry.what,
        What::Finished { .. }
            | What::LeftLockedOut { .. }
            | What::HandedIn
            | What::SentBack { .. }
            | What::Accepted { .. }
    )
}

/// Every flow that a job walked.
fn flows<'a>(work: &'a Work, entries: &'a [Entry]) -> BTreeSet<&'a FlowName> {
    let entered = entries.iter().filter_map(|entry| match &entry.what {
        What::Entered { flow, .. } => Some(flow),
        _ => None,
    });
    entered.chain([&work.state.pins.flow]).collect()
}
