//! Short records in YAML, each with the sentences that it is worth beside it.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};
use serde::Deserialize;
use serde_json::{Value, json};

use super::findings;
use crate::flow::edition::Edition;
use crate::flow::library::{Library, Sources};
use crate::flow::model::{Act, FactType, Step};
use crate::flow::name::{FlowName, StepName};
use crate::record::entry::{Channel, ENTRY_FORMAT, Entry};
use crate::record::person::PersonId;
use crate::record::stands_out::{Known, Rule, Seen, Usual};
use crate::trade::quantity::Unit;

/// What every rule must have.
const KINDS: [&str; 3] = ["fires", "silent", "boundary"];

/// So many entries stand before the first line of every record.
const BEFORE: u64 = 3;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    case: String,
    /// `STEP: [samples, seconds]` of accepted jobs.
    #[serde(default)]
    usual: BTreeMap<String, (usize, u32)>,
    /// `HASH: job` of photos that another job has too; a hash that ends with `~` looks alike.
    #[serde(default)]
    seen: BTreeMap<String, String>,
    record: Vec<Value>,
    /// Sentence, and the lines of the record that caused it, from 1.
    expect: Vec<(String, Vec<u64>)>,
}

/// Every case of the rule's file, and that the file has one of each kind.
fn holds(rule: Rule, text: &str) {
    let cases: Vec<Case> = serde_yaml::from_str(text).unwrap();
    for kind in KINDS {
        let has = cases.iter().any(|case| case.case.starts_with(kind));
        assert!(has, "{rule:?} has no case `{kind}`");
    }
    let edition = edition();
    for case in cases {
        let record = record(&edition, &case);
        let found = findings(&edition, &record, &known(&case));
        assert!(
            found.iter().all(|finding| finding.rule == rule),
            "{rule:?}, {}: {found:#?}",
            case.case
        );
        let found: Vec<(String, Vec<u64>)> = found
            .into_iter()
            .map(|finding| {
                let entries = finding.entries.iter().map(|seq| seq.0 - BEFORE).collect();
                (finding.sentence, entries)
            })
            .collect();
        assert_eq!(found, case.expect, "{rule:?}, {}", case.case);
        assert_eq!(
            case.case.starts_with("fires"),
            !case.expect.is_empty() && !case.case.starts_with("boundary"),
            "{}: {rule:?}",
            case.case
        );
    }
}

fn edition() -> Edition {
    let mut sources = Sources::default();
    for (name, text) in [
        ("look.yaml", include_str!("cases/look.yaml")),
        ("prove.yaml", include_str!("cases/prove.yaml")),
    ] {
        sources.files.insert(name.to_owned(), text.to_owned());
    }
    let library = Library::load(sources).unwrap();
    library.edition(&FlowName::from("look")).unwrap()
}

fn known(case: &Case) -> Known {
    let flow = FlowName::from("look");
    let usual = |(step, (samples, low_seconds)): (&String, &(usize, u32))| {
        let usual = Usual {
            samples: *samples,
            low_seconds: *low_seconds,
        };
        ((flow.clone(), StepName::from(step.as_str())), usual)
    };
    let seen = |(hash, job): (&String, &String)| Seen {
        original: hash.trim_end_matches('~').to_owned(),
        job: job.clone(),
        same_file: !hash.ends_with('~'),
    };
    Known {
        usual: case.usual.iter().map(usual).collect(),
        seen: case.seen.iter().map(seen).collect(),
    }
}

/// A job that begins at 08:00 at its first step, then what the case says.
fn record(edition: &Edition, case: &Case) -> Vec<Entry> {
    let flow = edition.root_flow().unwrap();
    let ann = PersonId(uuid::Uuid::from_u128(1));
    let mut step = flow.step(&flow.start).unwrap();
    let begun = json!({
        "what": "begun",
        "pins": {
            "flow": "look", "edition": edition.hash(), "crew": "", "evaporator": "", "kit": "",
            "speed_book": "", "training": false,
        },
        "holder": ann,
        "sources": [{ "name": "fan", "kind": "electrical", "label": "Fan circuit", "fed_by": null }],
    });
    let entered = json!({
        "what": "entered", "flow": "look", "instance": 1, "reproof": false, "facts": {},
        "sources": { "fan": "fan" },
    });
    let mut record = vec![
        entry(at("08:00:00"), Some(ann), begun),
        entry(at("08:00:00"), Some(ann), entered),
        entry(
            at("08:00:00"),
            Some(ann),
            json!({ "what": "went", "step": flow.start }),
        ),
    ];
    for line in &case.record {
        let time = at(line["at"].as_str().unwrap());
        if let Some(name) = line["went"].as_str() {
            step = flow.step(&StepName::from(name)).unwrap();
        }
        let who = (line["by"] != json!("time")).then_some(ann);
        record.push(entry(time, who, what(flow, step, line)));
    }
    record
}

