//! Flows in the making: what a supervisor is changing, and publishing it for the crew.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::keep::{Hand, TRIES};
use super::screen::Named;
use super::tables::{CrewRow, DraftRow, put, read, remove, written};
use crate::check::{self, Finding, Grade};
use crate::flow::library::{Library, Sources};
use crate::record::around::{CrewWhat, FlowOrigin, Happening};
use crate::record::chain::Hash;
use crate::record::stream::Seq;
use crate::store::{Batch, InputKey};

/// The most bytes of a flow file.
pub const FILE_BYTES_MAX: usize = 256 * 1024;
/// The most files of a crew.
const FILES_MAX: usize = 200;
/// The most characters of a note.
const NOTE_CHARACTERS_MAX: usize = 1_000;
/// How many entries are read at once.
const ENTRIES_AT_ONCE: usize = 256;

/// The crew's flows as one supervisor is changing them.
#[derive(Clone, Debug)]
pub struct Draft {
    /// What the crew's new jobs walk.
    pub published: Library,
    /// Names that publication: to be given back when the draft is published.
    pub base: Option<Hash>,
    /// The files with the changes in them.
    pub sources: Sources,
    /// The names of the changed files.
    pub changed: Vec<String>,
}

/// One publication of the crew's own flows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Publication {
    /// When.
    pub at: Timestamp,
    /// Who; nobody for the server.
    pub who: Option<Named>,
    /// What they wrote about it.
    pub note: String,
    /// The files that were changed.
    pub changed: Vec<String>,
    /// The edition of another crew that they were taken over from.
    pub from_edition: Option<String>,
}

/// What is to be published.
struct ToPublish<'a> {
    sources: Sources,
    changed: Vec<String>,
    note: &'a str,
    origin: Option<FlowOrigin>,
}

/// Why flows were not published.
#[derive(Debug, thiserror::Error)]
pub enum NotPublished {
    /// The checker found this in them.
    #[error("These flows have errors and cannot be published. Mend what was found.")]
    Found(Vec<Finding>),
    /// Another publication stands there.
    #[error("Somebody else published meanwhile. Read the flows again, then publish.")]
    HasChanged,
    /// Something else.
    #[error(transparent)]
    Desk(#[from] DeskError),
}

impl Desk {
    /// The crew's flows with the actor's own changes in them.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the store cannot be read.
    pub async fn draft(&self, actor: &Actor) -> Result<Draft, DeskError> {
        self.must_be_supervisor(actor, "change the crew's flows")
            .await?;
        let base = self.row::<CrewRow>(actor.crew.0).await?;
        let published = self.published(actor.crew).await?.library.clone();
        let mut sources = published.sources().clone();
        let row = self.draft_row(actor).await?;
        let mut changed = Vec::new();
        for (file, hash) in row.files {
            let blob = self.store().get_blob(hash).await?;
            let text = blob.and_then(|blob| String::from_utf8(blob).ok());
            let gone = || DeskError::Fault(format!("The draft {hash} of {file} is gone."));
            let text = text.ok_or_else(gone)?;
            if sources.files.get(&file) != Some(&text) {
                sources.files.insert(file.clone(), text);
                changed.push(file);
            }
        }
        Ok(Draft {
            published,
            base: base.and_then(|row| row.flows),
            sources,
            changed,
        })
    }

    /// Keeps a changed file of the actor's draft. It may still have faults.
    ///
    /// # Errors
    /// When the actor is no supervisor, the file's name is none of a flow, or it is too large.
    pub async fn keep_draft(&self, actor: &Actor, file: &str, text: &str) -> Result<(), DeskError> {
        // A draft is taken away whole when it is published.
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        let draft = self.draft(actor).await?;
        fits(&draft, file, text)?;
        let hash = self.store().put_blob(text.as_bytes().to_vec()).await?;
        let mut row = self.draft_row(actor).await?;
        row.files.insert(file.to_owned(), hash);
        // Without the key of an input: keeping a draft twice is keeping it once.
        let mut batch = Batch::new(self.now());
        batch.index.push(put(actor.person.0, &row)?);
        self.keep(batch).await.map(drop)
    }

    /// Forgets the actor's changes to one file, or to all.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn drop_draft(&self, actor: &Actor, file: Option<&str>) -> Result<(), DeskError> {
        self.must_be_supervisor(actor, "change the crew's flows")
            .await?;
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        let mut row = self.draft_row(actor).await?;
        match file {
            Some(file) => drop(row.files.remove(file)),
            None => row.files.clear(),
        }
        // Without the key of an input: keeping a draft twice is keeping it once.
        let mut batch = Batch::new(self.now());
        batch.index.push(put(actor.person.0, &row)?);
        self.keep(batch).await.map(drop)
    }

