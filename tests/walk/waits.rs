//! Every wait of the shipped flows: it cannot be skipped, ends when its time has come, and where
//! it is for safety's sake begins again when it is not sure how much time went by.

use std::collections::BTreeMap;

use fanwright::flow::model::{Act, Step};
use fanwright::flow::name::{FactName, FlowName};
use fanwright::record::entry::{Channel, ENTRY_FORMAT, Entry, What};
use fanwright::trade::formula::Value;
use fanwright::trade::quantity::{Kind, Quantity};
use fanwright::walk;
use fanwright::walk::context::Context;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use fanwright::walk::refusal::Refusal;

use super::bench::{Bench, EDITION, Person, context, crew};

/// A fact in a wait's time is so long, seconds.
const TOLD: f64 = 240.0;

/// The waits that the trade knows by name, each with its step.
const NAMED: [(&str, &str, &str); 5] = [
    ("capacitor", "make-safe", "charge_wait"),
    (
        "capacitor, by its plate",
        "make-safe",
        "charge_wait_printed",
    ),
    ("defrost", "meant-to-be-off", "defrost_wait"),
    ("drip", "meant-to-be-off", "drip_wait"),
    ("soft start", "live-checks", "soft_start"),
];

pub(super) fn happens(bench: &mut Bench, person: &Person, what: What) {
    let entry = Entry {
        v: ENTRY_FORMAT,
        at: bench.now,
        who: Some(person.id),
        channel: Channel::Terminal,
        what,
    };
    walk::apply(&mut bench.state, &entry);
    bench.entries.push(entry);
}

/// A job that stands before this wait and just went on after a pause.
fn waiting(flow: &FlowName, step: &Step, person: &Person) -> Bench {
    let Act::Wait { long, .. } = &step.act else {
        panic!("{} is no wait", step.name)
    };
    let told = |name: &FactName| {
        let long = Quantity {
            si: TOLD,
            kind: Kind::Duration,
        };
        (name.clone(), Value::Quantity(long))
    };
    let facts: BTreeMap<FactName, Value> = long.facts().into_iter().map(told).collect();
    let mut bench = Bench::begin(person);
    let sources = Default::default();
    let whats = [
        What::Entered {
            flow: flow.clone(),
            instance: 1,
            reproof: false,
            facts,
            sources,
        },
        What::Went {
            step: step.name.clone(),
        },
        What::Paused,
    ];
    for what in whats {
        happens(&mut bench, person, what);
    }
    bench.give(person, &Input::Resume).unwrap();
    bench
}

fn go(bench: &mut Bench, person: &Person) -> Result<usize, Refusal> {
    let revision = bench.state.revision;
    let key = walk::GO.into();
    bench.give(person, &Input::Press { revision, key })
}

/// What time itself does.
fn time(bench: &mut Bench, input: &Input) -> usize {
    let nobody = Person::new(0, &[]);
    let context = Context {
        who: None,
        ..context(&nobody, bench.now)
    };
    let new = walk::decide(&bench.edition, &bench.state, input, &context).unwrap();
    for entry in &new {
        walk::apply(&mut bench.state, entry);
    }
    let count = new.len();
    bench.entries.extend(new);
    count
}

fn holds(flow: &FlowName, step: &Step, safety: bool) {
    let [_, person, ..] = crew();
    let mut bench = waiting(flow, step, &person);
    let name = format!("{flow}/{}", step.name);
    let until = bench
        .state
        .doing
        .until
        .unwrap_or_else(|| panic!("{name} does not wait"));
    let seconds = until.as_second() - bench.now.as_second();
    assert!(seconds > 0, "{name}");
    let asks = &bench.prompt(&person).ask;
    assert!(matches!(asks, Ask::Wait { .. }), "{name}: {asks:?}");
    // Neither a press, nor a word, nor time itself ends it before its time.
    bench.pass(seconds - 1);
    let early = go(&mut bench, &person);
    assert!(
        matches!(early, Err(Refusal::TooEarly { .. })),
        "{name}: {early:?}"
    );
    assert!(
        bench
            .give(&person, &Input::Text("skip".to_owned()))
            .is_err(),
        "{name}"
    );
    assert_eq!(time(&mut bench, &Input::WaitOver { until }), 0, "{name}");
    let again = time(&mut bench, &Input::ClockUncertain);
    assert_eq!(again, usize::from(safety), "{name} after a restart");
    let end = bench.state.doing.until.unwrap();
    let whole = bench.now.as_second() + seconds;
    assert_eq!(
        end.as_second(),
        if safety { whole } else { until.as_second() },
        "{name}"
    );
    bench.now = end;
    assert_eq!(
        time(&mut bench, &Input::WaitOver { until: end }),
        1,
        "{name} pings once"
    );
    assert_eq!(
        time(&mut bench, &Input::WaitOver { until: end }),
        0,
        "{name} and not again"
    );
    let asks = &bench.prompt(&person).ask;
    assert!(matches!(asks, Ask::Press(_)), "{name}: {asks:?}");
}

#[test]
fn no_wait_of_the_shipped_flows_can_be_skipped_and_each_ends_in_its_time() {
    let mut met = Vec::new();
    for flow in EDITION.flows() {
        for step in flow.steps.values() {
            if let Act::Wait { safety, .. } = &step.act {
                holds(&flow.name, step, *safety);
                met.push((flow.name.to_string(), step.name.to_string()));
            }
        }
    }
    for (what, flow, step) in NAMED {
        let named = (flow.to_owned(), step.to_owned());
        assert!(met.contains(&named), "{what}: {flow}/{step} is gone");
    }
}

#[test]
fn what_waits_for_a_stored_charge_begins_again_when_time_is_not_sure() {
    for (what, flow, step) in NAMED {
        let step = EDITION.step(&flow.into(), &step.into()).unwrap();
        if what.starts_with("capacitor") {
            assert!(matches!(step.act, Act::Wait { safety: true, .. }), "{what}");
        }
    }
}
