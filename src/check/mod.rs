//! The checker: what is wrong with flows, found over all paths and not by example.
//!
//! Flows in, findings out; nothing is read or written here. [`findings`] loads sources and
//! looks at everything, so a file that cannot be loaded gives findings too. Each rule has its
//! own file in `rules/` and its page in `pages/`; what several rules need is worked out once,
//! in `ground`, `track` and `energy`.
//!
//! What the engine guards while a job is walked is taken for granted here: after a handover, a
//! long pause or a step back it voids the proofs and walks the flow that proves them again.

mod answers;
mod cases;
mod energy;
mod exists;
mod finding;
mod flag;
mod ground;
mod line;
mod loading;
mod rules;
mod track;

pub use finding::{Finding, Grade, Stop};
pub use rules::{Page, page, pages};

use crate::flow::library::{Library, Sources};
use crate::flow::problem::Problem;
use ground::Ground;

/// What is taken for granted, for whoever reads the findings.
pub const GUARDED: &str = "Guarded while a job is walked, not here: after a handover, a long \
    pause or a step back every proof is void, and the engine walks the flow that proves again.";

/// Loads flows and finds what is wrong with them, in the order of files and lines.
pub fn findings(sources: Sources) -> Vec<Finding> {
    match Library::load(sources) {
        Ok(library) => of_library(&library),
        Err(problems) => problems.iter().map(of_problem).collect(),
    }
}

/// Finds what is wrong with loaded flows, in the order of files and lines.
pub fn of_library(library: &Library) -> Vec<Finding> {
    let ground = Ground::of(library);
    let mut findings: Vec<Finding> = rules::RULES
        .iter()
        .flat_map(|rule| (rule.run)(rule, &ground))
        .collect();
    findings.sort_by(|a, b| {
        (&a.file, a.line, a.column, a.name).cmp(&(&b.file, b.line, b.column, b.name))
    });
    findings
}

/// The finding for a problem of loading.
pub fn of_problem(problem: &Problem) -> Finding {
    loading::finding(problem)
}

/// Whether any of these keeps the flows from being published.
pub fn has_errors(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.grade == Grade::Error)
}
