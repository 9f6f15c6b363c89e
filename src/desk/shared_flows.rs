//! Files that people show each other: a flow, a kit or a speed book, looked at before it is the
//! crew's.
//!
//! What a file is called decides nothing: what it is stands in it. A shared file is kept under
//! its crew, so that nobody of another crew finds it; who else shared the same text first is
//! remembered, so that a flow that was taken over from another crew says so.

use std::collections::BTreeMap;
use std::time::Duration;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::Actor;
use super::drafts::{FILE_BYTES_MAX, NotPublished};
use super::error::DeskError;
use super::goods::Which;
use super::id::{CrewId, EvaporatorId};
use super::jobs::NewJob;
use super::keep::TRIES;
use super::screen::{Handled, Named};
use super::shared_beside::{Beside, Kind, kind, look, standing};
use super::shared_goods::GoodsCard;
use super::shared_mark::SHORT_LETTERS;
use super::tables::{Row, key as row_key, put};
use crate::check::{Finding, Grade};
use crate::flow::difference::Difference;
use crate::flow::library::Library;
use crate::flow::name::FlowName;
use crate::flow::stand_in::walkable;
use crate::record::around::FlowOrigin;
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::store::{Batch, InputKey, Table};

pub use super::shared_mark::{SharedMark, edition_in_short};

/// A check that takes longer is given up.
const CHECK_MAX: Duration = Duration::from_secs(20);

/// What a shared file is.
#[derive(Clone, Debug)]
pub enum SharedFile {
    /// A flow that can be walked.
    Flow(Box<FlowCard>),
    /// A flow in which the checker found errors: they come first.
    Faulty(Vec<Finding>),
    /// A kit or a speed book.
    Goods(GoodsCard),
    /// A kit or speed book that cannot be used, and why.
    Unusable(String),
    /// None of a crew's files.
    Other,
}

/// A flow that somebody shared, beside the flows that the crew walks.
#[derive(Clone, Debug)]
pub struct FlowCard {
    /// Which shared file.
    pub mark: SharedMark,
    /// The flow.
    pub flow: FlowName,
    /// Its title.
    pub title: String,
    /// How many steps it has.
    pub steps: usize,
    /// The edition that it is with the crew's other flows, hexadecimal.
    pub edition: String,
    /// Who shared it.
    pub by: Named,
    /// The edition of another crew that it was taken over from.
    pub from_edition: Option<String>,
    /// What the checker advises about it.
    pub advice: Vec<Finding>,
    /// What differs from what the crew walks; those that can alter protection first.
    pub differences: Vec<Difference>,
    /// Whether the crew walks no flow of this name yet.
    pub is_new: bool,
    /// Whether the crew walks exactly this.
    pub is_published: bool,
    /// The crew's flows with this one.
    pub library: Library,
}

/// What became of a shared file that was to be published.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// The crew walks the flow with this title from now on.
    Flow(String),
    /// The crew has this from now on.
    Goods(Which),
}

/// A shared file: under the crew and the mark. No entry stands behind it, since showing a file is
/// nothing that happened.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct SharedRow {
    pub(super) text: Hash,
    pub(super) by: PersonId,
    pub(super) at: Timestamp,
    pub(super) what: SharedWhat,
    /// What stood in its place when it was shared; nothing if nothing did.
    pub(super) base: Option<Hash>,
    /// The other crew that a kit or a speed book was taken over from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) from: Option<CrewId>,
}

/// What a shared file is to be.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum SharedWhat {
    Flow {
        /// The file that it becomes.
        file: String,
        flow: FlowName,
        title: String,
        origin: Option<FlowOrigin>,
    },
    Kit,
    SpeedBook,
}

impl Row for SharedRow {
    const TABLE: Table = Table::named("shared");
}

/// Who shared a text first: under the hash of the text.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct FirstSharedRow {
    pub(super) crew: CrewId,
    /// The edition that a flow was then; of a kit or a speed book its own hash.
    edition: String,
}

impl Row for FirstSharedRow {
    const TABLE: Table = Table::named("shared_first");
}

