//! Texts that are kept and compared exactly.

use std::path::Path;

/// Compares `text` with the kept file; `UPDATE_GOLDEN=1` writes it instead.
pub(crate) fn compare(path: &str, text: &str) {
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(path, text).unwrap();
        return;
    }
    assert!(
        Path::new(path).exists(),
        "{path} is missing; UPDATE_GOLDEN=1 writes it"
    );
    let kept = std::fs::read_to_string(path).unwrap();
    if kept == text {
        return;
    }
    let place = kept
        .lines()
        .zip(text.lines())
        .position(|(kept, now)| kept != now);
    let line = place.unwrap_or_else(|| kept.lines().count().min(text.lines().count()));
    let around = |text: &str| {
        let lines: Vec<&str> = text.lines().skip(line.saturating_sub(3)).take(8).collect();
        lines.join("\n")
    };
    panic!(
        "{path} differs from line {}:\n--- kept\n{}\n--- now\n{}",
        line + 1,
        around(&kept),
        around(text)
    );
}
