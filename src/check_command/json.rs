//! Findings as one JSON object.

use serde::Serialize;

use super::Checked;
use crate::check::{Finding, GUARDED};

#[derive(Serialize)]
struct Report<'a> {
    flows: usize,
    steps: usize,
    note: &'static str,
    findings: Vec<Placed<'a>>,
}

#[derive(Serialize)]
struct Placed<'a> {
    path: String,
    text: Option<&'a str>,
    #[serde(flatten)]
    finding: &'a Finding,
}

impl<'a> Placed<'a> {
    fn of(checked: &'a Checked, finding: &'a Finding) -> Self {
        Self {
            path: checked.path(&finding.file),
            text: checked.line(&finding.file, finding.line),
            finding,
        }
    }
}

/// All findings.
pub(super) fn told(checked: &Checked) -> Result<String, String> {
    let placed = |finding| Placed::of(checked, finding);
    let report = Report {
        flows: checked.flows,
        steps: checked.steps,
        note: GUARDED,
        findings: checked.findings.iter().map(placed).collect(),
    };
    serde_json::to_string_pretty(&report)
        .map_err(|why| format!("No JSON can be made of it: {why}."))
}
