//! The checklist of a job, with names.

use std::collections::BTreeMap;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use crate::record::entry::{Answer, Entry, What};
use crate::record::person::PersonId;
use crate::record::stream::Seq;
use crate::report::checklist::{Around, Checklist};

impl Desk {
    /// The checklist of a job as it stands now.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn checklist(&self, actor: &Actor, job: JobId) -> Result<Checklist, DeskError> {
        let screen = self.screen(actor, job).await?;
        // The head is read first: what is added after it is not shown.
        let head = self.store().head(job.stream()).await?;
        let mut entries = self.entries(job, Seq::FIRST).await?;
        entries.truncate(usize::try_from(head.seq.0).unwrap_or(usize::MAX));
        let Some(What::Begun { pins, .. }) = entries.first().map(|entry| &entry.what) else {
            return Err(DeskError::NotFound("job"));
        };
        let edition = self.edition(&pins.flow, &pins.edition).await?;
        let mut names = BTreeMap::new();
        for person in people(&entries) {
            names.insert(person, self.name_of(person).await?);
        }
        let around = Around {
            job: job.to_string(),
            evaporator: screen.evaporator.line(),
            status: screen.phase.words().to_owned(),
            names: &names,
            head,
        };
        Checklist::of(&edition, &entries, &around).ok_or(DeskError::NotFound("job"))
    }
}

/// Everybody whom the entries name.
fn people(entries: &[Entry]) -> Vec<PersonId> {
    let named = |entry: &Entry| match &entry.what {
        What::Begun { holder, .. } => Some(*holder),
        What::HandoverOffered { to } => *to,
        What::LockTakenOff { owner, .. } => Some(*owner),
        What::Answered { beside, .. } => *beside,
        _ => None,
    };
    entries
        .iter()
        .flat_map(|entry| entry.who.into_iter().chain(named(entry)))
        .collect()
}

/// Whether an entry shows the photo stored under this hash.
pub(super) fn shows(entry: &Entry, stored: &str) -> bool {
    match &entry.what {
        What::Answered {
            answer: Answer::Photo { photo },
            ..
        }
        | What::ProofPart {
            answer: Answer::Photo { photo },
            ..
        } => photo.stored == stored,
        _ => false,
    }
}
