//! `fanwright check` as it is used: exit statuses, formats, pages.

use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .arg("check")
        .args(args)
        .output()
        .unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// A folder with the shipped flows, of which one no longer waits for the charge to drain.
fn hurried() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("flows");
    std::fs::create_dir(folder.path().join("pictures")).unwrap();
    for part in ["", "pictures"] {
        for entry in std::fs::read_dir(shipped.join(part)).unwrap() {
            let from = entry.unwrap().path();
            let name = from.file_name().unwrap();
            if from.is_file() {
                std::fs::copy(&from, folder.path().join(part).join(name)).unwrap();
            }
        }
    }
    let path = folder.path().join("make-safe.yaml");
    let flow = std::fs::read_to_string(&path).unwrap();
    let hurried = flow.replace("    sets: { stored_charge: waited }\n", "");
    assert_ne!(flow, hurried);
    std::fs::write(&path, hurried).unwrap();
    folder
}

#[test]
fn the_shipped_flows_are_clean_and_what_is_guarded_is_said() {
    let output = run(&[]);
    assert_eq!(output.status.code(), Some(0));
    let told = text(&output);
    assert!(told.contains("nothing wrong"), "{told}");
    assert!(told.contains("Guarded while a job is walked"), "{told}");
}

#[test]
fn findings_end_with_one_and_show_line_caret_walk_and_mend() {
    let folder = hurried();
    let output = run(&[folder.path().to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(1));
    let told = text(&output);
    for wanted in [
        "`prove_leads` tests Stored charge (here: still charged). [charge_tested_before_its_wait]",
        "| ",
        "^",
        "walk: dead-fan/begin → ",
        "why: ",
        "mend: ",
        "fanwright check --explain NAME",
    ] {
        assert!(told.contains(wanted), "{wanted} is missing in\n{told}");
    }
}

#[test]
fn what_cannot_be_looked_at_ends_with_two() {
    assert_eq!(run(&["/no/such/folder"]).status.code(), Some(2));
    assert_eq!(run(&["--explain", "no_such_name"]).status.code(), Some(2));
    assert_eq!(run(&["--format", "no_such_format"]).status.code(), Some(2));
}

#[test]
fn a_file_that_is_no_text_gives_one_finding_with_its_place() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("a.yaml"), b"flow: a\ntitle: \xff\n").unwrap();
    let output = run(&[folder.path().to_str().unwrap(), "--format", "json"]);
    assert_eq!(output.status.code(), Some(1));
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    let findings = told["findings"].as_array().unwrap();
    assert_eq!(findings.len(), 1, "{told:#}");
    assert_eq!(findings[0]["name"], "unreadable_file");
    assert_eq!(
        (&findings[0]["line"], &findings[0]["column"]),
        (&2.into(), &8.into())
    );
}

#[test]
fn every_page_is_printed() {
    let all = text(&run(&["--explain", "all"]));
    for page in fanwright::check::pages() {
        assert!(all.contains(&format!("# {}\n", page.name)), "{}", page.name);
        let one = run(&["--explain", page.name]);
        assert_eq!(one.status.code(), Some(0));
        assert_eq!(text(&one).trim(), page.text.trim());
    }
}

/// What sections 3.13, 3.14, 3.19, 3.27 and 3.36 of SARIF 2.1.0 (OASIS Standard, 2020) ask for
/// of the objects that are written.
#[test]
fn sarif_has_what_the_standard_asks_for() {
    let folder = hurried();
    let output = run(&[folder.path().to_str().unwrap(), "--format", "sarif"]);
    assert_eq!(output.status.code(), Some(1));
    let log: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(log["version"], "2.1.0"); // 3.13.2
    assert!(
        log["$schema"]
            .as_str()
            .unwrap()
            .contains("sarif-schema-2.1.0")
    );
    let run = &log["runs"][0]; // 3.14
    assert_eq!(run["columnKind"], "unicodeCodePoints"); // 3.14.17
    let driver = &run["tool"]["driver"]; // 3.18.2
    assert_eq!(driver["name"], "fanwright"); // 3.19.8
    let rules = driver["rules"].as_array().unwrap(); // 3.19.23
    let results = run["results"].as_array().unwrap(); // 3.14.23
    assert!(!results.is_empty());
    for result in results {
        let index = usize::try_from(result["ruleIndex"].as_u64().unwrap()).unwrap(); // 3.27.6
        assert_eq!(rules[index]["id"], result["ruleId"]); // 3.27.5
        assert!(["error", "note"].contains(&result["level"].as_str().unwrap())); // 3.27.10
        assert!(!result["message"]["text"].as_str().unwrap().is_empty()); // 3.27.11
        let place = &result["locations"][0]["physicalLocation"]; // 3.27.12
        let uri = place["artifactLocation"]["uri"].as_str().unwrap(); // 3.4.3
        assert!(!uri.contains(' ') && uri.ends_with(".yaml"));
        assert!(place["region"]["startLine"].as_u64().unwrap() >= 1); // 3.30.5
        assert!(place["region"]["startColumn"].as_u64().unwrap() >= 1); // 3.30.6
        for flow in result["codeFlows"].as_array().into_iter().flatten() {
            let locations = flow["threadFlows"][0]["locations"].as_array().unwrap(); // 3.36.3
            assert!(!locations.is_empty()); // 3.37.6
        }
    }
}
