//! Rules of lockout and of proving absence of voltage.

use fanwright::trade::formula::Value;
use fanwright::trade::quantity::Kind;

use super::{Vector, input, key_of, result_word, run, says, truth, unhandled, word};

/// 29 CFR 1910.147 and 1910.333(b)(2)(ii).
pub(super) fn lockout(vector: &Vector) {
    if vector.has("cite") {
        order_of_paragraphs(vector);
    } else if vector.has("steps") {
        interlude(vector);
    } else if vector.has("removed_at") {
        let time = |key| Value::Text(vector.text(key).to_owned());
        let results = run(
            "restart_notice",
            ["removed_at", "notified_at", "started_at"]
                .map(|key| (key, time(key)))
                .into(),
        );
        says(vector, result_word(&results, "verdict") == "in_order");
    } else if vector.has("removed_by") {
        lock_removal(vector);
    } else if vector.has("incoming_applied") {
        let time = |key| Value::Text(vector.text(key).to_owned());
        let again = vector.has("incoming_reverified") && vector.truth("incoming_reverified");
        let results = run(
            "lock_handover",
            vec![
                ("incoming_applied", time("incoming_applied")),
                ("outgoing_removed", time("outgoing_removed")),
                ("verified_again", truth(again)),
            ],
        );
        says(vector, result_word(&results, "verdict") == "continuous");
    } else if vector.has("workers") {
        let count = |key| Value::Number(vector.number(key));
        let results = run(
            "group_locks",
            vec![
                ("workers", count("workers")),
                ("personal_locks", count("personal_locks")),
            ],
        );
        says(vector, result_word(&results, "gate") == "open");
    } else if vector.has("unplugged") {
        cord_and_plug(vector);
    } else if vector.has("capacitor_discharged") {
        let discharged = truth(vector.truth("capacitor_discharged"));
        let results = run("stored_energy", vec![("discharged", discharged)]);
        says(vector, result_word(&results, "gate") == "open");
    } else {
        control_device(vector);
    }
}

/// The expected texts begin with their paragraphs; the last of a release is the start.
fn order_of_paragraphs(vector: &Vector) {
    let release = vector.text("cite").contains("(e)");
    let formula = if release {
        "release_order"
    } else {
        "lockout_order"
    };
    let ours = result_word(&run(formula, vec![]), "order");
    let ours: Vec<&str> = ours.lines().collect();
    let mut expected: Vec<&str> = vector
        .expected
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one.as_str().unwrap())
        .collect();
    let paragraph = |text: &str| {
        text.split_whitespace()
            .next()
            .unwrap_or_default()
            .to_owned()
    };
    // Several sub-paragraphs of one step count as that step.
    expected.dedup_by(|later, earlier| {
        ours.iter().any(|line| {
            let cite = paragraph(line);
            paragraph(later).starts_with(&cite) && paragraph(earlier).starts_with(&cite)
        })
    });
    assert_eq!(ours.len(), expected.len(), "{}: {ours:?}", vector.label());
    for (ours, expected) in ours.iter().zip(expected) {
        let (ours, expected) = (paragraph(ours), paragraph(expected));
        assert!(
            expected.starts_with(&ours),
            "{}: {ours} is not {expected}",
            vector.label()
        );
    }
}

/// The given order is accepted; every swap and every gap in it is not.
fn interlude(vector: &Vector) {
    assert_eq!(vector.expected, "ORDER REQUIRED", "{}", vector.label());
    let steps: Vec<&str> = vector.inputs["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| match step.as_str().unwrap() {
            text if text.contains("tool") => "clear_tools",
            text if text.contains("employee") || text.contains("people") => "clear_people",
            text if text.contains("re-apply") || text.contains("reapply") => "apply_again",
            text if text.contains("device") => "remove_devices",
            text if text.contains("test") => "energise_and_test",
            text => panic!("{}: no step {text}", vector.label()),
        })
        .collect();
    let kept = |steps: &[&str]| {
        let results = run(
            "test_interlude",
            vec![("steps", Value::Text(steps.join(", ")))],
        );
        result_word(&results, "in_order") == "true"
    };
    assert!(kept(&steps), "{}", vector.label());
    for place in 1..steps.len() {
        let mut swapped = steps.clone();
        swapped.swap(place - 1, place);
        assert!(!kept(&swapped), "{swapped:?}");
        assert!(!kept(&steps[..place]), "{place} steps only");
    }
}

fn lock_removal(vector: &Vector) {
    let who = |key| Value::Text(vector.text(key).to_owned());
    let mut arguments = vec![
        ("applied_by", who("applied_by")),
        ("removed_by", who("removed_by")),
    ];
    for (key, name) in [
        ("verified_absent", "verified_absent"),
        ("reasonable_contact_effort", "contact_tried"),
        ("will_inform_before_resuming", "will_be_told"),
        ("written_procedure_and_training", "procedure_and_training"),
    ] {
        if vector.has(key) {
            arguments.push((name, truth(vector.truth(key))));
        }
    }
    let verdict = result_word(&run("lock_removal", arguments), "verdict");
    says(vector, verdict != "refused");
}

