//! Findings as SARIF 2.1.0 (OASIS Standard, Static Analysis Results Interchange Format).

use serde::Serialize;

use super::Checked;
use crate::check::{self, Finding, Grade};

const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

#[derive(Serialize)]
struct Log {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run {
    tool: Tool,
    column_kind: &'static str,
    results: Vec<Outcome>,
}

#[derive(Serialize)]
struct Tool {
    driver: Driver,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Driver {
    name: &'static str,
    semantic_version: &'static str,
    rules: Vec<Described>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Described {
    id: &'static str,
    short_description: Text,
    help: Text,
    default_configuration: Configuration,
}

#[derive(Serialize)]
struct Configuration {
    level: &'static str,
}

#[derive(Serialize)]
struct Text {
    text: String,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Outcome {
    rule_id: &'static str,
    rule_index: usize,
    level: &'static str,
    message: Text,
    locations: [Location; 1],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    code_flows: Vec<CodeFlow>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Location {
    physical_location: Physical,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Physical {
    artifact_location: Artifact,
    region: Region,
}

#[derive(Serialize)]
struct Artifact {
    uri: String,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Region {
    start_line: u32,
    start_column: u32,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct CodeFlow {
    thread_flows: [ThreadFlow; 1],
}

#[derive(Serialize)]
struct ThreadFlow {
    locations: Vec<OnTheWay>,
}

#[derive(Serialize)]
struct OnTheWay {
    location: Named,
}

#[derive(Serialize)]
struct Named {
    message: Text,
}

fn text(text: impl Into<String>) -> Text {
    Text { text: text.into() }
}

fn level(grade: Grade) -> &'static str {
    match grade {
        Grade::Error => "error",
        Grade::Advice => "note",
    }
}

/// All findings as one log.
pub(super) fn told(checked: &Checked) -> Result<String, String> {
    let rules = check::pages().map(|page| Described {
        id: page.name,
        short_description: text(page.under("What it finds").unwrap_or(page.name)),
        help: text(page.text),
        default_configuration: Configuration {
            level: level(page.grade),
        },
    });
    let driver = Driver {
        name: "fanwright",
        semantic_version: env!("CARGO_PKG_VERSION"),
        rules: rules.collect(),
    };
    let results = checked.findings.iter();
    let log = Log {
        schema: SCHEMA,
        version: "2.1.0",
        runs: [Run {
            tool: Tool { driver },
            column_kind: "unicodeCodePoints",
            results: results.map(|finding| outcome(checked, finding)).collect(),
        }],
    };
    serde_json::to_string_pretty(&log).map_err(|why| format!("No SARIF can be made of it: {why}."))
}

fn outcome(checked: &Checked, finding: &Finding) -> Outcome {
    let walk = finding.walk.iter().map(|stop| {
        let place = format!("{}/{}", stop.flow, stop.step);
        let note = stop.note.as_ref();
        OnTheWay {
            location: Named {
                message: text(note.map_or(place.clone(), |note| format!("{place}: {note}"))),
            },
        }
    });
    let locations: Vec<OnTheWay> = walk.collect();
    let code_flows = if locations.is_empty() {
        Vec::new()
    } else {
        vec![CodeFlow {
            thread_flows: [ThreadFlow { locations }],
        }]
    };
    Outcome {
        rule_id: finding.name,
        rule_index: check::pages()
            .position(|page| page.name == finding.name)
            .unwrap_or(0),
        level: level(finding.grade),
        message: text(format!("{} {}", finding.wrong, finding.mend).trim_end()),
        locations: [Location {
            physical_location: Physical {
                artifact_location: Artifact {
                    uri: uri(&checked.path(&finding.file)),
                },
                region: Region {
                    start_line: finding.line.max(1),
                    start_column: finding.column.max(1),
                },
            },
        }],
        code_flows,
    }
}

/// A path as a relative or absolute reference of RFC 3986: what is no plain character of a
/// path is written as `%` and its bytes.
fn uri(path: &str) -> String {
    let mut uri = String::new();
    for byte in path.replace('\\', "/").bytes() {
        let plain = byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte);
        if plain {
            uri.push(char::from(byte));
        } else {
            uri.push_str(&format!("%{byte:02X}"));
        }
    }
    uri
}
