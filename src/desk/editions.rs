//! Editions: what a new job can begin with, and what an old one stays on.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use uuid::Uuid;

use super::Desk;
use super::error::DeskError;
use super::keep::{Hand, TRIES};
use super::screen::FlowChoice;
use super::tables::{EditionRow, put, read, written};
use crate::flow::edition::Edition;
use crate::flow::embedded;
use crate::flow::library::{Library, Sources};
use crate::flow::name::FlowName;
use crate::record::around::FlowWhat;
use crate::record::chain::Hash;
use crate::record::stream::{StreamId, StreamKind};
use crate::store::Batch;

/// The flows of today and every edition that was asked for since the start.
pub(super) struct Editions {
    /// What a new job begins with, the usual flow first.
    current: Vec<Arc<Edition>>,
    by_hash: Mutex<HashMap<String, Arc<Edition>>>,
}

impl Editions {
    /// The editions of a library. A flow that needs facts from a runner cannot begin a job.
    pub(super) fn of(library: &Library) -> Editions {
        let roots = library
            .flows()
            .values()
            .filter(|flow| flow.needs.is_empty());
        let mut current: Vec<Arc<Edition>> = roots
            .filter_map(|flow| library.edition(&flow.name))
            .map(Arc::new)
            .collect();
        let usual = embedded::main_flow();
        current.sort_by_key(|edition| *edition.root() != usual);
        let by_hash = current
            .iter()
            .map(|edition| (edition.hash().to_owned(), Arc::clone(edition)));
        Editions {
            by_hash: Mutex::new(by_hash.collect()),
            current,
        }
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
    /// The flows that a job can begin with, the usual one first.
    pub fn flows(&self) -> Vec<FlowChoice> {
        let choice = |edition: &Arc<Edition>| FlowChoice {
            flow: edition.root().clone(),
            title: title(edition),
        };
        self.inner.editions.current.iter().map(choice).collect()
    }

    /// The edition of today of a flow that a job can begin with.
    pub(super) fn current_edition(&self, flow: &FlowName) -> Result<Arc<Edition>, DeskError> {
        let mut current = self.inner.editions.current.iter();
        let found = current.find(|edition| edition.root() == flow);
        found.map(Arc::clone).ok_or(DeskError::NotFound("flow"))
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
