//! All flows that were loaded together, with what binds them to each other.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use indexmap::{IndexMap, IndexSet};

use super::edition::Edition;
use super::load::{self, Opened};
use super::model::{At, Flow};
use super::name::{ChoiceKey, FlowName, OutcomeName, PictureName};
use super::problem::{Family, Problem};
use super::{bind, model};

/// The text files and pictures that flows are made from.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Sources {
    /// Flow files: path and text.
    pub files: BTreeMap<String, String>,
    /// Pictures: name and SVG text.
    pub pictures: BTreeMap<String, String>,
}

/// Flows that were loaded together.
#[derive(Clone, Debug)]
pub struct Library {
    sources: Sources,
    flows: Arc<IndexMap<FlowName, Flow>>,
}

impl Library {
    /// Loads all files together.
    ///
    /// # Errors
    /// Everything that is wrong in any file, in the order of files and lines.
    pub fn load(sources: Sources) -> Result<Self, Vec<Problem>> {
        Self::load_beside(sources, BTreeMap::new())
    }

    /// These flows with some files changed or added; what the change cannot have touched is not
    /// read again.
    ///
    /// # Errors
    /// As for [`Library::load`] of all the files.
    pub fn with_files(&self, changed: BTreeMap<String, String>) -> Result<Self, Vec<Problem>> {
        let mut known: BTreeMap<String, Met<'_>> = BTreeMap::new();
        let mut ends_as_before = true;
        for (file, text) in &changed {
            let before = self.flows.values().find(|flow| flow.file == *file);
            match load::open(file, text) {
                Ok(now) => {
                    ends_as_before &= before.is_none_or(|before| {
                        now.name == before.name && now.outcomes.keys().eq(before.outcomes.keys())
                    });
                    known.insert(file.clone(), Met::Opened(now));
                }
                Err(_) => ends_as_before = false,
            }
        }
        let unchanged = self.flows.values().filter(|flow| {
            let is_changed = changed.contains_key(&flow.file);
            ends_as_before && !is_changed
        });
        known.extend(unchanged.map(|flow| (flow.file.clone(), Met::Known(flow))));
        let mut sources = self.sources.clone();
        sources.files.extend(changed);
        Self::load_beside(sources, known)
    }

    /// Loads all files but those that are opened or known already.
    fn load_beside(
        sources: Sources,
        mut known: BTreeMap<String, Met<'_>>,
    ) -> Result<Self, Vec<Problem>> {
        let mut problems = Vec::new();
        let mut met: IndexMap<FlowName, Met<'_>> = IndexMap::new();
        for (file, text) in &sources.files {
            let one = match known.remove(file) {
                Some(one) => Ok(one),
                None => load::open(file, text).map(Met::Opened),
            };
            match one {
                Ok(one) => {
                    if let Some(other) = met.get(one.name()) {
                        problems.push(named_twice(&one, other));
                    } else {
                        met.insert(one.name().clone(), one);
                    }
                }
                Err(found) => problems.extend(found),
            }
        }
        let outcomes_of = |name: &FlowName| -> Option<Vec<ChoiceKey>> {
            let outcomes = met.get(name)?.outcomes().keys();
            let keys = outcomes.map(|outcome| ChoiceKey::from(outcome.as_str()));
            Some(keys.collect())
        };
        let mut flows = IndexMap::new();
        for (name, one) in &met {
            let read = match one {
                Met::Opened(opened) => load::flow(opened, &outcomes_of),
                Met::Known(flow) => Ok((*flow).clone()),
            };
            match read {
                Ok(flow) => drop(flows.insert(name.clone(), flow)),
                Err(found) => problems.extend(found),
            }
        }
        if problems.is_empty() {
            problems = bind::problems(&flows);
            problems.extend(missing_pictures(&flows, &sources));
        }
        if problems.is_empty() {
            return Ok(Self {
                sources,
                flows: Arc::new(flows),
            });
        }
        problems.sort_by(|a, b| (&a.file, a.at).cmp(&(&b.file, b.at)));
        Err(problems)
    }