/// The text of a shared flow: under the beginning of its edition's name.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct SharedEditionRow {
    text: Hash,
}

impl Row for SharedEditionRow {
    const TABLE: Table = Table::named("shared_edition");
}

impl Desk {
    /// Looks at a file that somebody of the crew shows to the others. `is_forwarded` says that it
    /// was shown elsewhere before.
    ///
    /// # Errors
    /// When the actor left the crew, the file is too large, or takes too long to check.
    pub async fn share_file(
        &self,
        actor: &Actor,
        bytes: Vec<u8>,
        is_forwarded: bool,
    ) -> Result<SharedFile, DeskError> {
        self.present(actor).await?;
        if bytes.len() > FILE_BYTES_MAX {
            return Err(too_large());
        }
        let Ok(text) = String::from_utf8(bytes) else {
            return Ok(SharedFile::Other);
        };
        match kind(&text) {
            Some(Kind::Flow) => self.share_flow(actor, text, is_forwarded).await,
            Some(Kind::Goods(which)) => self.share_goods(actor, which, (text, is_forwarded)).await,
            None => Ok(SharedFile::Other),
        }
    }

    /// Looks at a flow that was shared in any crew, by the beginning of its edition's name as it
    /// stands on its card: whoever has the card can read the flow.
    ///
    /// # Errors
    /// As [`Desk::share_file`], or when no such edition was ever shared.
    pub async fn share_edition(
        &self,
        actor: &Actor,
        edition: &str,
    ) -> Result<SharedFile, DeskError> {
        self.present(actor).await?;
        let row = match edition.len() == SHORT_LETTERS {
            true => self.row::<SharedEditionRow>(edition).await?,
            false => None,
        };
        let text = self.text_of(row.ok_or_else(no_such)?.text).await?;
        self.share_flow(actor, text, true).await
    }

    /// Looks at a shared file of the crew again.
    ///
    /// # Errors
    /// When the crew has no such shared file.
    pub async fn shared(&self, actor: &Actor, mark: SharedMark) -> Result<SharedFile, DeskError> {
        let row = self.shared_row(actor, mark).await?;
        let text = self.text_of(row.text).await?;
        match row.what {
            SharedWhat::Flow { .. } => {
                let beside = self.beside(actor.crew, &text).await?;
                match beside {
                    Ok(beside) => self.card(&row, beside).await,
                    Err(findings) => Ok(SharedFile::Faulty(findings)),
                }
            }
            SharedWhat::Kit => self.goods_card(actor, Which::Kit, &row).await,
            SharedWhat::SpeedBook => self.goods_card(actor, Which::SpeedBook, &row).await,
        }
    }

    /// The mark of a flow that was shared in any crew, by the beginning of its edition's name.
    ///
    /// # Errors
    /// When no such edition was ever shared.
    pub async fn mark_of_edition(&self, edition: &str) -> Result<SharedMark, DeskError> {
        let row = self.row::<SharedEditionRow>(edition).await?;
        row.map(|row| SharedMark::of(row.text)).ok_or_else(no_such)
    }

    /// Whether the actor may make a shared file the crew's.
    ///
    /// # Errors
    /// When the crew has no such shared file, or the actor is no supervisor.
    pub async fn may_take_shared(&self, actor: &Actor, mark: SharedMark) -> Result<(), DeskError> {
        self.shared_row(actor, mark).await?;
        self.must_be_supervisor(actor, "make a posted file the crew's")
            .await
            .map(drop)
    }