fn cord_and_plug(vector: &Vector) {
    let results = run(
        "cord_and_plug",
        vec![
            ("unplugged", truth(vector.truth("unplugged"))),
            (
                "exclusive_control",
                truth(vector.truth("plug_under_exclusive_control")),
            ),
        ],
    );
    let text = vector.expected.as_str().expect("words").to_uppercase();
    let free = ["NOT", "EXEMPT", "NO LOTO", "OUT OF SCOPE", "OK"];
    let expected = match () {
        () if free.iter().any(|word| text.contains(word)) => "not_required",
        () if text.contains("REQUIRED") => "required",
        () => unhandled(vector),
    };
    assert_eq!(
        result_word(&results, "lockout"),
        expected,
        "{}",
        vector.label()
    );
}

/// What someone relies on as isolation, told by any of the inputs.
fn control_device(vector: &Vector) {
    let devices = [
        ("thermostat", "thermostat"),
        ("clock", "defrost_clock"),
        ("door", "door_switch"),
        ("delay", "fan_delay"),
        ("button", "push_button"),
        ("selector", "push_button"),
        ("interlock", "interlock"),
        ("signal", "speed_signal"),
        ("breaker", "breaker"),
        ("disconnect", "disconnect"),
    ];
    let named = vector.inputs.values().find_map(|value| {
        let text = value.as_str()?.to_lowercase();
        devices.iter().find(|(part, _)| text.contains(part))
    });
    let Some((_, means)) = named else {
        unhandled(vector)
    };
    let results = run("counts_as_isolation", vec![("means", word(means))]);
    says(vector, result_word(&results, "isolates") == "true");
}

/// Live, dead, live.
pub(super) fn absence_of_voltage(vector: &Vector) {
    let text = vector.expected.as_str().unwrap_or_default().to_uppercase();
    if vector.inputs.is_empty() {
        let ours = result_word(&run("proof_order", vec![]), "order");
        let expected = vector.expected.as_array().expect("an order");
        let told = |text: &str| match text {
            text if text.contains("re-test") || text.contains("again") => "known_source_after",
            text if text.contains("conductor") => "conductors",
            text if text.contains("known live") => "known_source_before",
            text => panic!("{}: no part of a proof: {text}", vector.label()),
        };
        let expected: Vec<&str> = expected
            .iter()
            .map(|one| told(one.as_str().unwrap()))
            .collect();
        assert_eq!(
            ours.lines().collect::<Vec<_>>(),
            expected,
            "{}",
            vector.label()
        );
    } else if vector.has("nominal") {
        let nominal = input(vector, "nominal", Kind::Voltage, "V");
        let check = result_word(
            &run("instrument_check", vec![("nominal", nominal)]),
            "check",
        );
        let expected = match () {
            () if text.contains("MANDATORY") => "mandatory",
            () if text.contains("RECOMMENDED") => "by_standard",
            () => unhandled(vector),
        };
        assert_eq!(check, expected, "{}", vector.label());
    } else if vector.has("live1") {
        whole_proof(vector, &text);
    } else {
        instrument(vector);
    }
}

fn whole_proof(vector: &Vector, text: &str) {
    let volts = |key| input(vector, key, Kind::Voltage, "V");
    let results = run(
        "absence_of_voltage",
        vec![
            ("instrument", word("contact_meter")),
            ("known_before", volts("live1")),
            ("readings", volts("dead")),
            ("known_after", volts("live2")),
        ],
    );
    let starts = |words: &[&str]| words.iter().any(|word| text.starts_with(word));
    let expected = match () {
        () if starts(&["RESULT INVALID", "INVALID", "VOID"]) => "void",
        () if starts(&["RESULT VALID", "VALID", "OK", "ACCEPT", "PASS"]) => "holds",
        () if starts(&[
            "NOT DEAD",
            "ENERGI",
            "LIVE",
            "BLOCK",
            "FAIL",
            "NOT DE-ENERGI",
        ]) =>
        {
            "not_dead"
        }
        () => unhandled(vector),
    };
    assert_eq!(
        result_word(&results, "verdict"),
        expected,
        "{}",
        vector.label()
    );
}

fn instrument(vector: &Vector) {
    let Some(key) = key_of(vector, &["instrument", "tester", "method", "indicator"]) else {
        unhandled(vector)
    };
    let text = vector.text(key).to_lowercase();
    let has = |words: &[&str]| words.iter().any(|word| text.contains(word));
    let instrument = match () {
        () if has(&["proximity", "non-contact"]) => "proximity_tester",
        () if has(&["solenoid"]) => "solenoid_tester",
        () if has(&["led", "indicator", "lamp", "pilot"]) => "installed_indicator",
        () if has(&["meter"]) => "contact_meter",
        () => unhandled(vector),
    };
    let results = run(
        "instrument_accepted",
        vec![("instrument", word(instrument))],
    );
    says(vector, result_word(&results, "accepted") == "true");
}
