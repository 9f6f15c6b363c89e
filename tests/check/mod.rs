//! The checker: the shipped flows have no finding, and every page's examples have theirs.

mod command;
mod pages;

use fanwright::check;
use fanwright::flow::embedded;

fn told(findings: &[check::Finding]) -> String {
    let lines: Vec<String> = findings
        .iter()
        .map(|finding| {
            let walk = finding.walk_in_short().unwrap_or_default();
            format!("[{}] {finding}\n    {walk}", finding.name)
        })
        .collect();
    lines.join("\n")
}

#[test]
fn the_shipped_flows_have_no_finding_at_all() {
    let findings = check::findings(embedded::sources());
    assert!(findings.is_empty(), "{}", told(&findings));
}
