//! Editions: what a new job can begin with, and what an old one stays on.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::screen::FlowChoice;
use super::tables::{CrewRow, EditionRow, put, read, written};
use crate::flow::edition::Edition;
use crate::flow::embedded;
use crate::flow::library::{Library, Sources};
use crate::flow::name::FlowName;
use crate::record::around::FlowWhat;
use crate::record::chain::Hash;
use crate::record::stream::{StreamId, StreamKind};
use crate::store::Batch;

/// Flows that were published together, with the editions that a job can begin with.
pub(super) struct Published {
    pub(super) library: Library,
    /// The usual flow first.
    current: Vec<Arc<Edition>>,
}

impl Published {
    /// The editions of a library. A part of another flow cannot begin a job.
    fn of(library: Library) -> Published {
        let mut current: Vec<Arc<Edition>> = library
            .roots()
            .filter_map(|flow| library.edition(&flow.name))
            .map(Arc::new)
            .collect();
        let usual = embedded::main_flow();
        current.sort_by_key(|edition| *edition.root() != usual);
        Published { library, current }
    }
}

/// The flows of today and every edition that was asked for since the start.
pub(super) struct Editions {
    /// For every crew that published none of its own.
    shipped: Arc<Published>,
    /// The flows of crews that did, by the hash of their sources.
    of_crews: Mutex<HashMap<Hash, Arc<Published>>>,
    by_hash: Mutex<HashMap<String, Arc<Edition>>>,
}

/// The flows of so many publications are kept loaded.
const PUBLISHED_AT_HAND_MAX: usize = 64;

impl Editions {
    /// The editions of the flows that this server was started with.
    pub(super) fn of(library: &Library) -> Editions {
        let shipped = Published::of(library.clone());
        let by_hash = shipped
            .current
            .iter()
            .map(|edition| (edition.hash().to_owned(), Arc::clone(edition)));
        Editions {
            by_hash: Mutex::new(by_hash.collect()),
            of_crews: Mutex::default(),
            shipped: Arc::new(shipped),
        }
    }

    fn of_crew(&self, sources: Hash) -> Option<Arc<Published>> {
        // Nothing that touches the map can panic half-way.
        let map = self.of_crews.lock().unwrap_or_else(PoisonError::into_inner);
        map.get(&sources).map(Arc::clone)
    }

    fn add(&self, sources: Hash, published: &Arc<Published>) {
        let mut map = self.of_crews.lock().unwrap_or_else(PoisonError::into_inner);
        if map.len() >= PUBLISHED_AT_HAND_MAX {
            map.clear();
        }
        map.insert(sources, Arc::clone(published));
    }

    fn known(&self, hash: &str) -> Option<Arc<Edition>> {
        // Nothing that touches the map can panic half-way.
        let map = self.by_hash.lock().unwrap_or_else(PoisonError::into_inner);
        map.get(hash).map(Arc::clone)
    }

    fn remember(&self, edition: &Arc<Edition>) {
        let mut map = self.by_hash.lock().unwrap_or_else(PoisonError::into_inner);
        map.insert(edition.hash().to_owned(), Arc::clone(edition));
    }
}

impl Desk {
    /// The flows that a job of the actor's crew can begin with, the usual one first.
    ///
    /// # Errors
    /// When the crew's own flows cannot be read.
    pub async fn flows(&self, actor: &Actor) -> Result<Vec<FlowChoice>, DeskError> {
        let choice = |edition: &Arc<Edition>| FlowChoice {
            flow: edition.root().clone(),
            title: title(edition),
        };
        let published = self.published(actor.crew).await?;
        Ok(published.current.iter().map(choice).collect())
    }

    /// All flows that the actor's crew walks today, the parts too.
    ///
    /// # Errors
    /// When the crew's own flows cannot be read.
    pub async fn library(&self, actor: &Actor) -> Result<Library, DeskError> {
        let published = self.published(actor.crew).await?;
        Ok(published.library.clone())
    }

