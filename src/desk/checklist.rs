//! The checklist of a job, with names, and the file that its record is written out to.

use std::collections::BTreeMap;

use super::Desk;
use super::actor::Actor;
use super::card::phase;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use super::tables::read;
use crate::record::around::LookedAt;
use crate::record::chain::{Hash, Head, Stored};
use crate::record::entry::{Answer, Entry, PhotoRef, SignOff, What};
use crate::record::export::{Export, Photo};
use crate::record::person::PersonId;
use crate::record::stands_out::Known;
use crate::record::stream::Seq;
use crate::report::checklist::{Around, Checklist};

/// A job's record as it stands, with everything that is needed to show it.
pub(super) struct Record {
    pub(super) work: Work,
    stored: Vec<Stored>,
    pub(super) entries: Vec<Entry>,
    /// The names of the people in it; none where a name was erased.
    names: BTreeMap<PersonId, Option<String>>,
}

impl Desk {
    /// The checklist of a job as it stands now.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn checklist(&self, actor: &Actor, job: JobId) -> Result<Checklist, DeskError> {
        let record = self.record_for(actor, job).await?;
        self.checklist_of(&record).await
    }

    /// The checklist of any job of this server; for its operator.
    ///
    /// # Errors
    /// When there is no such job.
    pub async fn checklist_as_operator(&self, job: JobId) -> Result<Checklist, DeskError> {
        self.checklist_of(&self.record_as_operator(job).await?)
            .await
    }

    /// A job's record as one sealed file, with the photos in it if they are wanted.
    ///
    /// # Errors
    /// When the crew has no such job, or a photo cannot be read.
    pub async fn record_file(
        &self,
        actor: &Actor,
        job: JobId,
        photos: bool,
    ) -> Result<String, DeskError> {
        let record = self.record_for(actor, job).await?;
        self.file_of(&record, photos).await
    }

    /// The sealed file of any job of this server; for its operator.
    ///
    /// # Errors
    /// When there is no such job, or a photo cannot be read.
    pub async fn record_file_as_operator(
        &self,
        job: JobId,
        photos: bool,
    ) -> Result<String, DeskError> {
        let record = self.record_as_operator(job).await?;
        self.file_of(&record, photos).await
    }

    /// A job's record, for somebody of its crew.
    pub(super) async fn record_for(&self, actor: &Actor, job: JobId) -> Result<Record, DeskError> {
        self.present(actor).await?;
        let record = self.record(job).await?;
        if record.work.crew != actor.crew {
            return Err(DeskError::NotFound("job"));
        }
        self.note_look(actor, LookedAt::Record { job: job.0 })
            .await?;
        Ok(record)
    }

    /// Any job's record, for the operator.
    pub(super) async fn record_as_operator(&self, job: JobId) -> Result<Record, DeskError> {
        let record = self.record(job).await?;
        self.note_operators_look(record.work.crew, LookedAt::Record { job: job.0 })
            .await?;
        Ok(record)
    }

    pub(super) async fn record(&self, job: JobId) -> Result<Record, DeskError> {
        let work = self.work_at_hand(job).await?;
        let mut stored = self.stored(job, Seq::FIRST).await?;
        // What was added since is not shown.
        stored.retain(|entry| entry.seq <= work.seq());
        let read = |stored: &Stored| read(&stored.bytes);
        let entries: Vec<Entry> = stored.iter().map(read).collect::<Result<_, _>>()?;
        let mut names = BTreeMap::new();
        for person in people(&entries) {
            names.insert(person, self.store().name(person.0).await?);
        }
        Ok(Record {
            work,
            stored,
            entries,
            names,
        })
    }

    pub(super) async fn checklist_of(&self, record: &Record) -> Result<Checklist, DeskError> {
        let Record { work, entries, .. } = record;
        let names = self.shown_names(record).await?;
        let known = self.known_besides(work, entries).await?;
        let around = self.around(record, &names, &known).await?;
        Checklist::of(&work.edition, entries, &around).ok_or(DeskError::NotFound("job"))
    }

    /// The names to show for everybody in a record.
    pub(super) async fn shown_names(
        &self,
        record: &Record,
    ) -> Result<BTreeMap<PersonId, String>, DeskError> {
        let mut names = BTreeMap::new();
        for person in record.names.keys() {
            names.insert(*person, self.name_of(*person).await?);
        }
        Ok(names)
    }

    /// What a record does not say by itself.
    pub(super) async fn around<'n>(
        &self,
        record: &Record,
        names: &'n BTreeMap<PersonId, String>,
        known: &'n Known,
    ) -> Result<Around<'n>, DeskError> {
        let work = &record.work;
        Ok(Around {
            job: work.job.to_string(),
            evaporator: self.evaporator_label(work.evaporator).await?.line(),
            status: phase(&work.state).words().to_owned(),
            names,
            head: record.stored.last().map_or(Head::NONE, Stored::head),
            known,
        })
    }

    async fn file_of(&self, record: &Record, photos: bool) -> Result<String, DeskError> {
        let cannot = |error: serde_json::Error| {
            DeskError::Fault(format!("A record could not be written out: {error}"))
        };
        let checklist = self.checklist_of(record).await?;
        let key = self.key_in_use().await?;
        let known = self.seal_keys().await?;
        let mut shown = photos_of(record);
        for photo in shown.iter_mut().filter(|_| photos) {
            photo.bytes = self.store().get_blob(photo.stored).await?;
        }
        let export = Export {
            job: record.work.job.stream(),
            checklist: serde_json::to_string(&checklist).map_err(cannot)?,
            entries: &record.stored,
            people: record.names.clone().into_iter().collect(),
            photos: shown,
            keys: known.iter().map(|known| (known.key, known.since)).collect(),
            at: self.now(),
        };
        export.write(&key).map_err(cannot)
    }
}

