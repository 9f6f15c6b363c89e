//! The shipped flows against the published rules of lockout: every step that the rules ask for is
//! there and says where it comes from, and the order holds on every way through.

mod rows;
mod ways;

use std::sync::LazyLock;

use fanwright::flow::embedded;
use fanwright::flow::library::Library;
use fanwright::flow::model::{Act, Danger, FactType, Flow, Setting, Step};
use fanwright::flow::name::{FlowName, StepName};
use fanwright::trade::lockout::{APPLY_ORDER, ApplyStep, RELEASE_ORDER, ReleaseStep};

use rows::{EIGHT_STEPS, ELECTRICAL, LOCKOUT, RELEASE, Row};
use ways::{Fixed, Ways, Which};

static LIBRARY: LazyLock<Library> = LazyLock::new(|| embedded::library().unwrap());

fn flow(name: &str) -> &'static Flow {
    &LIBRARY.flows()[&FlowName::from(name)]
}

/// What is missing of `rows` in the shipped flows.
fn missing(rows: &[Row]) -> Vec<String> {
    let mut missing = Vec::new();
    for row in rows {
        for place in row.steps {
            let (in_flow, name) = place.split_once('/').unwrap();
            let step = LIBRARY
                .flows()
                .get(&FlowName::from(in_flow))
                .and_then(|flow| flow.step(&StepName::from(name)));
            match step {
                None => missing.push(format!("{}: there is no step {place}.", row.what)),
                Some(step) if !cites(step, row.cite) => missing.push(format!(
                    "{}: {place} does not cite {}; it cites {:?}.",
                    row.what, row.cite, step.cite
                )),
                Some(_) => {}
            }
        }
    }
    missing
}

/// Whether the step cites `paragraph` or one inside it.
fn cites(step: &Step, paragraph: &str) -> bool {
    step.cite.iter().any(|cite| {
        cite.strip_prefix(paragraph)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with(['(', ' ']))
    })
}

fn sets(step: &Step, wanted: Setting) -> bool {
    step.sets.iter().any(|(_, setting)| *setting == wanted)
}

fn sets_source(step: &Step, wanted: Setting, source: &str) -> bool {
    let mut sets = step.sets.iter();
    sets.any(|(name, setting)| *setting == wanted && name.it.as_str() == source)
}

fn proves(step: &Step, source: &str) -> bool {
    match &step.act {
        Act::ProveDead(proof) => {
            let mut sources = proof.sources.iter();
            sources.any(|(name, _)| name.it.as_str() == source)
        }
        _ => false,
    }
}

fn made_safe(step: &Step) -> bool {
    matches!(&step.act, Act::Finish { outcome } if outcome.as_str() == "made_safe")
}

#[test]
fn every_paragraph_has_its_steps() {
    for rows in [LOCKOUT, RELEASE, ELECTRICAL, EIGHT_STEPS] {
        let missing = missing(rows);
        assert!(missing.is_empty(), "{}", missing.join("\n"));
    }
}

#[test]
fn every_step_of_the_published_orders_has_a_row() {
    let cited = |rows: &[Row], cite: &str| {
        let whole = format!("29 CFR 1910.147{cite}");
        rows.iter().any(|row| row.cite.starts_with(&whole))
    };
    for step in APPLY_ORDER {
        assert!(cited(LOCKOUT, step.cite()), "{step:?}");
    }
    for step in RELEASE_ORDER {
        assert!(
            step.cite().is_none_or(|cite| cited(RELEASE, cite)),
            "{step:?}"
        );
    }
    assert_eq!(EIGHT_STEPS.len(), 8);
}

#[test]
fn a_missing_step_or_cite_is_found() {
    let wrong = [
        Row {
            what: "no such step",
            cite: "29 CFR 1910.147(d)(2)",
            steps: &["make-safe/skip_the_shutdown"],
        },
        Row {
            what: "another paragraph",
            cite: "29 CFR 1910.147(d)(1)",
            steps: &["make-safe/end_cooling"],
        },
    ];
    assert_eq!(missing(&wrong).len(), 2);
}

/// The evaporators that a job can meet: every defrost, heater, feed and motor.
fn evaporators() -> Vec<Vec<(&'static str, &'static str)>> {
    let mut all = Vec::new();
    for defrost in ["electric", "hot_gas", "air"] {
        for drain in ["own_circuit", "same_circuit", "none"] {
            for feed in ["own_circuit", "same_circuit", "none"] {
                for motor in ["shaded_pole", "psc", "ec", "unknown"] {
                    all.push(vec![
                        ("defrost", defrost),
                        ("drain_heater_own", drain),
                        ("control_feed_own", feed),
                        ("motor_type", motor),
                    ]);
                }
            }
        }
    }
    all
}

