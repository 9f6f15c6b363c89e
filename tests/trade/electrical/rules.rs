//! Rules of lockout, proofs, places and parts.

use fanwright::trade::formula::Value;
use fanwright::trade::protection::{IpCode, Promise};
use fanwright::trade::quantity::{Kind, Unit};

use super::motors::motor_word;
use super::{
    Vector, expects_yes, input, key_of, number, quantity, result_word, run, truth, unhandled, word,
};

/// NEC 110.14: every question that the vector answers, and no other.
pub(super) fn splices(vector: &Vector) {
    let mut arguments = Vec::new();
    for (key, value) in &vector.inputs {
        let so = |name| (name, truth(value.as_bool().expect("true or false")));
        match key.as_str() {
            "mechanically_secure_before_solder" => arguments.push(so("secure_before_solder")),
            "device_identified" => arguments.push(so("device_identified")),
            "metals" => {
                let metals = value.as_array().expect("a list of metals");
                let mixed = metals.iter().any(|metal| metal != &metals[0]);
                arguments.push(("metals_mixed", truth(mixed)));
            }
            key if key.contains("burial") || key.contains("buried") => {
                arguments.push(so("listed_for_burial"));
            }
            key if key.contains("end") || key.contains("tap") || key.contains("lead") => {
                arguments.push(so("free_ends_covered"));
            }
            key if key.contains("insulat") || key.contains("cover") => {
                arguments.push(so("joint_covered"));
            }
            key if key.contains("listed") => arguments.push(so("listed_for_place")),
            _ => unhandled(vector),
        }
    }
    let passes = result_word(&run("splice_check", arguments), "check") == "pass";
    assert_eq!(passes, expects_yes(vector), "{}", vector.label());
}

/// NEC Article 100, in sight.
pub(super) fn disconnect(vector: &Vector) {
    let results = run(
        "disconnect_in_sight",
        vec![
            ("visible", truth(vector.truth("visible"))),
            ("distance", input(vector, "distance", Kind::Length, "ft")),
        ],
    );
    let seen = result_word(&results, "in_sight") == "true";
    assert_eq!(seen, expects_yes(vector), "{}", vector.label());
}

/// NEC Article 100, damp and wet; NEC 300.7(A).
pub(super) fn location(vector: &Vector) {
    if vector.has("raceway_crosses") {
        let crosses = vector.text("raceway_crosses").contains("warm to cold");
        let results = run(
            "raceway_seal",
            vec![
                ("warm_to_cold", truth(crosses)),
                ("sealed", truth(vector.truth("sealed"))),
            ],
        );
        let passes = result_word(&results, "check") == "pass";
        return assert_eq!(passes, expects_yes(vector), "{}", vector.label());
    }
    let place = vector.text("place").to_lowercase();
    let has = |words: &[&str]| words.iter().any(|word| place.contains(word));
    let surroundings = match () {
        () if has(&["saturat", "wash"]) => "wash_down",
        () if has(&["outdoor", "weather", "underground"]) => "outdoors",
        () if has(&["cold-storage", "cold storage"]) => "cold_storage",
        () if has(&["canop", "partial", "basement", "porch"]) => "partly_protected",
        () if has(&["dry"]) => "dry",
        () => unhandled(vector),
    };
    let results = run("location_class", vec![("surroundings", word(surroundings))]);
    let class = result_word(&results, "class").to_uppercase();
    assert_eq!(
        Some(class.as_str()),
        vector.expected.as_str(),
        "{}",
        vector.label()
    );
}

