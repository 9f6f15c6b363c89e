//! Supply, tolerance, insulation, capacitors and power.

use fanwright::trade::quantity::Kind;
use fanwright::trade::rating::RatedVoltage;
use uom::si::electric_potential::volt;
use uom::si::f64::ElectricPotential;

use super::{
    Vector, expected_number, expects_yes, input, key_of, number, quantity, result_word, run, truth,
    unhandled, word,
};

/// ANSI C84.1; without a range named it is service Range A.
pub(super) fn system_band(vector: &Vector) {
    let range = if vector.has("range") {
        vector.text("range")
    } else {
        "service_a"
    };
    let results = run(
        "system_voltage_band",
        vec![
            ("nominal", input(vector, "nominal", Kind::Voltage, "V")),
            ("range", word(&range.to_lowercase())),
        ],
    );
    vector.meets_under("min", number(&results, "low", "V"));
    vector.meets_under("max", number(&results, "high", "V"));
}

/// One state's rule for utilities.
pub(super) fn utility_band(vector: &Vector) {
    let text = vector.text("system");
    let system = match text {
        "120" | "208" | "240" | "480" => text,
        _ if text.contains("line-line") => "120_240_line_line",
        _ if text.contains("neutral") => "120_240_line_neutral",
        _ => unhandled(vector),
    };
    let results = run("utility_voltage_band", vec![("system", word(system))]);
    vector.meets_under("min", number(&results, "low", "V"));
    vector.meets_under("max", number(&results, "high", "V"));
}

/// NEMA MG 1-12.44: bands, readings in or out of them, torque, volts and hertz together.
pub(super) fn tolerance(vector: &Vector) {
    if let Some(key) = key_of(vector, &["voltage_ratio", "v_ratio", "volts_ratio"]) {
        return torque(vector, key);
    }
    if let Some(key) = key_of(vector, V_PERCENT) {
        return volts_and_hertz(vector, key);
    }
    if vector.unit("rated") == "Hz" {
        let rated = input(vector, "rated", Kind::Frequency, "Hz");
        let results = run("motor_frequency_band", vec![("rated", rated)]);
        vector.meets_under("min", number(&results, "low", "Hz"));
        return vector.meets_under("max", number(&results, "high", "Hz"));
    }
    let rated = match vector.inputs["rated"].as_str() {
        Some(text) => RatedVoltage::parse(text).expect("a rating"),
        None => {
            RatedVoltage::single(ElectricPotential::new::<volt>(vector.number("rated"))).unwrap()
        }
    };
    let ends = rated.ends();
    let mut arguments = vec![
        (
            "rated",
            quantity(Kind::Voltage, "V", ends.low.get::<volt>()),
        ),
        (
            "rated_to",
            quantity(Kind::Voltage, "V", ends.high.get::<volt>()),
        ),
    ];
    if vector.has("measured") && vector.expected.get("value").is_some() {
        arguments.truncate(1);
        arguments.push(("measured", input(vector, "measured", Kind::Voltage, "V")));
        let results = run("torque_at_voltage", arguments);
        return vector.meets(number(&results, "torque_share", "×"));
    }
    if vector.has("measured") {
        let measured = ElectricPotential::new::<volt>(vector.number("measured"));
        let expected = expects_yes(vector);
        assert_eq!(rated.band().holds(measured), expected, "{}", vector.label());
        arguments.push(("measured", input(vector, "measured", Kind::Voltage, "V")));
        let verdict = result_word(&run("supply_verdict", arguments), "verdict");
        let inside = ["low", "good", "high"].contains(&verdict.as_str());
        return assert_eq!(inside, expected, "{}: {verdict}", vector.label());
    }
    let results = run("motor_voltage_band", arguments);
    vector.meets_under("min", number(&results, "low", "V"));
    vector.meets_under("max", number(&results, "high", "V"));
}

const V_PERCENT: &[&str] = &[
    "dv_percent",
    "dV_percent",
    "voltage_deviation_percent",
    "v_percent",
];
const F_PERCENT: &[&str] = &["df_percent", "frequency_deviation_percent", "f_percent"];

fn torque(vector: &Vector, key: &str) {
    let ratio = vector.number(key);
    let results = run(
        "torque_at_voltage",
        vec![
            ("measured", quantity(Kind::Voltage, "V", 100.0 * ratio)),
            ("rated", quantity(Kind::Voltage, "V", 100.0)),
        ],
    );
    vector.meets(number(&results, "torque_share", "×"));
}

