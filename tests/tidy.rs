//! The house rules, read off the files themselves.

mod arrows;
mod documents;
mod map;
mod security;
mod shape;

use std::fs;
use std::path::{Path, PathBuf};

/// The folder of the project.
fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// A text file of the project.
struct Text {
    /// Its path from the project's folder: `src/walk/decide.rs`.
    path: String,
    text: String,
}

impl Text {
    fn read(path: &str) -> Self {
        let text = fs::read_to_string(root().join(path))
            .unwrap_or_else(|error| panic!("{path} cannot be read: {error}"));
        Self {
            path: path.to_owned(),
            text,
        }
    }

    /// The lines with their numbers, from 1.
    fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text
            .lines()
            .enumerate()
            .map(|(at, line)| (at + 1, line))
    }

    /// The lines before `mod tests`; none of a file that holds only tests.
    fn lines_outside_tests(&self) -> impl Iterator<Item = (usize, &str)> {
        // A test module, or a part of one.
        let only_tests = self.path.ends_with("/tests.rs") || self.path.contains("/tests/");
        self.lines()
            .take_while(move |(_, line)| !only_tests && *line != "#[cfg(test)]")
    }
}

/// Every file under `folder` with this ending, sorted by path.
fn files(folder: &str, ending: &str) -> Vec<Text> {
    let mut found = Vec::new();
    collect(&root().join(folder), ending, &mut found);
    found.sort();
    assert!(!found.is_empty(), "no {ending} file in {folder}");
    found.iter().map(|path| Text::read(path)).collect()
}

fn collect(folder: &Path, ending: &str, found: &mut Vec<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, ending, found);
        } else if path.extension().is_some_and(|has| has == ending) {
            let below = path.strip_prefix(root()).unwrap();
            found.push(below.to_str().unwrap().to_owned());
        }
    }
}

/// Every Rust file of the project.
fn rust() -> Vec<Text> {
    ["src", "tests", "benches"]
        .iter()
        .flat_map(|folder| files(folder, "rs"))
        .collect()
}

/// Fails with all that was found, one a line.
fn assert_none(found: Vec<String>) {
    assert!(found.is_empty(), "{}", found.join("\n"));
}