/// 10 CFR 431.306.
pub(super) fn regulation(vector: &Vector) {
    let motor = match key_of(vector, &["phase", "phases"]) {
        Some(key) if vector.number(key) == 3.0 => "three_phase".to_owned(),
        _ => motor_word(vector, "motor"),
    };
    let volts = match key_of(vector, &["volts", "v"]) {
        Some(key) => input(vector, key, Kind::Voltage, "V"),
        None => quantity(Kind::Voltage, "V", 208.0),
    };
    let mut arguments = vec![
        ("shaft", quantity(Kind::Power, "hp", vector.number("hp"))),
        ("rated", volts),
        ("motor", word(&motor)),
    ];
    if let Some(key) = key_of(vector, &["built", "made", "year"]) {
        arguments.push(("made", Value::Number(vector.number(key))));
    }
    let condenser = |value: &serde_json::Value| {
        value
            .as_str()
            .is_some_and(|text| text.to_lowercase().contains("condenser"))
    };
    if vector.inputs.values().any(condenser) || vector.name.contains("condenser") {
        arguments.push(("duty", word("condenser")));
    }
    let text = vector.expected.as_str().unwrap_or_default().to_uppercase();
    let starts = |words: &[&str]| words.iter().any(|word| text.starts_with(word));
    let expected = match () {
        () if starts(&["NOT COMPLIANT", "NON-COMPLIANT", "NONCOMPLIANT"]) => "not_compliant",
        () if starts(&["COMPLIANT", "ALLOWED", "OK"]) => "compliant",
        () if starts(&[
            "NOT COVERED",
            "NOT APPLICABLE",
            "OUT OF SCOPE",
            "OUTSIDE",
            "EXEMPT",
        ]) =>
        {
            "not_covered"
        }
        () => unhandled(vector),
    };
    let verdict = result_word(&run("walk_in_motor_rule", arguments), "verdict");
    assert_eq!(verdict, expected, "{}", vector.label());
}

/// IEC 60529.
pub(super) fn protection(vector: &Vector) {
    let code = IpCode::parse(vector.text("code")).expect("an IP code");
    if vector.has("question") {
        let asked = vector.text("question").to_uppercase();
        let promises: Vec<Promise> = asked
            .split("IPX")
            .skip(1)
            .map(|rest| {
                rest.chars()
                    .next()
                    .and_then(|c| c.to_digit(10))
                    .expect("a numeral")
            })
            .map(|digit| code.keeps_out_water(digit as u8))
            .collect();
        assert!(!promises.is_empty(), "{}", vector.label());
        let implied = vector.expected == "IMPLIED";
        assert!(
            implied || vector.expected == "NOT IMPLIED",
            "{}",
            vector.label()
        );
        let expected = if implied {
            Promise::Implied
        } else {
            Promise::NotImplied
        };
        return assert!(
            promises.iter().all(|one| *one == expected),
            "{}",
            vector.label()
        );
    }
    let results = run(
        "protection_class",
        vec![("code", word(vector.text("code")))],
    );
    for (key, numerals) in [("solids", SOLIDS), ("water", WATER)] {
        let expected = vector.expected[key].as_str().expect("words");
        let ours = result_word(&results, key);
        assert_eq!(
            numeral(numerals, &ours),
            numeral(numerals, expected),
            "{}: {ours} is not {expected}",
            vector.label()
        );
    }
}