/// Whether the step belongs to this part of applying control.
fn applies(step: &Step, part: ApplyStep) -> bool {
    match part {
        ApplyStep::Prepare | ApplyStep::ShutDown => {
            cites(step, &format!("29 CFR 1910.147{}", part.cite()))
        }
        ApplyStep::Isolate => sets(step, Setting::Opened),
        ApplyStep::Lock => sets(step, Setting::Locked),
        ApplyStep::ReleaseStored => sets(step, Setting::Waited),
        ApplyStep::Verify => matches!(step.act, Act::ProveDead(_)),
    }
}

#[test]
fn control_is_applied_in_the_published_order_on_every_way() {
    for visit in ["new_start", "same_locks"] {
        for mut facts in evaporators() {
            facts.push(("visit", visit));
            let ways = Ways {
                flow: flow("make-safe"),
                fixed: Fixed::of(&facts),
            };
            // Who finds the own locks still hanging prepared before; the rest is done anew.
            let skipped = usize::from(visit == "same_locks");
            for pair in APPLY_ORDER[skipped..].windows(2) {
                ways.assert_first(
                    &|step| applies(step, pair[0]),
                    &|step| applies(step, pair[1]),
                    &format!("{:?} before {:?}", pair[0], pair[1]),
                );
            }
            let parts: [Which; 4] = [
                &|step| matches!(step.act, Act::ProveDead(_)),
                &|step| step.name.as_str() == "try_to_start",
                &|step| sets(step, Setting::Stopped),
                &|step| sets(step, Setting::Blocked),
            ];
            for first in parts {
                ways.assert_first(first, &made_safe, "every part before it ends made safe");
            }
        }
    }
}

#[test]
fn every_source_that_is_there_is_opened_locked_and_proved() {
    let there = |facts: &[(&str, &str)], source: &str| match source {
        "defrost_heaters" => facts.contains(&("defrost", "electric")),
        "drain_heater" => facts.contains(&("drain_heater_own", "own_circuit")),
        "control_feed" => facts.contains(&("control_feed_own", "own_circuit")),
        _ => true,
    };
    for facts in evaporators() {
        let ways = Ways {
            flow: flow("make-safe"),
            fixed: Fixed::of(&facts),
        };
        for source in [
            "fan_circuit",
            "defrost_heaters",
            "drain_heater",
            "control_feed",
        ] {
            if !there(&facts, source) {
                continue;
            }
            let opened = |step: &Step| sets_source(step, Setting::Opened, source);
            let locked = |step: &Step| sets_source(step, Setting::Locked, source);
            let proved = |step: &Step| proves(step, source);
            ways.assert_first(&opened, &locked, &format!("{source} open before its lock"));
            ways.assert_first(
                &locked,
                &proved,
                &format!("{source} locked before its test"),
            );
            ways.assert_first(
                &proved,
                &made_safe,
                &format!("{source} tested before the end"),
            );
        }
        let waited = |step: &Step| sets(step, Setting::Waited);
        let measured = |step: &Step| proves(step, "stored_charge");
        ways.assert_first(
            &waited,
            &measured,
            "the charge drains before it is measured",
        );
        if !facts.contains(&("motor_type", "shaded_pole")) {
            let again = |step: &Step| cites(step, "29 CFR 1910.147(d)(5)(ii)");
            let wedged = |step: &Step| sets(step, Setting::Blocked);
            let proofs = ways.all(&measured);
            for proof in proofs {
                if ways
                    .way(
                        std::slice::from_ref(&ways.flow.start),
                        &|s| s.name == proof,
                        &|_| false,
                    )
                    .is_some()
                {
                    ways.assert_between(&[proof], &again, &wedged, "the charge is looked at again");
                }
            }
        }
    }
}

/// Whether the step belongs to this part of the way back to service.
fn releases(step: &Step, part: ReleaseStep) -> bool {
    match part {
        ReleaseStep::Remove => sets(step, Setting::Unlocked),
        ReleaseStep::Start => sets(step, Setting::Closed),
        ReleaseStep::Inspect | ReleaseStep::Clear | ReleaseStep::Notify => part
            .cite()
            .is_some_and(|cite| cites(step, &format!("29 CFR 1910.147{cite}"))),
    }
}