fn volts_and_hertz(vector: &Vector, v: &str) {
    let Some(f) = key_of(vector, F_PERCENT) else {
        unhandled(vector)
    };
    let results = run(
        "voltage_and_frequency",
        vec![
            (
                "measured",
                quantity(Kind::Voltage, "V", 100.0 + vector.number(v)),
            ),
            ("rated", quantity(Kind::Voltage, "V", 100.0)),
            (
                "frequency",
                quantity(Kind::Frequency, "Hz", 100.0 + vector.number(f)),
            ),
            ("rated_frequency", quantity(Kind::Frequency, "Hz", 100.0)),
        ],
    );
    assert_eq!(
        result_word(&results, "within") == "true",
        expects_yes(vector)
    );
}

/// IEEE 43: the least resistance, the test voltage, and the refusal through electronics.
pub(super) fn insulation(vector: &Vector) {
    let rated = ("rated", quantity(Kind::Voltage, "V", 230.0));
    if vector.has("winding") {
        let text = vector.text("winding");
        let build = match text {
            _ if text.contains("random") || text.contains("armature") => "random_wound",
            _ if text.contains("form") => "form_wound",
            _ => unhandled(vector),
        };
        let results = run("insulation_least", vec![rated, ("build", word(build))]);
        return vector.meets(expected_number(vector, &results, "least"));
    }
    if vector.has("motor") {
        let results = run(
            "insulation_test",
            vec![
                rated,
                ("motor", word(&motor_word(vector, "motor"))),
                ("qualified", truth(true)),
                ("capacitor_connected", truth(false)),
            ],
        );
        let allowed = result_word(&results, "permission") == "allowed";
        return assert_eq!(allowed, expects_yes(vector), "{}", vector.label());
    }
    if vector.has("rated") {
        let below = vector
            .text("rated")
            .trim_matches(|c: char| !c.is_ascii_digit());
        let volts = below.parse::<f64>().expect("volts") - 1.0;
        let results = run(
            "insulation_test",
            vec![
                ("rated", quantity(Kind::Voltage, "V", volts)),
                ("motor", word("psc")),
                ("qualified", truth(true)),
                ("capacitor_connected", truth(false)),
            ],
        );
        return vector.meets(expected_number(vector, &results, "voltage"));
    }
    let (Some(reading), Some(t)) = (
        key_of(vector, &["r", "R", "reading", "measured", "insulation"]),
        key_of(vector, &["t", "temperature", "t_winding"]),
    ) else {
        unhandled(vector)
    };
    let results = run(
        "insulation_verdict",
        vec![
            (
                "reading",
                input(vector, reading, Kind::Resistance, "megohm"),
            ),
            ("temperature", input(vector, t, Kind::Temperature, "degC")),
            ("motor", word("psc")),
        ],
    );
    vector.meets(expected_number(vector, &results, "at_40_c"));
}

/// Run capacitors: the factor, the value under load, the printed tolerance, the discharge.
pub(super) fn capacitor(vector: &Vector) {
    if vector.has("C") && vector.has("R") {
        let mut arguments = vec![
            ("capacitance", input(vector, "C", Kind::Capacitance, "uF")),
            ("resistor", input(vector, "R", Kind::Resistance, "ohm")),
            ("from", input(vector, "V0", Kind::Voltage, "V")),
        ];
        if let Some(key) = key_of(vector, &["V", "V1", "Vend", "to"]) {
            arguments.push(("to", input(vector, key, Kind::Voltage, "V")));
        }
        let results = run("capacitor_discharge", arguments);
        let key = if vector.expected_unit() == "W" {
            "peak_power"
        } else {
            "time"
        };
        return vector.meets(expected_number(vector, &results, key));
    }
    if let Some(printed) = key_of(vector, &["rated", "printed", "nominal", "marked", "label"]) {
        return printed_tolerance(vector, printed);
    }
    let frequency = ("frequency", input(vector, "f", Kind::Frequency, "Hz"));
    if vector.takes(&["f"]) {
        let results = run(
            "capacitor_under_load",
            vec![
                ("current", quantity(Kind::Current, "A", 1.0)),
                ("across", quantity(Kind::Voltage, "V", 1.0)),
                frequency,
            ],
        );
        return vector.meets(number(&results, "factor", ""));
    }
    let Some(across) = key_of(vector, &["v_across_cap", "v"]) else {
        unhandled(vector)
    };
    let results = run(
        "capacitor_under_load",
        vec![
            ("current", input(vector, "i", Kind::Current, "A")),
            ("across", input(vector, across, Kind::Voltage, "V")),
            frequency,
        ],
    );
    vector.meets(expected_number(vector, &results, "capacitance"));
}