    /// Publishes the actor's draft: from then on the crew's new jobs walk it. Jobs under way stay
    /// on the edition that they began with. `seen` is the base that the actor looked at.
    ///
    /// # Errors
    /// When the actor is no supervisor, nothing is changed, the flows have faults, or somebody
    /// else published meanwhile.
    pub async fn publish_draft(
        &self,
        key: InputKey,
        actor: &Actor,
        seen: Option<Hash>,
        note: &str,
    ) -> Result<(), DeskError> {
        let note = note_of(note)?;
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            let expected = self.last(actor.crew.stream()).await?;
            let draft = self.draft(actor).await?;
            if self.was_handled(&key).await? {
                return Ok(());
            }
            if draft.base != seen {
                return Err(not_understood(
                    "Somebody else published meanwhile. Look at the differences again, then \
                     publish.",
                ));
            }
            if draft.changed.is_empty() {
                return Err(not_understood(
                    "Nothing is changed. Change a flow first, then publish it.",
                ));
            }
            without_errors(draft.sources.clone()).await?;
            let publication = ToPublish {
                sources: draft.sources,
                changed: draft.changed,
                note: &note,
                origin: None,
            };
            let mut batch = self.publication(&key, actor, expected, publication).await?;
            batch.index.push(remove::<DraftRow>(actor.person.0));
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// What publishing flows leaves behind.
    async fn publication(
        &self,
        key: &InputKey,
        actor: &Actor,
        expected: Seq,
        publish: ToPublish<'_>,
    ) -> Result<Batch, DeskError> {
        let sources = written(&publish.sources)?;
        let sources = self.store().put_blob(sources).await?;
        let mut row = self.row::<CrewRow>(actor.crew.0).await?.unwrap_or_default();
        row.flows = Some(sources);
        let what = CrewWhat::FlowsPublished {
            sources,
            changed: publish.changed,
            note: publish.note.to_owned(),
            origin: publish.origin,
        };
        let now = self.now();
        let mut batch = Batch::handling(key.clone(), now);
        let stream = actor.crew.stream();
        batch
            .appends
            .push(Hand::of(actor, now).writes(stream, expected, vec![what])?);
        batch.index.push(put(actor.crew.0, &row)?);
        Ok(batch)
    }

    /// The names and texts of the flow files that the crew's new jobs walk, and what names that
    /// publication; nothing does while the crew walks the shipped ones.
    ///
    /// # Errors
    /// When the crew's own flows cannot be read.
    pub async fn flow_files(&self, actor: &Actor) -> Result<(Option<Hash>, Library), DeskError> {
        self.present(actor).await?;
        let row = self.row::<CrewRow>(actor.crew.0).await?.unwrap_or_default();
        let published = self.published(actor.crew).await?;
        Ok((row.flows, published.library.clone()))
    }

    /// Publishes flow files in place of those of the same name, or beside the others, without a
    /// draft. `seen` names the publication that they were made from.
    ///
    /// # Errors
    /// When the actor is no supervisor, a file is none of a flow, nothing is changed, the flows
    /// have errors, or another publication stands there.
    pub async fn publish_flows(
        &self,
        key: InputKey,
        actor: &Actor,
        seen: Option<Hash>,
        (files, note): (&BTreeMap<String, String>, &str),
    ) -> Result<(), NotPublished> {
        self.publish_files(key, actor, seen, (files, note, None))
            .await
    }

    /// The same for files that may be another crew's.
    pub(super) async fn publish_files(
        &self,
        key: InputKey,
        actor: &Actor,
        seen: Option<Hash>,
        (files, note, origin): (&BTreeMap<String, String>, &str, Option<FlowOrigin>),
    ) -> Result<(), NotPublished> {
        let note = note_of(note)?;
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            let expected = self
                .last(actor.crew.stream())
                .await
                .map_err(NotPublished::Desk)?;
            self.must_be_supervisor(actor, "publish flows").await?;
            let (base, published) = self.flow_files(actor).await?;
            if base != seen {
                let before = self.store().handled(key.clone(), self.now()).await;
                return match before.map_err(DeskError::from)? {
                    true => Ok(()),
                    false => Err(NotPublished::HasChanged),
                };
            }
            let mut draft = Draft {
                sources: published.sources().clone(),
                published,
                base,
                changed: Vec::new(),
            };
            for (file, text) in files {
                fits(&draft, file, text)?;
                if draft.sources.files.get(file) != Some(text) {
                    draft.sources.files.insert(file.clone(), text.clone());
                    draft.changed.push(file.clone());
                }
            }
            if draft.changed.is_empty() {
                return Err(not_understood("Nothing is changed. Send a changed flow.").into());
            }
            let found = findings(draft.sources.clone()).await?;
            if check::has_errors(&found) {
                return Err(NotPublished::Found(found));
            }
            let publication = ToPublish {
                sources: draft.sources,
                changed: draft.changed,
                note: &note,
                origin: origin.clone(),
            };
            let batch = self.publication(&key, actor, expected, publication).await?;
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop).map_err(NotPublished::Desk),
            }
        }
        Err(DeskError::Busy.into())
    }

    /// The crew's publications, the newest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn publications(&self, actor: &Actor) -> Result<Vec<Publication>, DeskError> {
        self.present(actor).await?;
        let mut found = Vec::new();
        let mut from = Seq::FIRST;
        loop {
            let stored = self
                .store()
                .read(actor.crew.stream(), from, ENTRIES_AT_ONCE)
                .await?;
            let Some(last) = stored.last() else { break };
            from = Seq(last.seq.0 + 1);
            for entry in &stored {
                let happening: Happening<CrewWhat> = read(&entry.bytes)?;
                let CrewWhat::FlowsPublished {
                    changed,
                    note,
                    origin,
                    ..
                } = happening.what
                else {
                    continue;
                };
                let who = match happening.who {
                    Some(person) => Some(self.named(person).await?),
                    None => None,
                };
                found.push(Publication {
                    at: happening.at,
                    who,
                    note,
                    changed,
                    from_edition: origin.map(|origin| origin.edition),
                });
            }
        }
        found.reverse();
        Ok(found)
    }

    async fn draft_row(&self, actor: &Actor) -> Result<DraftRow, DeskError> {
        let row = self.row::<DraftRow>(actor.person.0).await?;
        Ok(row.unwrap_or_default())
    }
}