#[test]
fn service_comes_back_in_the_published_order_on_every_way() {
    for facts in evaporators() {
        let ways = Ways {
            flow: flow("put-back-in-service"),
            fixed: Fixed::of(&facts),
        };
        for pair in RELEASE_ORDER.windows(2) {
            ways.assert_first(
                &|step| releases(step, pair[0]),
                &|step| releases(step, pair[1]),
                &format!("{:?} before {:?}", pair[0], pair[1]),
            );
        }
        for source in [
            "fan_circuit",
            "defrost_heaters",
            "drain_heater",
            "control_feed",
        ] {
            ways.assert_first(
                &|step| sets_source(step, Setting::Unlocked, source),
                &|step| sets_source(step, Setting::Closed, source),
                &format!("the lock of {source} comes off before it is closed"),
            );
        }
    }
}

/// Any flow that takes locks off inspects and clears before, and tells the people between the
/// last lock and the first start.
#[test]
fn no_flow_takes_locks_off_without_the_steps_around_it() {
    let mut found = 0;
    for flow in LIBRARY.flows().values() {
        let ways = Ways {
            flow,
            fixed: Fixed::default(),
        };
        let removed = ways.all(&|step| releases(step, ReleaseStep::Remove));
        if removed.is_empty() {
            continue;
        }
        found += 1;
        let remove = |step: &Step| releases(step, ReleaseStep::Remove);
        for first in [ReleaseStep::Inspect, ReleaseStep::Clear] {
            let what = format!("{first:?} before a lock comes off");
            ways.assert_first(&|step| releases(step, first), &remove, &what);
        }
        ways.assert_between(
            &removed,
            &|step| releases(step, ReleaseStep::Notify),
            &|step| releases(step, ReleaseStep::Start),
            "people are told between the last lock and the start",
        );
    }
    assert!(found >= 2, "{found} flows take locks off");
}

#[test]
fn a_lamp_or_a_control_is_never_called_isolation() {
    let step = flow("make-safe")
        .step(&StepName::from("kind_of_isolation"))
        .unwrap();
    let caution = format!("{:?}", step.caution);
    for word in ["thermostat", "clock", "door switch", "speed signal", "lamp"] {
        assert!(
            caution.contains(word),
            "the caution does not name the {word}"
        );
    }
}

/// Nameplates and readings go up to 600 V, so no meter below that is taken anywhere.
#[test]
fn no_meter_below_600_volts_is_taken_anywhere() {
    let mut taken = 0;
    for flow in LIBRARY.flows().values() {
        for (name, fact) in &flow.facts {
            let FactType::OneOf(choices) = &fact.holds else {
                continue;
            };
            for label in choices.values().filter(|label| label.starts_with("CAT")) {
                let place = format!("{}/{name}: {label}", flow.name);
                assert!(label.ends_with(", 600 V or more"), "{place}");
                taken += 1;
            }
        }
    }
    assert!(taken >= 12, "{taken} answers name a category");
}

/// Fans that stop under a cooling call send liquid back to the compressor.
#[test]
fn no_flow_opens_a_circuit_before_the_cooling_call_is_ended() {
    let mut found = 0;
    for flow in LIBRARY.flows().values() {
        let ways = Ways {
            flow,
            fixed: Fixed::default(),
        };
        let opens = |step: &Step| sets(step, Setting::Opened);
        if ways.all(&opens).is_empty() {
            continue;
        }
        found += 1;
        let ended = |step: &Step| step.name.as_str() == "end_cooling";
        ways.assert_first(
            &ended,
            &opens,
            "the cooling call is ended before power is off",
        );
    }
    assert!(found >= 2, "{found} flows open circuits");
}

#[test]
fn nobody_turns_a_blade_by_hand_that_counts_as_blocked() {
    let mut turned = Vec::new();
    for flow in LIBRARY.flows().values() {
        for step in flow.steps.values() {
            let Danger::Touches(touched) = &step.danger else {
                continue;
            };
            if format!("{:?}", step.say).contains("Turn the blade") {
                let blocked = touched.iter().any(|it| it.it.as_str() == "blade");
                assert!(!blocked, "{}/{}", flow.name, step.name);
                turned.push(&step.name);
            }
        }
    }
    assert!(turned.len() >= 5, "{turned:?}");
}