fn printed_tolerance(vector: &Vector, printed: &str) {
    let Some(tolerance) = key_of(
        vector,
        &["tolerance", "tolerance_percent", "tol", "tol_percent"],
    ) else {
        unhandled(vector)
    };
    let measured = key_of(vector, &["measured", "reading"]).unwrap_or(printed);
    let percent = vector.number(tolerance).abs();
    let percent = if percent < 1.0 {
        100.0 * percent
    } else {
        percent
    };
    let results = run(
        "capacitor_verdict",
        vec![
            ("printed", input(vector, printed, Kind::Capacitance, "uF")),
            ("measured", input(vector, measured, Kind::Capacitance, "uF")),
            ("tolerance", quantity(Kind::Ratio, "%", percent)),
        ],
    );
    if vector.expected.get("min").is_some() || vector.expected.get("max").is_some() {
        for (key, result) in [("min", "low"), ("max", "high")] {
            if vector.expected.get(key).is_some() {
                vector.meets_under(key, number(&results, result, "uF"));
            }
        }
    } else if vector.expected.get("value").is_some() {
        vector.meets(expected_number(vector, &results, "low"));
    } else {
        let good = result_word(&results, "verdict") == "good";
        assert_eq!(good, expects_yes(vector), "{}", vector.label());
    }
}

/// The word of the motor type that a vector writes in its own way.
pub(super) fn motor_word(vector: &Vector, key: &str) -> String {
    let text = vector.text(key).to_lowercase();
    let three_phase = [
        "3-phase",
        "three-phase",
        "3 phase",
        "three phase",
        "polyphase",
    ];
    match text.as_str() {
        text if text.contains("shaded") => "shaded_pole",
        text if text.contains("psc") || text.contains("permanent split") => "psc",
        text if text.contains("ec") => "ec",
        text if three_phase.iter().any(|name| text.contains(name)) => "three_phase",
        _ => unhandled(vector),
    }
    .to_owned()
}

/// Power, efficiency by type, and what follows from them.
pub(super) fn motor(vector: &Vector) {
    let watts = |key| input(vector, key, Kind::Power, "W");
    if vector.takes(&["hp"]) {
        let shaft = quantity(Kind::Power, "hp", vector.number("hp"));
        let results = run("motor_shaft_watts", vec![("shaft", shaft)]);
        vector.meets(expected_number(vector, &results, "shaft"));
    } else if vector.has("old") {
        let of = |key| word(&motor_word(vector, key));
        let results = run(
            "retrofit_ratio",
            vec![("old", of("old")), ("new", of("new"))],
        );
        vector.meets(expected_number(vector, &results, "input_ratio"));
    } else if vector.has("motor") {
        efficiency(vector);
    } else if vector.has("shaft") {
        let efficiency = quantity(Kind::Ratio, "×", vector.number("efficiency"));
        let results = run(
            "motor_input",
            vec![("shaft", watts("shaft")), ("efficiency", efficiency)],
        );
        vector.meets(expected_number(vector, &results, "input"));
    } else if vector.has("before") {
        let results = run(
            "watts_saved",
            vec![
                ("watts_before", watts("before")),
                ("watts_after", watts("after")),
            ],
        );
        vector.meets(expected_number(vector, &results, "saved"));
    } else if vector.has("saved") {
        let time = input(vector, "hours", Kind::Duration, "h");
        let results = run(
            "direct_energy",
            vec![("power", watts("saved")), ("time", time)],
        );
        vector.meets(expected_number(vector, &results, "energy"));
    } else if vector.has("pf") {
        let results = run(
            "true_power",
            vec![
                ("voltage", input(vector, "v", Kind::Voltage, "V")),
                ("current", input(vector, "i", Kind::Current, "A")),
                (
                    "power_factor",
                    quantity(Kind::Ratio, "×", vector.number("pf")),
                ),
            ],
        );
        vector.meets(expected_number(vector, &results, "power"));
    } else if vector.has("motor_and_fan_inside_box") {
        assert!(vector.truth("motor_and_fan_inside_box"));
        let results = run("fan_box_heat", vec![("input", watts("input"))]);
        vector.meets(expected_number(vector, &results, "heat"));
    } else {
        unhandled(vector);
    }
}

fn efficiency(vector: &Vector) {
    let mut arguments = vec![("motor", word(&motor_word(vector, "motor")))];
    // The prototype buildings' value is told from the Energy Department's only by its name.
    if vector.name.contains("prototype") || vector.inputs.values().any(mentions_prototype) {
        arguments.push(("by", word("prototype_buildings")));
    }
    let results = run("motor_efficiency", arguments);
    if vector.expected.get("min").is_some() {
        vector.meets_under("min", number(&results, "low", "×"));
        vector.meets_under("max", number(&results, "high", "×"));
    } else {
        vector.meets(number(&results, "efficiency", "×"));
    }
}

fn mentions_prototype(value: &serde_json::Value) -> bool {
    value
        .as_str()
        .is_some_and(|text| text.contains("prototype"))
}
