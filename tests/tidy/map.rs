//! The code map of DEVELOPERS.md is made from the first sentences of the files.
//!
//! `UPDATE_GOLDEN=1 cargo test --test all code_map` writes it anew.

use std::fmt::Write;
use std::fs;

use super::{Text, files, root};

const BEGIN: &str = "<!-- The code map is written by its test: UPDATE_GOLDEN=1 -->\n";
const END: &str = "<!-- End of the code map -->";

#[test]
fn the_code_map_says_what_each_file_is() {
    let developers = Text::read("DEVELOPERS.md");
    let expected = code_map();
    let (before, rest) = developers.text.split_once(BEGIN).unwrap();
    let (found, after) = rest.split_once(END).unwrap();
    if found == expected {
        return;
    }
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        let text = format!("{before}{BEGIN}{expected}{END}{after}");
        return fs::write(root().join("DEVELOPERS.md"), text).unwrap();
    }
    let missing: Vec<&str> = expected
        .lines()
        .filter(|line| !found.lines().any(|old| old == *line))
        .collect();
    panic!(
        "The code map of DEVELOPERS.md is behind. Write it anew with UPDATE_GOLDEN=1. New: {}",
        missing.join("\n")
    );
}

fn code_map() -> String {
    let mut map = String::new();
    let mut part = String::new();
    let mut sources = files("src", "rs");
    sources.sort_by_key(|file| (place(&file.path).0, file.path.clone()));
    for file in &sources {
        let (folder, name) = place(&file.path);
        let sentence = first_sentence(file);
        if is_one_of_many(&file.path) {
            continue;
        }
        if folder != part {
            write!(map, "\n### `{folder}/`\n\n").unwrap();
            part = folder;
        }
        writeln!(map, "- `{name}`: {sentence}").unwrap();
    }
    map.push('\n');
    map
}

/// The map leaves out what has a list of its own: rules, formulas, tests.
fn is_one_of_many(path: &str) -> bool {
    let is_rule = ["src/check/rules/", "src/record/stands_out/"]
        .iter()
        .any(|folder| path.starts_with(folder));
    let is_formula = path.starts_with("src/trade/") && path.contains("/formulas");
    let is_test = path.ends_with("/tests.rs") || path.contains("/tests/");
    (is_rule && !path.ends_with("/mod.rs")) || is_formula || is_test
}

/// `src/walk` and `reading/figures.rs` for `src/walk/reading/figures.rs`.
fn place(path: &str) -> (String, &str) {
    let below = path.strip_prefix("src/").unwrap();
    below.split_once('/').map_or_else(
        || ("src".to_owned(), below),
        |(part, name)| (format!("src/{part}"), name),
    )
}

fn first_sentence(file: &Text) -> String {
    let paragraph: Vec<&str> = file
        .text
        .lines()
        .map_while(|line| line.strip_prefix("//! "))
        .collect();
    let paragraph = paragraph.join(" ");
    assert!(
        !paragraph.is_empty(),
        "{} does not say what it is",
        file.path
    );
    let end = [". ", "? ", ": "]
        .iter()
        .filter_map(|end| paragraph.find(end).map(|at| at + 1))
        .min();
    let sentence = &paragraph[..end.unwrap_or(paragraph.len())];
    sentence.trim_end_matches([':', '.']).to_owned() + "."
}
