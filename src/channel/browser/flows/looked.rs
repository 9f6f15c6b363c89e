//! What a look at a draft shows: findings, and what changed since it was published.

use serde::Serialize;

use crate::channel::browser::trouble::Trouble;
use crate::check::{self, Finding};
use crate::desk::drafts::Draft;
use crate::flow::difference::{Difference, differences};
use crate::flow::library::Library;

/// A draft that was looked at.
#[derive(Debug, Default, Serialize)]
pub(super) struct Looked {
    pub(super) findings: Vec<FindingView>,
    /// Whether the files can be read as flows, so that they can be drawn.
    pub(super) is_whole: bool,
    /// Whether any of them keeps the draft from being published.
    pub(super) has_errors: bool,
    pub(super) differences: Vec<DifferenceView>,
    /// How many of them can alter how somebody is protected.
    pub(super) safety: usize,
}

/// A finding, for a page.
#[derive(Debug, Serialize)]
pub(super) struct FindingView {
    pub(super) file: String,
    line: u32,
    column: u32,
    grade: &'static str,
    name: &'static str,
    wrong: String,
    why: String,
    mend: String,
    /// The shortest walk that shows it.
    walk: Option<String>,
}

/// A difference, for a page.
#[derive(Debug, Serialize)]
pub(super) struct DifferenceView {
    safety: bool,
    line: String,
}

impl FindingView {
    fn of(finding: &Finding) -> FindingView {
        FindingView {
            file: finding.file.clone(),
            line: finding.line,
            column: finding.column,
            grade: finding.grade.word(),
            name: finding.name,
            wrong: finding.wrong.clone(),
            why: finding.why.clone(),
            mend: finding.mend.clone(),
            walk: finding.walk_in_short(),
        }
    }
}

impl DifferenceView {
    fn of(difference: &Difference) -> DifferenceView {
        DifferenceView {
            safety: difference.safety,
            line: difference.to_string(),
        }
    }
}

/// Looks at a draft, away from the threads that serve other people.
pub(super) async fn at(draft: Draft) -> Result<(Draft, Looked), Trouble> {
    let looked = tokio::task::spawn_blocking(move || {
        let looked = look(&draft);
        (draft, looked)
    });
    looked.await.map_err(|_| Trouble::fault())
}

fn look(draft: &Draft) -> Looked {
    let library = Library::load(draft.sources.clone());
    let findings = match &library {
        Ok(library) => check::of_library(library),
        Err(problems) => problems.iter().map(check::of_problem).collect(),
    };
    let differences = match &library {
        Ok(library) => differences(draft.published.flows(), library.flows()),
        Err(_) => Vec::new(),
    };
    Looked {
        is_whole: library.is_ok(),
        has_errors: check::has_errors(&findings),
        safety: differences.iter().filter(|it| it.safety).count(),
        findings: findings.iter().map(FindingView::of).collect(),
        differences: differences.iter().map(DifferenceView::of).collect(),
    }
}
