//! The pages about security name only what is there.

use std::collections::{BTreeMap, BTreeSet};

use super::{Text, assert_none, root};

const PAGES: [&str; 3] = [
    "tests/security/THREATS.md",
    "tests/security/LIMITS.md",
    "tests/security/ASVS.md",
];

/// The sections of OWASP ASVS 5.0.0 that have items of level 1 or 2, with the numbers of those
/// items: read from its published table of requirements.
const SECTIONS: &str = "1.1:1-2 1.2:1-9 1.3:1-11 1.4:1-3 1.5:1-2 2.1:1-3 2.2:1-3 2.3:1-4 2.4:1-1 \
    3.2:1-2 3.3:1-4 3.4:1-6 3.5:1-5 3.7:1-2 4.1:1-3 4.2:1-1 4.3:1-2 4.4:1-4 5.1:1-1 5.2:1-3 \
    5.3:1-2 5.4:1-3 6.1:1-3 6.2:1-12 6.3:1-4 6.4:1-4 6.5:1-5 6.6:1-3 6.8:1-4 7.1:1-3 7.2:1-4 \
    7.3:1-2 7.4:1-5 7.5:1-2 7.6:1-2 8.1:1-2 8.2:1-3 8.3:1-1 8.4:1-1 9.1:1-3 9.2:1-4 10.1:1-2 \
    10.2:1-2 10.3:1-4 10.4:1-11 10.5:1-5 10.6:1-2 10.7:1-3 11.1:1-2 11.2:1-3 11.3:1-3 11.4:1-4 \
    11.5:1-1 11.6:1-1 12.1:1-3 12.2:1-2 12.3:1-4 13.1:1-1 13.2:1-5 13.3:1-2 13.4:1-5 14.1:1-2 \
    14.2:1-4 14.3:1-3 15.1:1-3 15.2:1-3 15.3:1-7 16.1:1-1 16.2:1-5 16.3:1-4 16.4:1-3 16.5:1-3 \
    17.1:1-1 17.2:1-4 17.3:1-2";

/// What stands in backticks and begins like a path of the project.
fn named(text: &str) -> impl Iterator<Item = &str> {
    let quoted = text.split('`').skip(1).step_by(2);
    quoted.filter(|word| {
        let folders = ["src/", "tests/", "flows/", "templates/", ".ci/"];
        folders.iter().any(|folder| word.starts_with(folder))
    })
}

/// Why a name is none, if it is.
fn trouble(name: &str) -> Option<String> {
    let (file, test) = match name.split_once("::") {
        Some((file, test)) => (file, Some(test)),
        None => (name, None),
    };
    if !root().join(file).exists() {
        return Some(format!("there is no {file}"));
    }
    let test = test?;
    let text = Text::read(file);
    let lines: Vec<&str> = text.text.lines().map(str::trim).collect();
    let begins = format!("fn {test}(");
    let at = lines
        .iter()
        .position(|line| line.trim_start_matches("async ").starts_with(&begins));
    let is_test = at.is_some_and(|at| {
        let before = lines[..at].iter().rev().take(4);
        // A property stands behind `#[test]` too, perhaps with a line between.
        before.clone().any(|line| line.ends_with("test]"))
    });
    (!is_test).then(|| format!("there is no test {name}"))
}

#[test]
fn every_test_and_file_that_the_security_pages_name_is_there() {
    let mut wrong = Vec::new();
    let mut names = 0;
    for page in PAGES {
        let text = Text::read(page).text;
        for name in named(&text) {
            names += 1;
            wrong.extend(trouble(name).map(|told| format!("{page}: {told}")));
        }
    }
    assert_none(wrong);
    assert!(names > 200, "only {names} names were read");
}

/// The cells of each row of the tables of a page, their heads left out.
fn rows(page: &str) -> Vec<Vec<String>> {
    let text = Text::read(page).text;
    let lines = text.lines().filter(|line| line.starts_with('|'));
    let cells = lines.map(|line| {
        let inner = line.trim_matches('|').split(" | ");
        inner.map(|cell| cell.trim().to_owned()).collect()
    });
    cells.collect()
}

#[test]
fn every_threat_names_its_test_or_says_that_it_has_none() {
    let text = Text::read("tests/security/THREATS.md").text;
    let tables = text
        .split("\n## ")
        .filter(|part| part.contains("| threat |"));
    let rows = tables.flat_map(|part| part.lines().filter(|line| line.starts_with("| ")));
    let rows: Vec<&str> = rows.filter(|row| !row.starts_with("| threat ")).collect();
    let wrong = rows.iter().filter(|row| {
        let last = row.trim_end_matches(" |").rsplit(" | ").next().unwrap();
        named(last).next().is_none() && !last.starts_with("none: ")
    });
    assert_none(wrong.map(|row| (*row).to_owned()).collect());
    assert!(rows.len() > 60, "only {} threats were read", rows.len());
}

#[test]
fn every_item_of_the_standard_has_one_row_with_what_shows_it_or_why_not() {
    let mut expected = BTreeSet::new();
    for section in SECTIONS.split_whitespace() {
        let (section, numbers) = section.split_once(':').unwrap();
        let (from, to) = numbers.split_once('-').unwrap();
        let (from, to): (u32, u32) = (from.parse().unwrap(), to.parse().unwrap());
        expected.extend((from..=to).map(|number| format!("{section}.{number}")));
    }
    // The preface of the standard: 70 items of level 1, 183 of level 2.
    assert_eq!(expected.len(), 253);
    let mut found = BTreeSet::new();
    let mut states: BTreeMap<String, usize> = BTreeMap::new();
    let mut wrong = Vec::new();
    let rows = rows("tests/security/ASVS.md");
    let is_item = |row: &&Vec<String>| row.len() == 4 && row[0].split('.').count() == 3;
    for row in rows.iter().filter(is_item) {
        let [item, _, state, why] = row.as_slice() else {
            continue;
        };
        *states.entry(state.clone()).or_default() += 1;
        if !found.insert(item.clone()) {
            wrong.push(format!("{item} has two rows"));
        }
        let shows = named(why).next().is_some() || why.contains(".md") || why.contains('`');
        let fits = match state.as_str() {
            "yes" => shows || why.len() > 20,
            "partly" | "no" => why.len() > 20,
            "n/a" => !why.is_empty(),
            _ => false,
        };
        if !fits {
            wrong.push(format!("{item}: {state}: {why}"));
        }
    }
    wrong.extend(
        expected
            .difference(&found)
            .map(|item| format!("{item} is missing")),
    );
    wrong.extend(
        found
            .difference(&expected)
            .map(|item| format!("there is no {item}")),
    );
    let counts = ["yes", "partly", "no", "n/a"].map(|state| states[state].to_string());
    let told = rows.iter().find(|row| row[0] == "items").unwrap();
    if told[1..] != counts {
        wrong.push(format!("the sums are {counts:?}"));
    }
    assert_none(wrong);
}
