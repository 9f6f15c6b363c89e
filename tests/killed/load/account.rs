//! What somebody was told is kept, and what they did at all.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use fanwright::desk::id::JobId;
use fanwright::record::person::PersonId;
use fanwright::store::InputKey;
use tokio::sync::watch;

/// One person's account.
#[derive(Debug)]
pub(super) struct Account {
    pub(super) name: String,
    pub(super) person: PersonId,
    /// Updates that the bot was given and did not confirm yet.
    pub(super) unconfirmed: BTreeMap<u32, InputKey>,
    /// Inputs that were acknowledged: confirmed by the bot, or answered by the page.
    pub(super) acknowledged: BTreeSet<InputKey>,
    /// Every text that was typed.
    pub(super) typed: BTreeSet<String>,
    /// Those that a page said were kept.
    pub(super) seen_kept: BTreeSet<String>,
    /// The newest revision of each job that was shown.
    pub(super) shown: BTreeMap<JobId, u64>,
    /// How often a button that begins a job was pressed.
    pub(super) begins: usize,
    /// Answers that were given to steps.
    pub(super) answers: usize,
}

impl Account {
    /// A job was shown at this revision.
    pub(super) fn sees(&mut self, job: JobId, revision: u64) {
        let newest = self.shown.entry(job).or_default();
        *newest = revision.max(*newest);
    }
}

/// The account, shared by the person and whoever compares it with the record.
#[derive(Clone)]
pub(super) struct Shared {
    account: Arc<Mutex<Account>>,
    /// Counts the acknowledgements of everybody.
    count: watch::Sender<u64>,
}

impl Shared {
    pub(super) fn of(name: &str, person: PersonId, count: &watch::Sender<u64>) -> Shared {
        let account = Account {
            name: name.to_owned(),
            person,
            unconfirmed: BTreeMap::new(),
            acknowledged: BTreeSet::new(),
            typed: BTreeSet::new(),
            seen_kept: BTreeSet::new(),
            shown: BTreeMap::new(),
            begins: 0,
            answers: 0,
        };
        Shared {
            account: Arc::new(Mutex::new(account)),
            count: count.clone(),
        }
    }

    pub(super) fn lock(&self) -> MutexGuard<'_, Account> {
        self.account.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Something was acknowledged.
    pub(super) fn counts(&self) {
        self.count.send_modify(|count| *count += 1);
    }
}
