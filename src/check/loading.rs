//! What the loader complains of, as findings.

use super::finding::{Finding, Grade};
use super::rules;
use crate::flow::problem::{Family, Problem};

/// The finding for a problem of the loader.
pub(super) fn finding(problem: &Problem) -> Finding {
    let name = match problem.family {
        Family::File => "unreadable_file",
        Family::Language => "not_in_the_language",
        Family::Binding => "flows_do_not_fit",
        Family::Picture => "missing_picture",
    };
    Finding {
        name,
        grade: Grade::Error,
        file: problem.file.clone(),
        line: problem.at.line,
        column: problem.at.column,
        wrong: problem.wrong.clone(),
        why: rules::why(name),
        mend: problem.mend.clone(),
        walk: Vec::new(),
    }
}
