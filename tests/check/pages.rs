//! The page of every finding name, and its examples: the bad one has that finding, on the line
//! that says so, and no other; the good one has none.

use std::collections::BTreeSet;

use fanwright::check::{self, Page};
use fanwright::flow::library::Sources;

use super::told;

const HEADINGS: [&str; 5] = [
    "What it finds",
    "Why",
    "How to mend it",
    "A bad example",
    "A good example",
];

/// Flows that examples may run without showing them.
const COMMON: [(&str, &str); 2] = [
    (
        "lock-off",
        include_str!("../../src/check/pages/common/lock-off.yaml"),
    ),
    (
        "put-back",
        include_str!("../../src/check/pages/common/put-back.yaml"),
    ),
];

/// The flows of an example, with the common ones that they lean on.
fn sources(page: Page, heading: &str) -> Sources {
    let text = page.under(heading).unwrap();
    let block = text
        .strip_prefix("```yaml\n")
        .and_then(|text| text.strip_suffix("\n```"));
    let block = block.unwrap_or_else(|| panic!("{}: {heading} is no block", page.name));
    let mut sources = Sources::default();
    for (number, flow) in block.split("---\n").enumerate() {
        let file = format!("example-{number}.yaml");
        sources.files.insert(file, format!("{flow}\n"));
    }
    loop {
        let texts: Vec<String> = sources.files.values().cloned().collect();
        let before = sources.files.len();
        for (name, text) in COMMON {
            let named = |key: &str| {
                texts
                    .iter()
                    .any(|text| text.contains(&format!("{key}: {name}")))
            };
            if named("run") || named("proved_by") {
                sources
                    .files
                    .insert(format!("{name}.yaml"), text.to_owned());
            }
        }
        if sources.files.len() == before {
            break;
        }
    }
    let pictures = texts_of(&sources).contains("lock-and-tag");
    if pictures {
        let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\"/>";
        sources.pictures.insert("lock-and-tag".into(), svg.into());
    }
    sources
}

fn texts_of(sources: &Sources) -> String {
    sources.files.values().cloned().collect()
}

/// The file and line of every `finds NAME` of an example.
fn expected(sources: &Sources) -> BTreeSet<(String, u32, String)> {
    let mut expected = BTreeSet::new();
    if texts_of(sources).contains("pictures/lock-and-tag.svg, and nothing") {
        let file = "pictures/lock-and-tag.svg".to_owned();
        expected.insert((file, 1, "picture_never_shown".to_owned()));
    }
    for (file, text) in &sources.files {
        for (line, number) in text.lines().zip(1..) {
            if let Some((_, name)) = line.split_once("# finds ") {
                expected.insert((file.clone(), number, name.trim().to_owned()));
            }
        }
    }
    expected
}

#[test]
fn every_page_has_its_headings_in_order() {
    for page in check::pages() {
        let headings: Vec<&str> = page
            .text
            .lines()
            .filter_map(|line| line.strip_prefix("## "))
            .collect();
        assert_eq!(headings, HEADINGS, "{}", page.name);
        assert!(page.text.starts_with(&format!("# {}\n", page.name)));
    }
}

#[test]
fn every_name_has_one_page_and_every_page_a_name() {
    let names: BTreeSet<String> = check::pages().map(|page| page.name.to_owned()).collect();
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/check/pages");
    let files: BTreeSet<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "md"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(names, files);
    assert_eq!(check::pages().count(), names.len());
}

#[test]
fn the_language_reference_names_every_finding_with_its_grade() {
    let reference = include_str!("../../flows/LANGUAGE.md");
    for page in check::pages() {
        let row = format!(
            "| [`{0}`](../src/check/pages/{0}.md) | {1} |",
            page.name,
            page.grade.word()
        );
        assert!(reference.contains(&row), "{row} is missing");
    }
}

#[test]
fn every_bad_example_has_its_finding_and_no_other() {
    let mut wrong = Vec::new();
    for page in check::pages() {
        let sources = sources(page, "A bad example");
        let expected = expected(&sources);
        let findings = check::findings(sources);
        let found: BTreeSet<(String, u32, String)> = findings
            .iter()
            .map(|it| (it.file.clone(), it.line, it.name.to_owned()))
            .collect();
        let names_itself = expected.iter().any(|(_, _, name)| name == page.name);
        if found != expected || !names_itself {
            wrong.push(format!(
                "{}: expected {expected:?}, found\n{}",
                page.name,
                told(&findings)
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_good_example_has_no_finding() {
    let mut wrong = Vec::new();
    for page in check::pages() {
        let findings = check::findings(sources(page, "A good example"));
        if !findings.is_empty() {
            wrong.push(format!("{}:\n{}", page.name, told(&findings)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
