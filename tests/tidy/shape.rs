//! Lengths, and words that no file should have.

use super::{Text, assert_none, files, rust};

/// The most lines of a file.
const FILE_LINES_MAX: usize = 500;
/// The most lines of a function's body, without blank lines and comments.
const FUNCTION_LINES_MAX: usize = 70;
/// The most characters of a line; a quoted text in it may run over.
const LINE_CHARACTERS_MAX: usize = 100;

#[test]
fn no_file_is_too_long() {
    let long = rust().into_iter().filter_map(|file| {
        let lines = file.text.lines().count();
        (lines > FILE_LINES_MAX).then(|| format!("{}: {lines} lines; split it", file.path))
    });
    assert_none(long.collect());
}

#[test]
fn no_line_is_too_long() {
    let mut long = Vec::new();
    for file in rust() {
        for (number, line) in file.lines() {
            let characters = without_quoted(line).chars().count();
            if line.chars().count() > LINE_CHARACTERS_MAX && characters > LINE_CHARACTERS_MAX {
                long.push(format!("{}:{number}: {characters} characters", file.path));
            }
        }
    }
    assert_none(long);
}

fn without_quoted(line: &str) -> String {
    line.split('"').step_by(2).collect()
}

#[test]
fn no_function_is_too_long() {
    let mut long = Vec::new();
    let mut functions = 0;
    for file in rust() {
        let bodies = function_bodies(&file);
        functions += bodies.len();
        for (number, lines) in bodies {
            if lines > FUNCTION_LINES_MAX {
                long.push(format!(
                    "{}:{number}: a function of {lines} lines",
                    file.path
                ));
            }
        }
    }
    assert_none(long);
    assert!(functions > 1000, "only {functions} functions were read");
}

/// The first line and the length of every function's body; the layout of rustfmt ends a body
/// with a brace under the first letter of its head.
fn function_bodies(file: &Text) -> Vec<(usize, usize)> {
    let lines: Vec<&str> = file.text.lines().collect();
    let mut bodies = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let code = line.trim_start();
        let head = [
            "fn ",
            "pub fn ",
            "async fn ",
            "pub async fn ",
            "const fn ",
            "pub const fn ",
        ];
        let within_crate = code.starts_with("pub(") && code.contains(" fn ");
        if !within_crate && !head.iter().any(|head| code.starts_with(head)) {
            continue;
        }
        let indent = &line[..line.len() - code.len()];
        let end = format!("{indent}}}");
        let rest = &lines[at..];
        let Some(open) = rest
            .iter()
            .position(|line| line.ends_with('{') || line.ends_with(';'))
        else {
            continue;
        };
        if !rest[open].ends_with('{') {
            continue;
        }
        let counted = rest[open + 1..]
            .iter()
            .take_while(|line| **line != end)
            .filter(|line| !line.trim().is_empty() && !line.trim_start().starts_with("//"))
            .count();
        bodies.push((at + 1, counted));
    }
    bodies
}

#[test]
fn a_long_function_is_seen() {
    let text = format!(
        "impl A {{\n    pub(super) fn long(\n        &self,\n    ) -> u8 {{\n{}    }}\n}}\n",
        "        a();\n\n        // b\n".repeat(71)
    );
    let file = Text {
        path: "src/a.rs".to_owned(),
        text,
    };
    assert_eq!(function_bodies(&file), [(2, 71)]);
}

/// Words of things left undone. They are put together here, so that this file has none itself.
fn undone() -> [String; 6] {
    [
        ["to", "do!("].concat(),
        ["db", "g!("].concat(),
        ["unimplem", "ented!("].concat(),
        ["FIX", "ME"].concat(),
        ["TO", "DO"].concat(),
        ["X", "XX"].concat(),
    ]
}

#[test]
fn nothing_is_left_undone() {
    let mut found = Vec::new();
    for file in rust() {
        for (number, line) in file.lines() {
            for word in undone().iter().filter(|word| line.contains(word.as_str())) {
                found.push(format!("{}:{number}: {word}", file.path));
            }
        }
    }
    assert_none(found);
}

#[test]
fn nothing_outside_tests_may_panic() {
    let mut found = Vec::new();
    for file in files("src", "rs") {
        for (number, line) in file.lines_outside_tests() {
            let code = line.trim_start();
            let words = [".unwrap()", ".expect(\"", "panic!(", "unreachable!("];
            if let (false, Some(word)) = (
                code.starts_with("//"),
                words.iter().find(|word| code.contains(**word)),
            ) {
                found.push(format!("{}:{number}: {word}", file.path));
            }
        }
    }
    assert_none(found);
}

#[test]
fn imports_are_explicit_outside_tests() {
    let mut found = Vec::new();
    for file in files("src", "rs") {
        for (number, line) in file.lines_outside_tests() {
            if line.trim_start().starts_with("use super::*") {
                found.push(format!("{}:{number}: use super::*", file.path));
            }
        }
    }
    assert_none(found);
}

#[test]
fn only_test_modules_are_built_for_tests_alone() {
    let mut found = Vec::new();
    for file in files("src", "rs") {
        let lines: Vec<&str> = file.text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let module = lines
                .get(at + 1)
                .is_some_and(|next| next.starts_with("mod tests"));
            if line.trim() == "#[cfg(test)]" && !module {
                found.push(format!("{}:{}: not a test module", file.path, at + 1));
            }
        }
    }
    assert_none(found);
}

#[test]
fn names_of_tests_are_behaviours() {
    let mut found = Vec::new();
    for file in rust() {
        let lines: Vec<&str> = file.text.lines().collect();
        for (at, pair) in lines.windows(2).enumerate() {
            let is_test = pair[0].trim() == "#[test]" || pair[0].trim() == "#[tokio::test]";
            if is_test && pair[1].contains("fn test_") {
                found.push(format!("{}:{}: {}", file.path, at + 2, pair[1].trim()));
            }
        }
    }
    assert_none(found);
}