fn entry(at: Timestamp, who: Option<PersonId>, what: Value) -> Entry {
    Entry {
        v: ENTRY_FORMAT,
        at,
        who,
        channel: Channel::Terminal,
        what: serde_json::from_value(what.clone()).unwrap_or_else(|e| panic!("{what}: {e}")),
    }
}

/// `08:00:00` on the day of the job; `26:00:00` is the day after.
fn at(text: &str) -> Timestamp {
    let parts: Vec<i64> = text.split(':').map(|part| part.parse().unwrap()).collect();
    let day: Timestamp = "2031-05-04T00:00:00Z".parse().unwrap();
    day + SignedDuration::from_secs(parts[0] * 3_600 + parts[1] * 60 + parts[2])
}

/// The short forms of a case, or an entry as it is kept.
fn what(flow: &crate::flow::model::Flow, step: &Step, line: &Value) -> Value {
    if let Some(went) = line["went"].as_str() {
        return json!({ "what": "went", "step": went });
    }
    let answer = if line["done"] == json!(true) {
        json!({ "kind": "done" })
    } else if let Some(key) = line["says"].as_str() {
        let fact = flow.facts.get(step.asks_for().unwrap()).unwrap();
        let FactType::OneOf(choices) = &fact.holds else {
            panic!("{} has no choices", step.name)
        };
        json!({ "kind": "choice", "key": key, "label": choices[key] })
    } else if let Some(read) = line["reads"].as_str() {
        json!({ "kind": "reading", "reading": reading(read) })
    } else if let Some(hash) = line["photo"].as_str() {
        let photo = json!({ "stored": hash, "original": hash, "taken": line.get("taken") });
        json!({ "kind": "photo", "photo": photo })
    } else {
        let mut what = line.clone();
        for key in ["at", "by"] {
            what.as_object_mut().unwrap().remove(key);
        }
        return what;
    };
    let band = line.get("expected").map(|band| {
        let value = |end: usize| reading(band[end].as_str().unwrap())["value"].clone();
        json!({ "low": value(0), "high": value(1) })
    });
    if line["again"] == json!(true) {
        let reading = answer["reading"].clone();
        return json!({ "what": "read_again", "step": step.name, "reading": reading, "band": band });
    }
    let asks = !matches!(step.act, Act::Confirm { .. } | Act::Tell { .. });
    json!({
        "what": "answered",
        "step": step.name,
        "answer": answer,
        "fact": asks.then(|| step.asks_for()).flatten(),
        "amends": line["amends"] == json!(true),
        "beside": null,
        "band": band,
    })
}

/// `208 V` as somebody typed it.
fn reading(text: &str) -> Value {
    let (number, symbol) = text.split_once(' ').unwrap();
    let unit = Unit::typed_of_any_kind(symbol).unwrap();
    let value = unit.of(number.parse().unwrap());
    json!({ "value": value, "typed": text, "unit": unit.symbol })
}

macro_rules! rules {
    ($($name:ident: $rule:ident),* $(,)?) => {
        $(
            #[test]
            fn $name() {
                let text = include_str!(concat!("cases/", stringify!($name), ".yaml"));
                holds(Rule::$rule, text);
            }
        )*
    };
}

rules! {
    answered_fast: AnsweredFast,
    out_of_band: OutOfBand,
    all_the_same: AllTheSame,
    round_numbers: RoundNumbers,
    photo_before_job: PhotoBeforeJob,
    photo_seen_before: PhotoSeenBefore,
    proof_long_before: ProofLongBefore,
    changed_after_hand_in: ChangedAfterHandIn,
    long_gap: LongGap,
    hold_missing: HoldMissing,
}