    /// Makes a shared file the crew's: a flow is published with the note, a kit or speed book is
    /// taken. The same input twice does it once.
    ///
    /// # Errors
    /// When the actor is no supervisor, the file has errors among the crew's flows of today, or
    /// something else took its place since it was shared.
    pub async fn take_shared(
        &self,
        key: InputKey,
        actor: &Actor,
        mark: SharedMark,
        note: &str,
    ) -> Result<Taken, DeskError> {
        let row = self.shared_row(actor, mark).await?;
        let text = self.text_of(row.text).await?;
        let (file, title, origin) = match row.what {
            SharedWhat::Flow {
                file,
                title,
                origin,
                ..
            } => (file, title, origin),
            SharedWhat::Kit => {
                let what = (Which::Kit, row.base);
                return self.take_goods(key, actor, what, (text, row.from)).await;
            }
            SharedWhat::SpeedBook => {
                let what = (Which::SpeedBook, row.base);
                return self.take_goods(key, actor, what, (text, row.from)).await;
            }
        };
        self.must_be_supervisor(actor, "publish flows").await?;
        let files = BTreeMap::from([(file.clone(), text)]);
        for _ in 0..TRIES {
            let (base, published) = self.flow_files(actor).await?;
            let stands = standing(&published, &file);
            if stands == Some(row.text) {
                return Ok(Taken::Flow(title));
            }
            if stands != row.base {
                return Err(has_changed());
            }
            let what = (&files, note, origin.clone());
            match self.publish_files(key.clone(), actor, base, what).await {
                Ok(()) => return Ok(Taken::Flow(title)),
                Err(NotPublished::HasChanged) => {}
                Err(NotPublished::Desk(error)) => return Err(error),
                Err(NotPublished::Found(found)) => {
                    let first = found.iter().find(|it| it.grade == Grade::Error);
                    let first = first.map(ToString::to_string).unwrap_or_default();
                    return Err(DeskError::NotUnderstood(format!(
                        "This flow cannot be published beside the others any more. {first}"
                    )));
                }
            }
        }
        Err(DeskError::Busy)
    }

    /// Begins a training walk along a shared flow, published or not. A part is walked alone,
    /// after questions for what its runner would give.
    ///
    /// # Errors
    /// When the crew has no such shared flow or evaporator, or the flow has errors.
    pub async fn try_shared(
        &self,
        key: InputKey,
        actor: &Actor,
        (mark, evaporator): (SharedMark, EvaporatorId),
    ) -> Result<Handled, DeskError> {
        let card = match self.shared(actor, mark).await? {
            SharedFile::Flow(card) => card,
            SharedFile::Faulty(found) => {
                let first = found.first().map(ToString::to_string);
                let first = first.unwrap_or_default();
                return Err(DeskError::NotUnderstood(format!(
                    "This flow cannot be walked beside the others any more. {first}"
                )));
            }
            _ => return Err(no_such()),
        };
        let (root, sources) = walkable(&card.library, &card.flow).ok_or_else(no_such)?;
        let library = Library::load(sources).map_err(|problems| {
            let first = problems.first().map(ToString::to_string);
            DeskError::NotUnderstood(first.unwrap_or_default())
        })?;
        let edition = library.edition(&root).ok_or_else(no_such)?;
        let new = NewJob {
            evaporator,
            flow: root,
            training: true,
        };
        self.begin_along(key, actor, (new, actor.person), edition.into())
            .await
    }

    async fn share_flow(
        &self,
        actor: &Actor,
        text: String,
        is_forwarded: bool,
    ) -> Result<SharedFile, DeskError> {
        let beside = match self.beside(actor.crew, &text).await? {
            Ok(beside) => beside,
            Err(findings) => return Ok(SharedFile::Faulty(findings)),
        };
        let hash = self.store().put_blob(text.into_bytes()).await?;
        let edition = beside.edition()?;
        let mut batch = Batch::new(self.now());
        let first = self.first_shared(&mut batch, (actor.crew, hash), &edition);
        let first = first.await?.filter(|_| is_forwarded);
        let short = edition_in_short(&edition);
        batch
            .index
            .push(put(short, &SharedEditionRow { text: hash })?);
        let (_, published) = self.flow_files(actor).await?;
        let row = SharedRow {
            text: hash,
            by: actor.person,
            at: batch.at,
            base: standing(&published, &beside.file),
            from: None,
            what: SharedWhat::Flow {
                file: beside.file.clone(),
                flow: beside.flow.clone(),
                title: beside.title(),
                origin: first.map(|first| FlowOrigin {
                    crew: first.crew.0,
                    edition: first.edition,
                }),
            },
        };
        batch.index.push(put(shared_key(actor.crew, hash), &row)?);
        self.keep(batch).await?;
        self.card(&row, beside).await
    }