    /// The edition of today of a flow that a job of this crew can begin with.
    pub(super) async fn current_edition(
        &self,
        crew: CrewId,
        flow: &FlowName,
    ) -> Result<Arc<Edition>, DeskError> {
        let published = self.published(crew).await?;
        let mut current = published.current.iter();
        let found = current.find(|edition| edition.root() == flow);
        found.map(Arc::clone).ok_or(DeskError::NotFound("flow"))
    }

    /// The flows that this crew's new jobs walk.
    pub(super) async fn published(&self, crew: CrewId) -> Result<Arc<Published>, DeskError> {
        let editions = &self.inner.editions;
        let row = self.row::<CrewRow>(crew.0).await?.unwrap_or_default();
        let Some(hash) = row.flows else {
            return Ok(Arc::clone(&editions.shipped));
        };
        if let Some(published) = editions.of_crew(hash) {
            return Ok(published);
        }
        let fault = |what: String| DeskError::Fault(format!("The flows {hash} of {crew}: {what}"));
        let blob = self.store().get_blob(hash).await?;
        let blob = blob.ok_or_else(|| fault("their sources are gone.".to_owned()))?;
        let library = Library::load(read(&blob)?).map_err(|problems| {
            let first = problems.first().map(ToString::to_string);
            fault(first.unwrap_or_default())
        })?;
        let published = Arc::new(Published::of(library));
        editions.add(hash, &published);
        Ok(published)
    }

    /// The edition that a job is pinned to.
    pub(super) async fn edition(
        &self,
        flow: &FlowName,
        hash: &str,
    ) -> Result<Arc<Edition>, DeskError> {
        if let Some(edition) = self.inner.editions.known(hash) {
            return Ok(edition);
        }
        let fault = |what: String| DeskError::Fault(format!("Edition {hash} of {flow}: {what}"));
        let row = self.row::<EditionRow>(hash).await?;
        let row = row.ok_or_else(|| fault("its sources were never kept.".to_owned()))?;
        let blob = self.store().get_blob(row.sources).await?;
        let blob = blob.ok_or_else(|| fault("its sources are gone.".to_owned()))?;
        let sources: Sources = read(&blob)?;
        let edition = Edition::from_sources(flow, sources).map_err(|problems| {
            fault(
                problems
                    .first()
                    .map(ToString::to_string)
                    .unwrap_or_default(),
            )
        })?;
        if edition.hash() != hash {
            return Err(fault(format!("its kept sources give {}.", edition.hash())));
        }
        let edition = Arc::new(edition);
        self.inner.editions.remember(&edition);
        Ok(edition)
    }

    /// Keeps the sources of an edition, so that its jobs stay on it for good.
    pub(super) async fn publish(&self, edition: &Edition) -> Result<(), DeskError> {
        if self.row::<EditionRow>(edition.hash()).await?.is_some() {
            return Ok(());
        }
        let _turn = self.inner.queues.turn(flow_stream(edition.root())).await;
        for _ in 0..TRIES {
            if self.row::<EditionRow>(edition.hash()).await?.is_some() {
                return Ok(());
            }
            let stream = flow_stream(edition.root());
            let expected = self.last(stream).await?;
            let sources = self.store().put_blob(written(edition.sources())?).await?;
            let now = self.now();
            let what = FlowWhat::Published {
                flow: edition.root().clone(),
                edition: edition.hash().to_owned(),
                sources,
            };
            let mut batch = Batch::new(now);
            batch
                .appends
                .push(Hand::server(now).writes(stream, expected, vec![what])?);
            batch
                .index
                .push(put(edition.hash(), &EditionRow { sources })?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }
}

/// The title of an edition's root.
pub(super) fn title(edition: &Edition) -> String {
    let root = edition.root_flow();
    root.map_or_else(|| edition.root().to_string(), |flow| flow.title.clone())
}

/// The stream of a flow: its id is the beginning of the hash of its name.
fn flow_stream(flow: &FlowName) -> StreamId {
    let Hash(hash) = Hash::of(flow.as_str().as_bytes());
    let id = hash.first_chunk::<16>().copied().unwrap_or_default();
    StreamId::new(StreamKind::Flow, Uuid::from_bytes(id))
}
