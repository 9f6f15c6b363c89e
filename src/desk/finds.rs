//! The lists by which jobs are found: by words, place, people, flow, and how far they are.
//!
//! Every key ends with the job's *place*: when it began, the latest first, and its id. A place
//! never changes, so that most of a job's keys are written once. No name of a person is in a key,
//! because names can be erased; a job is listed under the person's id.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::Desk;
use super::card::{CardRow, card_of, phase, phase_code};
use super::error::DeskError;
use super::evaporators::label as evaporator_label;
use super::floor::Work;
use super::id::{CrewId, EvaporatorId, JobId};
use super::screen::{EvaporatorLabel, Phase};
use super::tables::{EvaporatorRow, id_at_end, key as row_key, latest_first, list};
use crate::flow::name::FlowName;
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::store::{Batch, IndexChange, List};
use crate::walk::State;

/// How a job ended that was left with an owner. Who that is stays out of the lists.
pub const LEFT_WITH_AN_OWNER: &str = "Left with an owner";

/// One list of jobs of a crew.
#[derive(Clone, Copy, Debug)]
pub(super) enum Find<'a> {
    /// All of them.
    All,
    /// Those along a flow.
    Flow(&'a FlowName),
    /// Those that are so far.
    Phase(Phase),
    /// Those that ended so.
    Ended(&'a str),
    /// Those in whose hands they ever were.
    Person(PersonId),
    /// Those at a site.
    Site(&'a str),
    /// Those on an evaporator with this word.
    Word(&'a str),
    /// The one job with this number.
    Number(JobId),
    /// Those on an evaporator.
    Evaporator(EvaporatorId),
}

impl Find<'_> {
    /// The list, whose ends are places.
    pub(super) fn list(self, crew: CrewId) -> List {
        let (kind, value): (u8, Vec<u8>) = match self {
            Find::Evaporator(evaporator) => {
                return List {
                    table: list::EVAPORATOR_JOBS,
                    prefix: evaporator.0.as_bytes().to_vec(),
                };
            }
            Find::All => (1, Vec::new()),
            Find::Flow(flow) => (2, ended_by_zero(flow.as_str())),
            Find::Phase(phase) => (3, vec![phase_code(phase)]),
            Find::Ended(label) => (4, short_hash(label)),
            Find::Person(person) => (5, person.0.as_bytes().to_vec()),
            Find::Site(site) => (6, short_hash(&site.to_lowercase())),
            Find::Word(word) => (7, ended_by_zero(word)),
            Find::Number(job) => (8, job.0.as_bytes().to_vec()),
        };
        List {
            table: list::FOUND,
            prefix: row_key(&[crew.0.as_bytes(), &[kind], &value]),
        }
    }

    /// The beginning of the keys of jobs whose numbers begin with these bytes.
    pub(super) fn numbers(crew: CrewId, beginning: &[u8]) -> Vec<u8> {
        row_key(&[crew.0.as_bytes(), &[8], beginning])
    }
}

/// A text of any length is told from a longer one by its end.
fn ended_by_zero(text: &str) -> Vec<u8> {
    [text.as_bytes(), &[0]].concat()
}

fn short_hash(text: &str) -> Vec<u8> {
    let Hash(hash) = Hash::of(text.as_bytes());
    hash[..16].to_vec()
}

/// Where a job stands in every list.
pub(super) fn place(began: Timestamp, job: JobId) -> Vec<u8> {
    row_key(&[&latest_first(began), job.0.as_bytes()])
}

/// The words of a text: runs of letters and runs of digits, in small letters.
pub(super) fn words(text: &str) -> BTreeSet<String> {
    let mut words = BTreeSet::new();
    let mut word = String::new();
    let mut digits = false;
    for letter in text.chars().flat_map(char::to_lowercase) {
        let is_new = word.is_empty() || digits != letter.is_numeric();
        if !letter.is_alphanumeric() || is_new {
            words.extend(Some(std::mem::take(&mut word)).filter(|word| !word.is_empty()));
        }
        if letter.is_alphanumeric() {
            digits = letter.is_numeric();
            word.push(letter);
        }
    }
    words.extend(Some(word).filter(|word| !word.is_empty()));
    words
}

/// How a job ended, without names.
pub(super) fn ended(card: &CardRow) -> Option<&str> {
    let outcome = card.outcome.as_deref()?;
    let was_left = card.left || card.phase == Phase::LockedOut;
    Some(if was_left {
        LEFT_WITH_AN_OWNER
    } else {
        outcome
    })
}

/// Every list that a job is on, but for its evaporator's, as keys of [`list::FOUND`].
fn keys(job: JobId, card: &CardRow, of: &EvaporatorLabel) -> BTreeSet<Vec<u8>> {
    let words = evaporator_words(of);
    let mut finds = vec![
        Find::All,
        Find::Flow(&card.flow),
        Find::Phase(card.phase),
        Find::Site(&of.site),
        Find::Number(job),
    ];
    finds.extend(ended(card).map(Find::Ended));
    finds.extend(card.holders.iter().copied().map(Find::Person));
    finds.extend(words.iter().map(|word| Find::Word(word)));
    let place = place(card.began, job);
    let lists = finds.into_iter().map(|find| find.list(card.crew));
    lists
        .map(|list| [list.prefix, place.clone()].concat())
        .collect()
}

/// The words by which an evaporator and its jobs are found.
fn evaporator_words(of: &EvaporatorLabel) -> BTreeSet<String> {
    let texts = [&of.site, &of.tag, &of.hangs];
    texts.into_iter().flat_map(|text| words(text)).collect()
}

/// The changes that bring a job's places in the lists from one state of it to the next.
pub(super) fn moved(before: Option<&Work>, after: &Work, of: &EvaporatorLabel) -> Vec<IndexChange> {
    if before.is_some_and(|before| is_found_alike(&before.state, &after.state)) {
        return Vec::new();
    }
    let (before, card) = (before.map(card_of), card_of(after));
    let (job, before, after) = (after.job, before.as_ref(), &card);
    let old = before.map(|card| keys(job, card, of)).unwrap_or_default();
    let new = keys(job, after, of);
    let gone = old.difference(&new).cloned();
    let gone = gone.map(|key| IndexChange::remove(list::FOUND, key));
    let come = new.difference(&old).cloned();
    let come = come.map(|key| IndexChange::put(list::FOUND, key, []));
    let mut changes: Vec<IndexChange> = gone.chain(come).collect();
    if before.is_none_or(|before| before.title != after.title) {
        changes.push(listed_flow(after));
    }
    if before.is_none_or(|before| ended(before) != ended(after)) {
        changes.extend(listed_end(after));
    }
    changes
}

/// Whether a job is found in the same lists before and after: most inputs change none of what it
/// is found by, which are how far it is, how it ended, and in whose hands it was.
fn is_found_alike(before: &State, after: &State) -> bool {
    phase(before) == phase(after)
        && before.holders == after.holders
        && (before.is_open() || before.mode == after.mode)
}

/// Lists the flow of a job among those that the crew ever walked.
fn listed_flow(card: &CardRow) -> IndexChange {
    let key = row_key(&[card.crew.0.as_bytes(), card.flow.as_str().as_bytes()]);
    IndexChange::put(list::CREW_FLOWS, key, card.title.as_bytes())
}

/// Lists how a job ended among the crew's ends.
fn listed_end(card: &CardRow) -> Option<IndexChange> {
    let label = ended(card)?;
    let key = row_key(&[card.crew.0.as_bytes(), &short_hash(label)]);
    Some(IndexChange::put(list::CREW_ENDS, key, label.as_bytes()))
}

/// Lists a new evaporator's site and words among the crew's.
pub(super) fn listed_evaporator(crew: CrewId, of: &EvaporatorLabel) -> Vec<IndexChange> {
    let crew = crew.0.as_bytes();
    let site = row_key(&[crew, &short_hash(&of.site.to_lowercase())]);
    let words = evaporator_words(of);
    let words = words.iter().map(|word| row_key(&[crew, word.as_bytes()]));
    let words = words.map(|key| IndexChange::put(list::CREW_WORDS, key, []));
    let site = IndexChange::put(list::CREW_SITES, site, of.site.as_bytes());
    [site].into_iter().chain(words).collect()
}

impl Desk {
    /// Lists the evaporators that an older program kept.
    pub(super) async fn list_older_evaporators(&self) -> Result<(), DeskError> {
        for (key, row) in self.rows::<EvaporatorRow>(&[]).await? {
            let Some(id) = id_at_end(&key).map(EvaporatorId) else {
                continue;
            };
            let mut batch = Batch::new(self.now());
            let crew = row.crew;
            batch.index = listed_evaporator(crew, &evaporator_label(id, row));
            self.keep(batch).await?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_and_digits_are_words_of_their_own() {
        let of = |text| words(text).into_iter().collect::<Vec<_>>();
        assert_eq!(of("EV-3 · Meat cooler"), ["3", "cooler", "ev", "meat"]);
        assert_eq!(of("EV12b"), ["12", "b", "ev"]);
        assert_eq!(of("Café ÉTÉ"), ["café", "été"]);
        assert_eq!(of(" - "), [""; 0]);
    }
}