/// Whether a flow file may be called so: nothing in the name leads out of its folder.
pub fn is_flow_file_name(file: &str) -> bool {
    let stem = file.strip_suffix(".yaml").unwrap_or_default();
    let plain = |letter: char| matches!(letter, 'a'..='z' | '0'..='9' | '-');
    !stem.is_empty() && stem.len() <= 60 && stem.chars().all(plain)
}

fn fits(draft: &Draft, file: &str, text: &str) -> Result<(), DeskError> {
    if !is_flow_file_name(file) {
        return Err(not_understood(
            "A flow file is called like make-safe.yaml: small letters, digits and dashes.",
        ));
    }
    if text.len() > FILE_BYTES_MAX {
        return Err(not_understood(
            "This file is too large. A flow file may have 256 KiB; split it into several flows.",
        ));
    }
    let files: &BTreeMap<String, String> = &draft.sources.files;
    if files.len() >= FILES_MAX && !files.contains_key(file) {
        return Err(not_understood(
            "There are too many flow files. A crew may have 200; put two small ones together.",
        ));
    }
    Ok(())
}

fn note_of(note: &str) -> Result<String, DeskError> {
    let note = note.trim();
    if note.is_empty() || note.chars().count() > NOTE_CHARACTERS_MAX {
        return Err(not_understood(
            "Write in a sentence or two what you changed and why, then publish.",
        ));
    }
    Ok(note.to_owned())
}

/// What the checker finds; it looks away from the threads that serve other people.
async fn findings(sources: Sources) -> Result<Vec<Finding>, DeskError> {
    let findings = tokio::task::spawn_blocking(|| check::findings(sources)).await;
    findings.map_err(|error| DeskError::Fault(format!("The check: {error}")))
}

/// Refuses flows in which the checker finds an error.
async fn without_errors(sources: Sources) -> Result<(), DeskError> {
    let findings = findings(sources).await?;
    let mut errors = findings.iter().filter(|it| it.grade == Grade::Error);
    match errors.next() {
        None => Ok(()),
        Some(first) => Err(DeskError::NotUnderstood(format!(
            "These flows cannot be published yet. {first}"
        ))),
    }
}

fn not_understood(sentence: &str) -> DeskError {
    DeskError::NotUnderstood(sentence.to_owned())
}