    /// The name that a flow file gives itself, whatever the file is called.
    ///
    /// # Errors
    /// What is wrong with its head, with places in `file`.
    pub fn name_in(file: &str, text: &str) -> Result<FlowName, Vec<Problem>> {
        load::open(file, text).map(|opened| opened.name)
    }

    /// The flows, in the order of their files.
    pub fn flows(&self) -> &IndexMap<FlowName, Flow> {
        &self.flows
    }

    /// What it was loaded from.
    pub fn sources(&self) -> &Sources {
        &self.sources
    }

    /// The flows that a whole job can walk: no other flow runs them or proves with them, and they
    /// need nothing from a runner.
    pub fn roots(&self) -> impl Iterator<Item = &Flow> {
        let led_to: BTreeSet<&FlowName> = self.flows.values().flat_map(Flow::leads_to).collect();
        self.flows
            .values()
            .filter(move |flow| flow.needs.is_empty() && !led_to.contains(&flow.name))
    }

    /// The edition whose root is the flow called `root`.
    pub fn edition(&self, root: &FlowName) -> Option<Edition> {
        let closure = closure(&self.flows, root)?;
        Some(Edition::of(
            root.clone(),
            &closure,
            &self.flows,
            &self.sources,
        ))
    }
}

/// The names of `root` and of every flow that it can come to run, in order of first meeting.
fn closure(flows: &IndexMap<FlowName, Flow>, root: &FlowName) -> Option<IndexSet<FlowName>> {
    flows.get(root)?;
    let mut closure = IndexSet::from([root.clone()]);
    let mut next = 0;
    while let Some(name) = closure.get_index(next) {
        let met: Vec<FlowName> = flows
            .get(name)
            .map(|flow| flow.leads_to().cloned().collect())
            .unwrap_or_default();
        closure.extend(met);
        next += 1;
    }
    Some(closure)
}

/// A flow that was come upon while loading.
enum Met<'k> {
    Opened(Opened),
    Known(&'k Flow),
}

impl Met<'_> {
    fn name(&self) -> &FlowName {
        match self {
            Self::Opened(opened) => &opened.name,
            Self::Known(flow) => &flow.name,
        }
    }

    fn file(&self) -> &str {
        match self {
            Self::Opened(opened) => &opened.file,
            Self::Known(flow) => &flow.file,
        }
    }

    fn outcomes(&self) -> &IndexMap<OutcomeName, String> {
        match self {
            Self::Opened(opened) => &opened.outcomes,
            Self::Known(flow) => &flow.outcomes,
        }
    }
}

fn named_twice(flow: &Met<'_>, other: &Met<'_>) -> Problem {
    Problem {
        family: Family::Binding,
        file: flow.file().to_owned(),
        at: At { line: 1, column: 1 },
        wrong: format!("The flow `{}` is already in {}.", flow.name(), other.file()),
        mend: "Give one of them another name.".to_owned(),
    }
}

fn missing_pictures(flows: &IndexMap<FlowName, Flow>, sources: &Sources) -> Vec<Problem> {
    let steps = flows
        .values()
        .flat_map(|flow| flow.steps.values().map(move |step| (flow, step)));
    steps
        .filter_map(|(flow, step)| {
            let picture: &model::Located<PictureName> = step.picture.as_ref()?;
            if sources.pictures.contains_key(picture.it.as_str()) {
                return None;
            }
            Some(Problem {
                family: Family::Picture,
                file: flow.file.clone(),
                at: picture.at,
                wrong: format!("There is no picture `{}`.", picture.it),
                mend: format!("Draw it as pictures/{}.svg.", picture.it),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::embedded;

    #[test]
    fn a_whole_job_and_its_recheck_are_the_only_shipped_roots() {
        let library = embedded::library().unwrap();
        let roots: Vec<&str> = library.roots().map(|flow| flow.name.as_str()).collect();
        assert_eq!(roots, ["dead-fan", "recheck-24h"]);
    }
}