/// The photos of a record, each where it first came.
pub(super) fn photos_of(record: &Record) -> Vec<Photo> {
    let mut photos: Vec<Photo> = Vec::new();
    for (stored, entry) in record.stored.iter().zip(&record.entries) {
        let hash = photo(entry).and_then(|photo| photo.stored.parse::<Hash>().ok());
        if let Some(hash) = hash.filter(|hash| photos.iter().all(|photo| photo.stored != *hash)) {
            photos.push(Photo {
                stored: hash,
                entry: stored.seq,
                bytes: None,
            });
        }
    }
    photos
}

/// Everybody whom the entries name.
fn people(entries: &[Entry]) -> Vec<PersonId> {
    let named = |entry: &Entry| -> Vec<PersonId> {
        match &entry.what {
            What::Begun { holder, .. } => vec![*holder],
            What::HandoverOffered { to } => to.iter().copied().collect(),
            What::LockTakenOff { owner, .. } => vec![*owner],
            What::Answered { beside, .. } => beside.iter().copied().collect(),
            What::StoodOn { sign_offs, .. } => {
                let both = |it: &SignOff| [it.person, it.by];
                sign_offs.iter().flat_map(both).collect()
            }
            _ => Vec::new(),
        }
    };
    entries
        .iter()
        .flat_map(|entry| entry.who.into_iter().chain(named(entry)))
        .collect()
}

/// The photo that an entry brought.
pub(super) fn photo(entry: &Entry) -> Option<&PhotoRef> {
    match &entry.what {
        What::Answered {
            answer: Answer::Photo { photo },
            ..
        }
        | What::ProofPart {
            answer: Answer::Photo { photo },
            ..
        } => Some(photo),
        _ => None,
    }
}

/// Whether an entry shows the photo stored under this hash.
pub(super) fn shows(entry: &Entry, stored: &str) -> bool {
    photo(entry).is_some_and(|photo| photo.stored == stored)
}
