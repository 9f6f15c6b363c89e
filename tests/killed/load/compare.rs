//! Compares the record that a kill left with everybody's account.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use fanwright::desk::id::JobId;
use fanwright::record::chain::verify_chain;
use fanwright::record::entry::{Answer, Entry, What};
use fanwright::record::person::PersonId;
use fanwright::record::stream::{Seq, StreamKind};
use fanwright::store::Store;
use fanwright::walk::State;
use jiff::Timestamp;

use super::account::Shared;
use super::site::{opened, steps};

/// What was found.
#[derive(Clone, Debug, Default)]
pub(super) struct Found {
    /// Acknowledged inputs that were looked for, and screens shown.
    pub(super) acknowledged: usize,
    /// Those whose effect is missing, a sentence each.
    pub(super) lost: Vec<String>,
    /// Effects that are there twice, a sentence each.
    pub(super) doubled: Vec<String>,
    /// Entries of jobs in the record.
    pub(super) entries: usize,
    /// The jobs.
    pub(super) jobs: Vec<JobId>,
}

/// A job as the record has it.
struct Job {
    holder: PersonId,
    revision: u64,
    steps: Vec<String>,
    words: Vec<String>,
}

impl Job {
    fn of(entries: &[Entry]) -> Job {
        let state = State::fold(entries).unwrap();
        let answers = entries.iter().filter_map(|entry| match &entry.what {
            What::Answered { step, answer, .. } => Some((step.to_string(), answer)),
            _ => None,
        });
        let answers: Vec<_> = answers.collect();
        let words = answers.iter().filter_map(|(_, answer)| match answer {
            Answer::Text { text } => Some(text.clone()),
            _ => None,
        });
        Job {
            holder: state.holder,
            revision: state.revision,
            words: words.collect(),
            steps: answers.into_iter().map(|(step, _)| step).collect(),
        }
    }
}

/// Looks at a copy of the folder.
pub(super) async fn compare(copy: &Path, accounts: &[Shared]) -> Found {
    let store = opened(copy);
    let mut found = Found::default();
    let jobs = jobs(store.as_ref(), &mut found).await;
    for account in accounts {
        inputs(store.as_ref(), account, &mut found).await;
        let account = account.lock();
        for (job, revision) in &account.shown {
            found.acknowledged += 1;
            let there = jobs.get(job).map(|job| job.revision);
            if there.is_none_or(|there| there < *revision) {
                let line = format!("job {job} was shown at {revision}, now {there:?}");
                found.lost.push(format!("{}: {line}", account.name));
            }
        }
        let own = jobs.values().filter(|job| job.holder == account.person);
        let own: Vec<_> = own.collect();
        let kept: Vec<&String> = own.iter().flat_map(|job| &job.words).collect();
        let once: BTreeSet<&String> = kept.iter().copied().collect();
        let twice = kept.len() - once.len();
        let foreign = once.iter().filter(|text| !account.typed.contains(**text));
        let more_jobs = own.len().saturating_sub(1 + account.begins);
        let answered: usize = own.iter().map(|job| job.steps.len()).sum();
        let more_answers = answered.saturating_sub(account.answers);
        for (count, what) in [
            (twice, "words kept twice"),
            (foreign.count(), "words that nobody typed"),
            (more_jobs, "jobs that nobody began"),
            (more_answers, "answers that nobody gave"),
        ] {
            if count > 0 {
                found
                    .doubled
                    .push(format!("{}: {count} {what}", account.name));
            }
        }
        let missing = account.seen_kept.iter().filter(|text| !once.contains(text));
        let missing = missing.map(|text| format!("{}: “{text}” is gone", account.name));
        found.lost.extend(missing);
        found.acknowledged += account.seen_kept.len();
    }
    store.close().await.unwrap();
    found
}

/// Reads every job; its chain is whole, and each step was answered once, in order.
async fn jobs(store: &dyn Store, found: &mut Found) -> BTreeMap<JobId, Job> {
    let mut jobs = BTreeMap::new();
    let all = store.streams(StreamKind::Job, None, usize::MAX).await;
    for (stream, head) in all.unwrap().items {
        let stored = store.read(stream, Seq::FIRST, usize::MAX).await.unwrap();
        assert_eq!(verify_chain(stream, &stored).unwrap(), head);
        let read = |bytes: &Vec<u8>| serde_json::from_slice(bytes).unwrap();
        let entries: Vec<Entry> = stored.iter().map(|stored| read(&stored.bytes)).collect();
        let job = Job::of(&entries);
        let id = JobId(stream.id);
        found.entries += entries.len();
        if !steps().starts_with(&job.steps) {
            let line = format!("job {id} was answered so: {:?}", job.steps);
            found.doubled.push(line);
        }
        found.jobs.push(id);
        jobs.insert(id, job);
    }
    jobs
}

/// Every input that was acknowledged is known as handled.
async fn inputs(store: &dyn Store, account: &Shared, found: &mut Found) {
    let (name, keys) = {
        let account = account.lock();
        (account.name.clone(), account.acknowledged.clone())
    };
    found.acknowledged += keys.len();
    for key in keys {
        let handled = store.handled(key.clone(), Timestamp::now()).await;
        if !handled.unwrap() {
            found
                .lost
                .push(format!("{name}: the input {key} is not known"));
        }
    }
}
