//! What happened on an evaporator before, for a job that begins there: told on its first screen,
//! and its nameplate offered again where a flow asks for it.

use std::collections::BTreeMap;

use super::Desk;
use super::card::CardRow;
use super::error::DeskError;
use super::floor::Work;
use super::id::{EvaporatorId, JobId};
use super::noted::{Remembered, StaysKnown};
use super::screen::Phase;
use super::tables::{id_at_end, list};
use crate::flow::edition::Edition;
use crate::flow::model::Stays;
use crate::flow::name::{FactName, FlowName};
use crate::record::answer::Answer;
use crate::record::before::Before;
use crate::report::checklist::gist;
use crate::walk::prompt::{Note, Tone};

/// So many jobs on an evaporator are looked back through; what is older is told on its page.
const LOOKED_BACK: usize = 16;

/// So many accepted jobs lend what they recorded of the nameplate.
const LENDING: usize = 4;

impl Desk {
    /// What happened there last, in at most three lines, while no step of a job is answered yet.
    pub(super) async fn last_time(&self, work: &Work) -> Result<Vec<Note>, DeskError> {
        if !work.state.trail.is_empty() || !work.state.is_open() {
            return Ok(Vec::new());
        }
        let earlier = self.earlier_jobs(work.evaporator).await?;
        let before =
            |(job, card): &(JobId, CardRow)| *job != work.job && card.began <= work.state.began_at;
        let Some((job, card)) = earlier.into_iter().find(before) else {
            return Ok(Vec::new());
        };
        let clocks = self.crew_clocks(work.crew).await?;
        let day = |at: jiff::Timestamp| {
            let at = at.to_zoned_datetime(clocks.clone());
            at.strftime("%Y-%m-%d").to_string()
        };
        let end = card.outcome.as_deref().unwrap_or(card.phase.words());
        let last = self.work_if_whole(job).await?;
        let found = last.and_then(|last| gist(&last.edition, &last.state));
        let found = found.map(|told| format!(" {}: {}.", told.what, told.said));
        let mut lines = vec![format!(
            "Last time here, by record: {}, {}: {end}.{}",
            day(card.began),
            card.title,
            found.unwrap_or_default()
        )];
        let told = |known: &StaysKnown| format!("{}: {}", known.label, known.words);
        let setting = self
            .what_stays(work.evaporator, Remembered::Setting)
            .await?;
        if let Some(latest) = setting.iter().map(|known| known.at).max() {
            let told: Vec<String> = setting.iter().map(told).collect();
            lines.push(format!(
                "Last recorded setting, of {}: {}.",
                day(latest),
                told.join("; ")
            ));
        }
        let again = self
            .what_stays(work.evaporator, Remembered::LookAgain)
            .await?;
        let again: Vec<&StaysKnown> = again.iter().filter(|known| known.job == job).collect();
        if let Some(said) = again.iter().map(|known| known.at).max() {
            let told: Vec<String> = again.into_iter().map(told).collect();
            lines.push(format!(
                "It was to be looked at again, as was said on {}: {}.",
                day(said),
                told.join("; ")
            ));
        }
        let tone = Tone::Plain;
        Ok(lines.into_iter().map(|text| Note { tone, text }).collect())
    }

    /// What accepted jobs recorded of an evaporator's nameplate, as far as flows of this edition
    /// ask for it; of each fact the latest.
    pub(super) async fn known_before(
        &self,
        evaporator: EvaporatorId,
        edition: &Edition,
    ) -> Result<Vec<Before>, DeskError> {
        let mut known: BTreeMap<(FlowName, FactName), Before> = BTreeMap::new();
        let earlier = self.earlier_jobs(evaporator).await?;
        let accepted = earlier.into_iter();
        let accepted = accepted.filter(|(_, card)| card.phase == Phase::Accepted);
        for (job, _) in accepted.take(LENDING) {
            let Some(work) = self.work_if_whole(job).await? else {
                continue;
            };
            for ((flow, _), room) in &work.state.rooms {
                for (fact, value) in room.facts.iter().filter(|(_, known)| known.confirmed) {
                    let asks = edition.flow(flow).and_then(|flow| flow.facts.get(fact));
                    let stays = asks.is_some_and(|fact| fact.stays == Some(Stays::Nameplate));
                    let Some(answer) = value.answer.clone().filter(|_| stays) else {
                        continue;
                    };
                    let place = (flow.clone(), fact.clone());
                    let later = known.get(&place).is_some_and(|known| known.at >= value.at);
                    if later || matches!(answer, Answer::Photo { .. } | Answer::Done) {
                        continue;
                    }
                    let before = Before {
                        flow: flow.clone(),
                        fact: fact.clone(),
                        answer,
                        at: value.at,
                        job: job.to_string(),
                    };
                    known.insert(place, before);
                }
            }
        }
        Ok(known.into_values().collect())
    }

    /// The last jobs on an evaporator, the latest begun first, without training walks.
    async fn earlier_jobs(
        &self,
        evaporator: EvaporatorId,
    ) -> Result<Vec<(JobId, CardRow)>, DeskError> {
        let prefix = evaporator.0.as_bytes().to_vec();
        let scan = self
            .store()
            .scan(list::EVAPORATOR_JOBS, prefix, None, LOOKED_BACK);
        let mut jobs = Vec::new();
        for id in scan
            .await?
            .items
            .iter()
            .filter_map(|row| id_at_end(&row.key))
        {
            let card = self.row::<CardRow>(id).await?;
            jobs.extend(
                card.filter(|card| !card.training)
                    .map(|card| (JobId(id), card)),
            );
        }
        Ok(jobs)
    }
}
