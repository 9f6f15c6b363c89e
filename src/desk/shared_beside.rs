//! A shared file among the crew's own: what it is, and a flow loaded and checked beside the others.

use std::collections::BTreeMap;

use super::error::DeskError;
use super::goods::Which;
use super::shared_flows::no_such;
use crate::check::{self, Finding};
use crate::flow::difference::{Difference, differences};
use crate::flow::library::Library;
use crate::flow::model::Flow;
use crate::flow::name::FlowName;
use crate::flow::problem::Problem;
use crate::record::chain::Hash;

/// A flow file, loaded among the flows of the crew.
pub(super) struct Beside {
    pub(super) file: String,
    pub(super) flow: FlowName,
    pub(super) library: Library,
    /// None of them an error.
    pub(super) findings: Vec<Finding>,
    /// From what the crew walks; those that can alter protection first.
    pub(super) differences: Vec<Difference>,
}

impl Beside {
    pub(super) fn own(&self) -> Option<&Flow> {
        self.library.flows().get(&self.flow)
    }

    pub(super) fn title(&self) -> String {
        self.own()
            .map(|flow| flow.title.clone())
            .unwrap_or_default()
    }

    pub(super) fn edition(&self) -> Result<String, DeskError> {
        let edition = self.library.edition(&self.flow).ok_or_else(no_such)?;
        Ok(edition.hash().to_owned())
    }
}

/// Loads and checks; the findings if there are errors, the errors first.
pub(super) fn look(published: &Library, text: String) -> Result<Beside, Vec<Finding>> {
    let found = |problems: Vec<Problem>| -> Vec<Finding> {
        problems.iter().map(check::of_problem).collect()
    };
    let flow = Library::name_in(POSTED, &text).map_err(found)?;
    let file = file_of(published, &flow);
    let changed = BTreeMap::from([(file.clone(), text)]);
    let library = published.with_files(changed).map_err(found)?;
    let mut findings = check::of_library(&library);
    findings.sort_by_key(|finding| finding.grade);
    if check::has_errors(&findings) {
        return Err(findings);
    }
    findings.retain(|finding| finding.file == file);
    let mut differences = differences(published.flows(), library.flows());
    differences.sort_by_key(|difference| !difference.safety);
    Ok(Beside {
        file,
        flow,
        library,
        findings,
        differences,
    })
}

/// What findings call a file whose flow has no name yet.
const POSTED: &str = "the file";

/// The file that a flow is in or becomes. One whose name is taken by another flow gets a number.
fn file_of(published: &Library, flow: &FlowName) -> String {
    if let Some(known) = published.flows().get(flow) {
        return known.file.clone();
    }
    let files = &published.sources().files;
    let plain = format!("{flow}.yaml");
    let numbered = (2..).map(|number| format!("{flow}-{number}.yaml"));
    let mut names = std::iter::once(plain).chain(numbered);
    names
        .find(|name| !files.contains_key(name))
        .unwrap_or_default()
}

/// The hash of what stands in this file.
pub(super) fn standing(published: &Library, file: &str) -> Option<Hash> {
    let text = published.sources().files.get(file)?;
    Some(Hash::of(text.as_bytes()))
}

/// What a file says it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Flow,
    Goods(Which),
}

/// What a file says it is, by the first key that only one kind has.
pub(super) fn kind(text: &str) -> Option<Kind> {
    text.lines().find_map(|line| {
        let (key, _) = line.split_once(':')?;
        match key {
            "flow" => Some(Kind::Flow),
            "kit" => Some(Kind::Goods(Which::Kit)),
            "speed_book" => Some(Kind::Goods(Which::SpeedBook)),
            _ => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_what_its_first_own_key_says() {
        assert_eq!(kind("# A note: flow\nflow: dead-fan\n"), Some(Kind::Flow));
        assert_eq!(
            kind("title: x\nkit: Van 2\nflow: no\n"),
            Some(Kind::Goods(Which::Kit))
        );
        assert_eq!(kind("say:\n  flow: inner\n"), None);
        assert_eq!(kind(""), None);
    }
}
