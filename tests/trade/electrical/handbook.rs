//! Worked examples of public handbooks and pages, each with its source.

use fanwright::trade::formula::Value;
use fanwright::trade::quantity::Kind;

use super::{number, quantity, result_word, run, truth, word};

fn volts(value: f64) -> Value {
    quantity(Kind::Voltage, "V", value)
}

/// Drop on a 120 V, 20 A, 100 ft run with K = 12.9, to the digits printed.
fn drop(circular_mils: f64, amps: f64) -> (f64, f64) {
    let results = run(
        "voltage_drop",
        vec![
            ("supply", volts(120.0)),
            ("current", quantity(Kind::Current, "A", amps)),
            ("one_way", quantity(Kind::Length, "ft", 100.0)),
            ("area", quantity(Kind::Area, "cmil", circular_mils)),
        ],
    );
    (
        number(&results, "drop", "V"),
        number(&results, "share", "%"),
    )
}

/// Public exam-preparation pages on VD = 2·K·I·L/CM (NEC 210.19(A) informational note).
#[test]
fn published_voltage_drops_are_met() {
    for (circular_mils, amps, lost, share) in [
        (10_380.0, 20.0, 4.97, 4.1),
        (6_530.0, 20.0, 7.9, 6.6),
        (16_510.0, 20.0, 3.1, 2.6),
        (6_530.0, 15.0, 5.94, 4.95),
    ] {
        let (volts, percent) = drop(circular_mils, amps);
        assert!((volts - lost).abs() < 0.06, "{circular_mils}: {volts} V");
        assert!(
            (percent - share).abs() < 0.06,
            "{circular_mils}: {percent} %"
        );
    }
}

/// NEC Chapter 9 Table 8: K is the table's resistance times its area; both ways agree to 3 %.
#[test]
fn the_k_formula_and_the_table_agree() {
    for gauge in ["14", "12", "10"] {
        let resistance = run("conductor_resistance", vec![("gauge", word(gauge))]);
        let area = run("conductor_area", vec![("gauge", word(gauge))]);
        let k = number(&resistance, "resistance", "ohm") / 1000.0 * number(&area, "area", "cmil");
        assert!((k / 12.9 - 1.0).abs() < 0.03, "{gauge} AWG: {k}");
    }
}

/// NEMA MG 1-12.44.2: torque goes with the square of the voltage; 90 % leaves 81 %.
#[test]
fn nine_tenths_of_the_voltage_leave_81_percent_torque() {
    let results = run(
        "torque_at_voltage",
        vec![("measured", volts(103.5)), ("rated", volts(115.0))],
    );
    assert!((number(&results, "torque_share", "%") - 81.0).abs() < 1e-9);
}

/// US Department of Energy motor report, December 2013, pp. 5 and 16: 30, 45 and 75 %.
#[test]
fn the_energy_department_s_retrofit_ratios_are_met() {
    for (old, new, ratio) in [
        ("shaded_pole", "ec", 0.40),
        ("shaded_pole", "psc", 0.667),
        ("psc", "ec", 0.60),
    ] {
        let results = run(
            "retrofit_ratio",
            vec![("old", word(old)), ("new", word(new))],
        );
        assert!(
            (number(&results, "input_ratio", "×") - ratio).abs() < 0.001,
            "{old} {new}"
        );
    }
}

/// Textbook: 10 µF behind 440 V effective, 15 kΩ, down to 50 V takes 0.378 s.
#[test]
fn a_bleed_resistor_takes_less_than_half_a_second() {
    let peak = number(
        &run("peak_voltage", vec![("voltage", volts(440.0))]),
        "peak",
        "V",
    );
    assert!((peak - 622.25).abs() < 0.01);
    let results = run(
        "capacitor_discharge",
        vec![
            ("capacitance", quantity(Kind::Capacitance, "uF", 10.0)),
            ("resistor", quantity(Kind::Resistance, "ohm", 15_000.0)),
            ("from", volts(peak)),
        ],
    );
    assert!((number(&results, "time", "s") - 0.378).abs() < 0.001);
    assert!((number(&results, "peak_power", "W") - 25.8).abs() < 0.05);
}

