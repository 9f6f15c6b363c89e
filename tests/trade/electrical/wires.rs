//! Conductors and currents.

use fanwright::trade::formula::Value;
use fanwright::trade::quantity::Kind;
use fanwright::trade::voltage_drop::{DropNote, drop_note};
use uom::si::f64::Ratio;
use uom::si::ratio::percent;

use super::{
    Vector, expected_number, input, key_of, number, quantity, run, truth, try_run, unhandled,
    unit_of, word,
};

/// NEC Table 430.248; a motor below its first row must be refused.
pub(super) fn full_load_current(vector: &Vector) {
    let volts = match key_of(vector, &["rated_voltage", "v", "volts"]) {
        Some(key) => input(vector, key, Kind::Voltage, "V"),
        None => quantity(Kind::Voltage, "V", 115.0),
    };
    let shaft = quantity(Kind::Power, "hp", vector.number("hp"));
    let answer = try_run(
        "full_load_current",
        vec![("shaft", shaft), ("rated", volts)],
    );
    if let Some(text) = vector.expected.as_str() {
        assert!(
            text.starts_with("NOT_IN_TABLE"),
            "{}: {text}",
            vector.label()
        );
        let why = answer.expect_err(&vector.label()).to_string();
        assert!(why.contains("nameplate"), "{}: {why}", vector.label());
        return;
    }
    let results = answer.unwrap_or_else(|why| panic!("{}: {why}", vector.label()));
    vector.meets(number(&results, "current", "A"));
}

/// NEC 430.22.
pub(super) fn one_motor(vector: &Vector) {
    let flc = input(vector, "flc", Kind::Current, "A");
    vector.meets(number(
        &run("conductor_minimum", vec![("full_load", flc)]),
        "minimum",
        "A",
    ));
}

/// NEC 430.24: a list of motors, or how many equal ones, and perhaps a heater.
pub(super) fn several_motors(vector: &Vector) {
    let Some(key) = key_of(vector, &["flc", "motor_flc", "flc_each", "motors_flc"]) else {
        unhandled(vector)
    };
    let ampere = unit_of(Kind::Current, "A");
    let amps: Vec<f64> = match vector.inputs[key].as_array() {
        Some(list) => list.iter().map(|one| one.as_f64().expect("amps")).collect(),
        None => {
            let Some(count) = key_of(vector, &["n", "count", "motors", "quantity"]) else {
                unhandled(vector)
            };
            vec![vector.number(key); vector.number(count) as usize]
        }
    };
    let motors = Value::Quantities(amps.iter().map(|one| ampere.of(*one)).collect());
    let mut arguments = vec![("full_load", motors)];
    if let Some(heater) = key_of(vector, &["defrost_heater", "heater", "other"]) {
        arguments.push(("other", input(vector, heater, Kind::Current, "A")));
        let continuous = key_of(vector, &["heater_continuous", "continuous"])
            .is_some_and(|key| vector.truth(key));
        arguments.push(("other_continuous", truth(continuous)));
    }
    vector.meets(number(
        &run("conductor_minimum_several", arguments),
        "minimum",
        "A",
    ));
}

/// NEC Chapter 9 Table 8: area or resistance of a size, perhaps at another temperature.
pub(super) fn conductor(vector: &Vector) {
    let gauge = ("gauge", word(vector.text("awg")));
    if vector.expected_unit() == "circular mil" {
        vector.meets(expected_number(
            vector,
            &run("conductor_area", vec![gauge]),
            "area",
        ));
        return;
    }
    let mut arguments = vec![gauge];
    if vector.has("strand") {
        arguments.push(("stranding", word(vector.text("strand"))));
    }
    if let Some(key) = key_of(vector, &["t", "temperature"]) {
        arguments.push(("temperature", input(vector, key, Kind::Temperature, "degC")));
    }
    vector.meets(expected_number(
        vector,
        &run("conductor_resistance", arguments),
        "resistance",
    ));
}

/// The K formula and the resistance formula; and that 3 and 5 % are no more than advice.
pub(super) fn voltage_drop(vector: &Vector) {
    if vector.has("branch_percent") {
        assert_eq!(vector.expected, "INFORMATIONAL", "{}", vector.label());
        let share = |key| Ratio::new::<percent>(vector.number(key));
        let (branch, total) = (share("branch_percent"), share("total_percent"));
        let more = Ratio::new::<percent>(0.01);
        assert_eq!(drop_note(branch, Some(total)), DropNote::Within);
        assert_eq!(drop_note(branch + more, Some(total)), DropNote::BranchOver);
        assert_eq!(drop_note(branch, Some(total + more)), DropNote::TotalOver);
        let over = run(
            "voltage_drop",
            vec![
                ("supply", quantity(Kind::Voltage, "V", 120.0)),
                ("current", quantity(Kind::Current, "A", 20.0)),
                ("one_way", quantity(Kind::Length, "ft", 100.0)),
                ("area", quantity(Kind::Area, "cmil", 6530.0)),
            ],
        );
        assert!(
            over.warnings
                .iter()
                .any(|warning| warning.contains("recommendation"))
        );
        return;
    }
    let mut arguments = vec![
        ("supply", input(vector, "v", Kind::Voltage, "V")),
        ("current", input(vector, "i", Kind::Current, "A")),
        ("one_way", input(vector, "one_way", Kind::Length, "ft")),
    ];
    if vector.has("R") {
        arguments.push((
            "resistance_per_kft",
            quantity(Kind::Resistance, "ohm", vector.number("R")),
        ));
    } else {
        arguments.push(("area", quantity(Kind::Area, "cmil", vector.number("cm"))));
        arguments.push(("k", Value::Number(vector.number("K"))));
    }
    if vector.has("phase") && vector.number("phase") == 3.0 {
        arguments.push(("phases", word("three_phase")));
    }
    let results = run("voltage_drop", arguments);
    vector.meets_under("drop", number(&results, "drop", "V"));
    vector.meets_under("percent", number(&results, "share", "%"));
}
