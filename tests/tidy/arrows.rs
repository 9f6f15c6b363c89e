//! Imports point downwards only, and the pure parts do no input or output.

use std::collections::{BTreeMap, BTreeSet};

use super::{Text, assert_none, files};

/// The parts that a part may use, besides itself. A part that is not listed puts the others
/// together, like `main` and the subcommands, and may use them all.
const MAY_USE: &[(&str, &[&str])] = &[
    ("trade", &[]),
    ("flow", &["trade"]),
    ("check", &["flow", "trade"]),
    ("record", &["flow", "trade"]),
    ("walk", &["record", "flow", "trade"]),
    ("metrics", &[]),
    ("store", &["record", "metrics"]),
    ("report", &["walk", "record", "flow", "trade"]),
    (
        "desk",
        &[
            "store", "report", "walk", "check", "record", "flow", "trade", "metrics",
        ],
    ),
    (
        "channel",
        &[
            "desk", "store", "report", "walk", "check", "record", "flow", "trade", "metrics",
        ],
    ),
];

/// The parts that compute only: what they know of the world comes in as arguments.
const PURE: &[&str] = &["trade", "flow", "check", "record", "walk"];

/// What a pure part does not name.
const OUTSIDE: &[&str] = &[
    "async",
    "tokio",
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "SystemTime",
    "Instant",
    "Timestamp::now",
    "Zoned::now",
    "getrandom",
    "SystemRandom",
    "Uuid::now_v7",
];

/// The part that a file belongs to: `walk` for `src/walk/decide.rs`.
fn part(path: &str) -> &str {
    let below = path.strip_prefix("src/").unwrap();
    below
        .split_once('/')
        .map_or_else(|| below.trim_end_matches(".rs"), |(folder, _)| folder)
}

/// The parts that a line names after `crate::`, also those in one brace.
fn named(line: &str) -> Vec<&str> {
    let mut named = Vec::new();
    for (at, _) in line.match_indices("crate::") {
        let rest = &line[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            Some(inside) => {
                let inside = inside.split_once('}').map_or(inside, |(inside, _)| inside);
                named.extend(inside.split(", ").map(first_name));
            }
            None => named.push(first_name(rest)),
        }
    }
    named
}

fn first_name(path: &str) -> &str {
    let end = path.find(|c: char| !c.is_alphanumeric() && c != '_');
    &path[..end.unwrap_or(path.len())]
}

fn is_comment(line: &str) -> bool {
    line.trim_start().starts_with("//")
}

#[test]
fn imports_point_downwards_only() {
    let allowed: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    let parts: BTreeSet<&str> = allowed.keys().copied().collect();
    let mut wrong = Vec::new();
    let mut arrows = 0;
    for file in files("src", "rs") {
        let from = part(&file.path);
        let Some(may_use) = allowed.get(from) else {
            continue;
        };
        for (number, line) in file.lines().filter(|(_, line)| !is_comment(line)) {
            for to in named(line).into_iter().filter(|to| *to != from) {
                arrows += 1;
                if !may_use.contains(&to) && parts.contains(to) {
                    wrong.push(format!("{}:{number}: {from} may not use {to}", file.path));
                }
            }
        }
    }
    for file in files("src", "rs") {
        for (number, _) in file.lines().filter(|(_, line)| line.ends_with("crate::{")) {
            wrong.push(format!(
                "{}:{number}: give each part a `use` of its own",
                file.path
            ));
        }
    }
    assert_none(wrong);
    assert!(arrows > 100, "only {arrows} arrows were read");
}

#[test]
fn no_part_uses_what_puts_the_parts_together() {
    let listed = |name: &str| MAY_USE.iter().any(|(part, _)| *part == name);
    let together: BTreeSet<String> = files("src", "rs")
        .iter()
        .map(|file| part(&file.path).to_owned())
        .filter(|name| !listed(name))
        .collect();
    let mut wrong = Vec::new();
    for file in files("src", "rs") {
        if !listed(part(&file.path)) {
            continue;
        }
        for (number, line) in file.lines_outside_tests() {
            let names = named(line);
            if let (false, Some(name)) = (
                is_comment(line),
                names.iter().find(|name| together.contains(**name)),
            ) {
                wrong.push(format!("{}:{number}: uses {name}", file.path));
            }
        }
    }
    assert_none(wrong);
}

#[test]
fn pure_parts_name_nothing_of_the_outside() {
    let mut wrong = Vec::new();
    for file in files("src", "rs") {
        if !PURE.contains(&part(&file.path)) {
            continue;
        }
        for (number, line) in file.lines().filter(|(_, line)| !is_comment(line)) {
            for word in OUTSIDE.iter().filter(|word| has_word(line, word)) {
                wrong.push(format!("{}:{number}: names {word}", file.path));
            }
        }
    }
    assert_none(wrong);
}

#[test]
fn only_the_clock_reads_the_time() {
    let mut wrong = Vec::new();
    for file in files("src", "rs") {
        for (number, line) in file.lines_outside_tests() {
            let reads = ["SystemTime::now", "Timestamp::now", "Zoned::now"];
            let read = reads.iter().any(|read| has_word(line, read));
            if read && !is_comment(line) && file.path != "src/desk/clock.rs" {
                wrong.push(format!("{}:{number}: reads the time", file.path));
            }
        }
    }
    assert_none(wrong);
}

/// Whether `line` has `word` by itself, not inside a longer name.
fn has_word(line: &str, word: &str) -> bool {
    let inside_a_name = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    line.match_indices(word).any(|(at, _)| {
        !inside_a_name(line[..at].chars().next_back())
            && !inside_a_name(line[at + word.len()..].chars().next())
    })
}

#[test]
fn a_wrong_arrow_is_seen() {
    assert_eq!(named("use crate::{desk, store::Store};"), ["desk", "store"]);
    assert_eq!(named("pub(crate) use crate::walk::State;"), ["walk"]);
    assert_eq!(
        named("    crate::record::entry::Entry, crate::flow::x"),
        ["record", "flow"]
    );
    assert!(has_word("let t = Timestamp::now();", "Timestamp::now"));
    assert!(!has_word("let instantly = 1; // InstantX", "Instant"));
    assert_eq!(part("src/walk/reading/figures.rs"), "walk");
    assert_eq!(part("src/chat.rs"), "chat");
    let file = Text {
        path: "src/walk/x.rs".to_owned(),
        text: "fn a() {}\n#[cfg(test)]\nmod tests {}\n".to_owned(),
    };
    assert_eq!(file.lines_outside_tests().count(), 1);
}