/// Trade pages on run capacitors: 7.5 µF ±6 % ends at 7.05, so 7.02 fails; 40 µF at 37.6.
#[test]
fn published_capacitor_limits_are_met() {
    let low = |printed: f64, measured: f64| {
        let results = run(
            "capacitor_verdict",
            vec![
                ("printed", quantity(Kind::Capacitance, "uF", printed)),
                ("measured", quantity(Kind::Capacitance, "uF", measured)),
            ],
        );
        (
            number(&results, "low", "uF"),
            result_word(&results, "verdict"),
        )
    };
    let (limit, verdict) = low(7.5, 7.02);
    assert!((limit - 7.05).abs() < 1e-9);
    assert_eq!(verdict, "low");
    assert!((low(40.0, 40.0).0 - 37.6).abs() < 1e-9);
}

/// Ohm's law: a 230 V heater on 208 V gives 82 % (a common field finding).
#[test]
fn a_heater_on_a_lower_service_gives_less() {
    let results = run(
        "heater_watts",
        vec![
            ("rated_watts", quantity(Kind::Power, "W", 1200.0)),
            ("rated_volts", volts(230.0)),
            ("measured_volts", volts(208.0)),
        ],
    );
    assert!((number(&results, "share", "%") - 81.8).abs() < 0.05);
}

/// Copper winding, 234.5 °C rule (IEEE 118): −10 °F reads 0.81 of 77 °F.
#[test]
fn a_cold_winding_reads_four_fifths() {
    let results = run(
        "winding_resistance",
        vec![
            ("resistance", quantity(Kind::Resistance, "ohm", 100.0)),
            ("from", quantity(Kind::Temperature, "degF", 77.0)),
            ("to", quantity(Kind::Temperature, "degF", -10.0)),
        ],
    );
    assert!((number(&results, "resistance", "ohm") - 81.4).abs() < 0.1);
}

/// NEMA MG 1-12.44.1 and the trap: 206 V on a healthy 208 V service.
#[test]
fn a_230_volt_motor_is_too_low_on_a_208_volt_service() {
    let results = run(
        "supply_verdict",
        vec![("measured", volts(206.0)), ("rated", volts(230.0))],
    );
    assert_eq!(result_word(&results, "verdict"), "too_low");
    assert_eq!(
        results.sentence.as_deref(),
        Some("206 V: too low for a 230 V motor (207–253 V). This is a supply problem.")
    );
    let fit = run(
        "service_fits_motor",
        vec![("rated", volts(230.0)), ("nominal", volts(208.0))],
    );
    assert_eq!(result_word(&fit, "fit"), "low_end_out");
}

/// Volts times amps are volt-amperes; no formula calls them watts.
#[test]
fn volts_times_amps_are_never_watts() {
    let results = run(
        "apparent_power",
        vec![
            ("voltage", volts(115.0)),
            ("current", quantity(Kind::Current, "A", 1.1)),
        ],
    );
    let Some(Value::Quantity(apparent)) = results.get("apparent_power") else {
        panic!("no apparent power")
    };
    assert_eq!(apparent.kind, Kind::ApparentPower);
    assert!(apparent.to_string().ends_with(" VA"));
}

/// IEEE 43-2000 and common practice: no test voltage is ever named for an EC motor.
#[test]
fn no_insulation_test_goes_through_electronics() {
    let results = run(
        "insulation_test",
        vec![
            ("motor", word("ec")),
            ("rated", volts(230.0)),
            ("qualified", truth(true)),
            ("capacitor_connected", truth(false)),
        ],
    );
    assert_eq!(result_word(&results, "permission"), "through_electronics");
    assert!(results.get("voltage").is_none());
}

/// Common practice, no source: what is not known is asked, never assumed.
#[test]
fn a_part_of_which_nothing_is_known_is_not_passed() {
    let results = run("substitution", vec![]);
    assert_eq!(result_word(&results, "verdict"), "ask_first");
    let burning = run(
        "substitution",
        vec![
            ("refrigerant_group", word("A2L")),
            ("makers_word", word("neither")),
        ],
    );
    assert_eq!(result_word(&burning, "verdict"), "does_not_fit");
    assert!(result_word(&burning, "reasons").starts_with("The refrigerant burns"));
}
