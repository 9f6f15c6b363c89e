//! What README.md and DEVELOPERS.md say is there, and the other way round.

use std::collections::BTreeSet;
use std::fs;

use clap::CommandFactory;
use fanwright::cli::CommandLine;

use super::{Text, assert_none, files, root};

/// Everything at the top of the project.
const TOP: &[&str] = &[
    ".ci",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "benches",
    "deny.toml",
    "flows",
    "rustfmt.toml",
    "src",
    "templates",
    "tests",
];

/// What a checkout has beside the project's own files; all of it is ignored by Git.
const LEFT_BY_WORK: &[&str] = &[".git", "target", "data"];

#[test]
fn the_top_level_is_exactly_as_fixed() {
    let found: BTreeSet<String> = fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !LEFT_BY_WORK.contains(&name.as_str()))
        .collect();
    let fixed: BTreeSet<String> = TOP.iter().map(|name| (*name).to_owned()).collect();
    assert_eq!(found, fixed);
}

#[test]
fn every_flow_is_documented() {
    let documents = Text::read("README.md").text + &Text::read("DEVELOPERS.md").text;
    let missing = files("flows", "yaml").into_iter().filter_map(|file| {
        let name = format!("`{}`", file.path);
        (!documents.contains(&name)).then(|| format!("{name} is not documented"))
    });
    assert_none(missing.collect());
}

/// The commands that a document shows in its blocks, one line each, as words.
fn commands(document: &Text) -> Vec<Vec<String>> {
    let mut commands = Vec::new();
    let mut in_block = false;
    let mut carried = String::new();
    for line in document.text.lines() {
        if line.starts_with("```") {
            in_block = !in_block;
            continue;
        }
        let line = line.strip_prefix("$ ").unwrap_or(line);
        let begun = line.starts_with("fanwright ") || line.starts_with("cargo run --release -- ");
        if !in_block || (carried.is_empty() && !begun) {
            continue;
        }
        let line = line.split(" #").next().unwrap().trim_end();
        if let Some(first) = line.strip_suffix('\\') {
            carried.push_str(first);
            continue;
        }
        carried.push_str(line);
        let whole = carried.replacen("cargo run --release --", "fanwright", 1);
        commands.push(whole.split_whitespace().map(str::to_owned).collect());
        carried.clear();
    }
    commands
}

#[test]
fn commands_of_the_documents_are_understood() {
    let mut wrong = Vec::new();
    for document in [Text::read("README.md"), Text::read("DEVELOPERS.md")] {
        let commands = commands(&document);
        if document.path == "README.md" {
            assert!(
                commands.len() >= 5,
                "only {} commands were read",
                commands.len()
            );
        }
        for words in commands {
            if let Err(error) = CommandLine::command().try_get_matches_from(&words) {
                let is_help = error.exit_code() == 0;
                if !is_help {
                    wrong.push(format!("{}: {}: {error}", document.path, words.join(" ")));
                }
            }
        }
    }
    assert_none(wrong);
}

#[test]
fn a_wrong_command_is_seen() {
    let document = Text {
        path: "README.md".to_owned(),
        text: "```\n$ fanwright walk-the-dog\n```\n".to_owned(),
    };
    let commands = commands(&document);
    assert_eq!(commands, [["fanwright", "walk-the-dog"]]);
    CommandLine::command()
        .try_get_matches_from(&commands[0])
        .unwrap_err();
}

#[test]
fn subcommands_and_options_are_documented() {
    let readme = Text::read("README.md").text;
    let mut missing = Vec::new();
    for command in CommandLine::command().get_subcommands() {
        let name = command.get_name();
        if !readme.contains(&format!("`{name}")) && !readme.contains(&format!("fanwright {name}")) {
            missing.push(format!("the subcommand {name}"));
        }
        if name == "serve" {
            for option in command
                .get_arguments()
                .filter_map(|option| option.get_long())
            {
                if !readme.contains(&format!("`--{option}")) {
                    missing.push(format!("serve --{option}"));
                }
            }
        }
    }
    assert_none(missing);
}

/// The documents name only files that are there.
#[test]
fn files_that_the_documents_name_exist() {
    let mut missing = Vec::new();
    for document in [Text::read("README.md"), Text::read("DEVELOPERS.md")] {
        for quoted in document.text.split('`').skip(1).step_by(2) {
            let is_path = ["src/", "tests/", "flows/", "templates/", "benches/", ".ci/"]
                .iter()
                .any(|folder| quoted.starts_with(folder));
            let plain = !quoted.contains(['*', '<', ' ', '…', '{']) && !quoted.contains("NAME");
            if is_path && plain && !root().join(quoted).exists() {
                missing.push(format!("{}: there is no {quoted}", document.path));
            }
        }
    }
    assert_none(missing);
}
