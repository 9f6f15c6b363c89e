//! Findings as text for people: the place, its line, a caret, why and how to mend.

use std::fmt::Write;

use super::Checked;
use crate::check::{Finding, GUARDED, Grade};

/// All findings, or one line that nothing is wrong.
pub(super) fn told(checked: &Checked) -> String {
    if checked.findings.is_empty() {
        return format!(
            "{} flows, {} steps: nothing wrong.\n{GUARDED}",
            checked.flows, checked.steps
        );
    }
    let mut told: Vec<String> = checked
        .findings
        .iter()
        .map(|finding| one(checked, finding))
        .collect();
    told.push(sum(&checked.findings));
    told.join("\n")
}

fn one(checked: &Checked, finding: &Finding) -> String {
    let Finding {
        name,
        grade,
        file,
        line,
        column,
        wrong,
        why,
        mend,
        ..
    } = finding;
    let mut told = String::new();
    let path = checked.path(file);
    // Writing to a string does not fail.
    let _ = writeln!(told, "{}: {wrong} [{name}]", grade.word());
    let _ = writeln!(told, "  at {path}:{line}:{column}");
    if let Some(text) = checked.line(file, *line) {
        let number = line.to_string();
        let gap = " ".repeat(number.len());
        let (shown, column) = window(text, usize::try_from(*column).unwrap_or(1));
        let _ = writeln!(told, "  {number} | {shown}");
        let _ = writeln!(told, "  {gap} | {}^", " ".repeat(column.saturating_sub(1)));
    }
    if let Some(walk) = finding.walk_in_short() {
        let _ = writeln!(told, "  walk: {walk}");
    }
    let _ = writeln!(told, "  why: {why}");
    if !mend.is_empty() {
        let _ = writeln!(told, "  mend: {mend}");
    }
    told
}

/// A line as far as it fits beside its number, with its column moved along; tabs and other
/// control characters would shift the caret.
fn window(text: &str, column: usize) -> (String, usize) {
    const BEFORE: usize = 60;
    const SHOWN: usize = 96;
    let start = column.saturating_sub(BEFORE + 1);
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let shown = text.chars().skip(start).take(SHOWN).map(plain).collect();
    (shown, column - start)
}

fn sum(findings: &[Finding]) -> String {
    let of = |grade| findings.iter().filter(|it| it.grade == grade).count();
    let (errors, advice) = (of(Grade::Error), of(Grade::Advice));
    let plural = |count: usize, word: &str| {
        if count == 1 {
            format!("{count} {word}")
        } else {
            format!("{count} {word}s")
        }
    };
    format!(
        "{} and {} of advice. `fanwright check --explain NAME` tells more about a name.",
        plural(errors, "error"),
        plural(advice, "piece")
    )
}