/// Words that tell a numeral apart in any wording; the first that is found counts.
type Numerals = &'static [(u8, &'static [&'static str])];

const SOLIDS: Numerals = &[
    (6, &["dust-tight", "dust tight"]),
    (5, &["dust"]),
    (3, &["2.5"]),
    (2, &["12.5", "12 mm", "finger"]),
    (1, &["50 mm", "50mm"]),
    (4, &["1 mm", "1.0 mm", "1mm"]),
    (0, &["no protection", "nothing", "none"]),
];

const WATER: Numerals = &[
    (9, &["high-pressure", "high pressure", "hot", "steam"]),
    (8, &["continuous"]),
    (7, &["temporary", "1 m", "15 cm to"]),
    (6, &["powerful", "strong"]),
    (5, &["jet"]),
    (4, &["splash"]),
    (3, &["spray"]),
    (2, &["15"]),
    (1, &["drip", "drop"]),
    (0, &["no protection", "nothing", "none"]),
];

fn numeral(numerals: Numerals, words: &str) -> u8 {
    let words = words.to_lowercase();
    let known = numerals
        .iter()
        .find(|(_, any)| any.iter().any(|one| words.contains(one)));
    known.unwrap_or_else(|| panic!("no numeral says {words}")).0
}

/// The defrost's time limit; and fans that are held on purpose.
pub(super) fn defrost_logic(vector: &Vector) {
    if vector.inputs.is_empty() && vector.expected.get("min").is_some() {
        let results = run("defrost_failsafe", vec![]);
        vector.meets_under("min", number(&results, "low", "min"));
        return vector.meets_under("max", number(&results, "high", "min"));
    }
    let Some(coil) = key_of(vector, &["coil", "coil_t", "coil_temperature", "coil_temp"]) else {
        unhandled(vector)
    };
    let mut arguments = vec![("coil", input(vector, coil, Kind::Temperature, "degF"))];
    if let Some(key) = key_of(
        vector,
        &["fan_on", "fan_on_t", "release", "fan_delay_t", "fan_delay"],
    ) {
        arguments.push(("released_at", input(vector, key, Kind::Temperature, "degF")));
    }
    let held = result_word(&run("fans_meant_off", arguments), "reason") != "not_meant";
    let text = vector.expected.as_str().unwrap_or_default().to_uppercase();
    let has = |words: &[&str]| words.iter().any(|word| text.contains(word));
    let off = has(&["OFF", "WAIT", "HELD", "DELAY", "NOT A"]);
    assert!(off || has(&["ON", "RUN", "START"]), "{}", vector.label());
    assert_eq!(held, off, "{}", vector.label());
}

/// A still EC fan with supply and a signal written such as `0 V on 0-10 V input`.
pub(super) fn ec(vector: &Vector) {
    assert_eq!(motor_word(vector, "motor"), "ec");
    let text = vector.text("signal");
    let volts = text
        .split_whitespace()
        .next()
        .and_then(|first| first.parse().ok());
    let volts: f64 = volts.unwrap_or_else(|| unhandled(vector));
    let results = run(
        "ec_fan_state",
        vec![
            ("supply_in_band", truth(true)),
            ("signal", quantity(Kind::Voltage, "V", volts)),
            ("waited", quantity(Kind::Duration, "min", 10.0)),
        ],
    );
    let expected = vector.expected.as_str().unwrap_or_default().to_uppercase();
    let state = result_word(&results, "state");
    assert_eq!(
        state == "standby",
        expected.contains("STANDBY"),
        "{}: {state}",
        vector.label()
    );
}

/// Duty ratings of ladders.
pub(super) fn ladder(vector: &Vector) {
    let pounds = |key| quantity(Kind::Mass, "lb", vector.number(key));
    let results = run(
        "ladder_check",
        vec![
            ("load", pounds("user_plus_tools_lb")),
            ("duty", pounds("ladder_duty_lb")),
        ],
    );
    super::says(vector, result_word(&results, "check") == "pass");
}

/// One amount in two units: `{ value, unit }` or a text such as `1 ft**3/min`.
pub(super) fn units(vector: &Vector) {
    let (amount, from) = match key_of(vector, &["from"]) {
        Some(key) => {
            let text = vector.text(key);
            let (amount, unit) = text.split_once(' ').expect("an amount and a unit");
            (amount.parse().expect("an amount"), unit.to_owned())
        }
        None => {
            let Some(key) = vector.inputs.keys().next() else {
                unhandled(vector)
            };
            (vector.number(key), vector.unit(key).to_owned())
        }
    };
    let to = vector.expected_unit();
    let pair = Kind::all()
        .iter()
        .find_map(|(kind, _)| Some((typed(*kind, &from)?, typed(*kind, to)?)));
    let Some((from, to)) = pair else {
        unhandled(vector)
    };
    vector.meets(from.of(amount).in_unit(to));
}

/// A unit as other programs write it. One psi may be an absolute pressure or a gauge's.
fn typed(kind: Kind, text: &str) -> Option<&'static Unit> {
    let text = text
        .replace("**", "")
        .replace("(39.2 F)", "")
        .replace("foot", "ft");
    let text = text.trim();
    let text = match (kind, text) {
        (Kind::Pressure, "psi") => "psia",
        (_, text) => text,
    };
    Unit::typed(kind, text)
}