    /// Who shared a text first, if it was another crew; notes it if nobody did before.
    pub(super) async fn first_shared(
        &self,
        batch: &mut Batch,
        (crew, text): (CrewId, Hash),
        edition: &str,
    ) -> Result<Option<FirstSharedRow>, DeskError> {
        let first = self.row::<FirstSharedRow>(text.0).await?;
        if first.is_none() {
            let edition = edition.to_owned();
            batch
                .index
                .push(put(text.0, &FirstSharedRow { crew, edition })?);
        }
        Ok(first.filter(|first| first.crew != crew))
    }

    async fn card(&self, row: &SharedRow, beside: Beside) -> Result<SharedFile, DeskError> {
        let origin = match &row.what {
            SharedWhat::Flow { origin, .. } => origin.clone(),
            SharedWhat::Kit | SharedWhat::SpeedBook => None,
        };
        Ok(SharedFile::Flow(Box::new(FlowCard {
            mark: SharedMark::of(row.text),
            title: beside.title(),
            steps: beside.own().map_or(0, |flow| flow.steps.len()),
            edition: beside.edition()?,
            by: self.named(row.by).await?,
            from_edition: origin.map(|origin| origin.edition),
            is_new: row.base.is_none(),
            is_published: row.base == Some(row.text) || beside.differences.is_empty(),
            flow: beside.flow,
            advice: beside.findings,
            differences: beside.differences,
            library: beside.library,
        })))
    }

    /// Loads and checks a flow file among the crew's flows of today, away from the threads that
    /// serve other people.
    async fn beside(
        &self,
        crew: CrewId,
        text: &str,
    ) -> Result<Result<Beside, Vec<Finding>>, DeskError> {
        let published = self.published(crew).await?.library.clone();
        let text = text.to_owned();
        let looked = tokio::task::spawn_blocking(move || look(&published, text));
        match tokio::time::timeout(CHECK_MAX, looked).await {
            Ok(Ok(looked)) => Ok(looked),
            Ok(Err(error)) => Err(DeskError::Fault(format!("The check: {error}"))),
            Err(_) => Err(DeskError::NotUnderstood(
                "This flow takes too long to check. Split it into smaller flows, then post it \
                 again."
                    .to_owned(),
            )),
        }
    }

    pub(super) async fn shared_row(
        &self,
        actor: &Actor,
        mark: SharedMark,
    ) -> Result<SharedRow, DeskError> {
        self.present(actor).await?;
        let key = row_key(&[actor.crew.0.as_bytes(), &mark.0]);
        self.row::<SharedRow>(key).await?.ok_or_else(no_such)
    }

    pub(super) async fn text_of(&self, text: Hash) -> Result<String, DeskError> {
        let blob = self.store().get_blob(text).await?;
        let text = blob.and_then(|blob| String::from_utf8(blob).ok());
        text.ok_or_else(|| DeskError::Fault("A shared file is gone.".to_owned()))
    }
}

/// The key of a shared file.
pub(super) fn shared_key(crew: CrewId, text: Hash) -> Vec<u8> {
    let SharedMark(mark) = SharedMark::of(text);
    row_key(&[crew.0.as_bytes(), &mark])
}

pub(super) fn no_such() -> DeskError {
    DeskError::NotUnderstood(
        "No such file was shared in your crew. Have it posted in your crew's group again."
            .to_owned(),
    )
}

fn too_large() -> DeskError {
    DeskError::NotUnderstood(format!(
        "This file is too large. A flow, a kit or a speed book may have {} KiB.",
        FILE_BYTES_MAX / 1024
    ))
}

pub(super) fn has_changed() -> DeskError {
    DeskError::NotUnderstood(
        "Something else took its place since this was posted. Post the file again to see what \
         differs now."
            .to_owned(),
    )
}
