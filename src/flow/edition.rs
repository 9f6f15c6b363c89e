//! One published, immutable version of a flow: its root and everything that it can come to run.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock};

use indexmap::{IndexMap, IndexSet};

use super::library::{Library, Sources};
use super::model::{Flow, Step};
use super::name::{FlowName, PictureName, StepName};
use super::problem::{Family, Problem};

/// The version of the flow language; part of every edition's name.
pub const LANGUAGE_VERSION: u16 = 1;

/// A flow with its closure, named by the hash of all its sources.
#[derive(Clone, Debug)]
pub struct Edition {
    root: FlowName,
    hash: String,
    sources: Arc<Sources>,
    flows: Arc<IndexMap<FlowName, Flow>>,
    ahead: Arc<OnceLock<ScreensAhead>>,
}

/// About how many screens are to go from each step of each flow to that flow's end.
pub type ScreensAhead = HashMap<FlowName, HashMap<StepName, f64>>;

impl Edition {
    pub(super) fn of(
        root: FlowName,
        closure: &IndexSet<FlowName>,
        flows: &Arc<IndexMap<FlowName, Flow>>,
        all: &Sources,
    ) -> Self {
        let mut sources = Sources::default();
        for name in closure {
            let Some(flow) = flows.get(name) else {
                continue;
            };
            if let Some(text) = all.files.get(&flow.file) {
                sources.files.insert(flow.file.clone(), text.clone());
            }
            for picture in flow.steps.values().filter_map(|step| step.picture.as_ref()) {
                if let Some(svg) = all.pictures.get(picture.it.as_str()) {
                    sources
                        .pictures
                        .insert(picture.it.as_str().to_owned(), svg.clone());
                }
            }
        }
        let hash = hash(&root, &sources);
        Self {
            root,
            hash,
            sources: Arc::new(sources),
            flows: Arc::clone(flows),
            ahead: Arc::default(),
        }
    }

    /// How much is to go, counted once for all jobs of this edition: every screen shows it.
    pub fn screens_ahead(&self, count: impl FnOnce(&Edition) -> ScreensAhead) -> &ScreensAhead {
        self.ahead.get_or_init(|| count(self))
    }

    /// Every flow that it was loaded with.
    pub fn flows(&self) -> impl Iterator<Item = &Flow> {
        self.flows.values()
    }

    /// The name of the root flow.
    pub fn root(&self) -> &FlowName {
        &self.root
    }

    /// The hash that names this edition, hexadecimal.
    pub fn hash(&self) -> &str {
        &self.hash
    }

    /// The root flow.
    pub fn root_flow(&self) -> Option<&Flow> {
        self.flow(&self.root)
    }

    /// The flow called `name`.
    pub fn flow(&self, name: &FlowName) -> Option<&Flow> {
        self.flows.get(name)
    }

    /// The step `step` of the flow `flow`.
    pub fn step(&self, flow: &FlowName, step: &StepName) -> Option<&Step> {
        self.flow(flow)?.step(step)
    }

    /// The SVG text of a picture.
    pub fn picture(&self, name: &PictureName) -> Option<&str> {
        self.sources.pictures.get(name.as_str()).map(String::as_str)
    }

    /// What it was loaded from: kept, so that a job stays on its edition for good.
    pub fn sources(&self) -> &Sources {
        &self.sources
    }

    /// Loads an edition from kept sources.
    ///
    /// # Errors
    /// What is wrong with them; for sources of a published edition, nothing.
    pub fn from_sources(root: &FlowName, sources: Sources) -> Result<Self, Vec<Problem>> {
        let library = Library::load(sources)?;
        library.edition(root).ok_or_else(|| {
            vec![Problem {
                family: Family::Binding,
                file: root.to_string(),
                at: super::model::At { line: 1, column: 1 },
                wrong: format!("There is no flow `{root}` among the files."),
                mend: "Name one of the flows that were loaded.".to_owned(),
            }]
        })
    }
}

/// The hash of an edition: language version, root, files and pictures, each with its length so
/// that no two different closures run together to the same bytes.
fn hash(root: &FlowName, sources: &Sources) -> String {
    let mut hasher = blake3::Hasher::new_derive_key("fanwright flow edition");
    let mut add = |text: &str| {
        hasher.update(&(text.len() as u64).to_le_bytes());
        hasher.update(text.as_bytes());
    };
    add(&LANGUAGE_VERSION.to_string());
    add(root.as_str());
    for (name, text) in sources.files.iter().chain(&sources.pictures) {
        add(name);
        add(text);
    }
    hasher.finalize().to_hex().to_string()
}
