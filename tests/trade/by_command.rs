//! Every published value that is a computation, worked out through `work-out --json`.

use fanwright::trade::quantity::{Kind, Unit};
use serde_json::{Map, Value, json};

use super::work_out::json as work_out_json;
use super::{Vector, vectors_of};

/// The groups whose vectors are numbers out of numbers.
const GROUPS: &[&str] = &[
    "air",
    "sensible",
    "velocity",
    "fanlaw",
    "coil",
    "nec_430_248",
    "nec_430_22",
    "nec_430_24",
    "nec_ch9_t8",
    "voltage_drop",
    "c84_1",
    "mg1",
    "insulation",
    "capacitor",
    "motor",
    "savings",
    "co2",
    "pt",
    "tp",
    "units",
];

/// Which formula answers a vector, with inputs beside its own, and the result to look at.
struct Route {
    formula: &'static str,
    beside: Vec<(&'static str, Value)>,
    result: &'static str,
}

fn route(formula: &'static str, result: &'static str) -> Option<Route> {
    Some(Route {
        formula,
        beside: Vec::new(),
        result,
    })
}

impl Route {
    fn with(mut self, key: &'static str, value: Value) -> Option<Self> {
        self.beside.push((key, value));
        Some(self)
    }
}

/// The route of a vector; none where it is a rule or a range, which other modules assert.
fn of(vector: &Vector) -> Option<Route> {
    let unit = vector.expected_unit();
    if unit.is_empty() {
        return None;
    }
    match vector.group.as_str() {
        "air" => air(vector, unit),
        "sensible" if vector.has("cfm") => route("sensible_heat", "heat"),
        "sensible" => route("sensible_factor", "factor"),
        "velocity" if vector.has("inch_of_water") => route("velocity_from_pressure", "velocity"),
        "velocity" if vector.has("vp") => route("velocity_from_pressure", "velocity"),
        "velocity" => {
            let inch = json!({ "value": 1, "unit": "inH2O" });
            route("velocity_from_pressure", "velocity")?.with("vp", inch)
        }
        "fanlaw" => fan_law(vector),
        "coil" if vector.has("cfm") => route("face_velocity", "velocity"),
        "coil" if vector.has("fin_height") => route("face_area", "area"),
        "coil" if unit == "fins" => route("fin_count", "count"),
        "coil" if vector.has("fpi") => route("fin_spacing", "spacing"),
        "coil" if vector.has("air_entering") => route("coil_td", "difference"),
        "nec_430_248" => route("full_load_current", "current"),
        "nec_430_22" => route("conductor_minimum", "minimum"),
        "nec_430_24" => route("conductor_minimum_several", "minimum"),
        "nec_ch9_t8" if unit == "ohm/kft" => route("conductor_resistance", "resistance"),
        "insulation" if vector.has("winding") => route("insulation_least", "least"),
        "nec_ch9_t8" if unit == "circular mil" => route("conductor_area", "area"),
        "capacitor" if vector.has("v_across_cap") => route("capacitor_under_load", "capacitance"),
        "capacitor" if vector.takes(&["f"]) => {
            // The constant is the capacitance of one ampere at one volt.
            let one = |unit: &str| json!({ "value": 1, "unit": unit });
            route("capacitor_under_load", "capacitance")?
                .with("i", one("A"))?
                .with("v_across_cap", one("V"))
        }
        "capacitor" if vector.has("V0") => route("capacitor_discharge", "time"),
        "motor" => motor(vector, unit),
        "savings" => saving(vector, unit),
        "co2" if vector.has("year") => route("emission_factor", "factor"),
        "pt" if vector.has("quality") && vector.number("quality") == 0.0 => {
            route("saturation_pressure", "bubble")
        }
        "pt" => route("saturation_pressure", "dew"),
        "tp" => route("saturation_temperature", "dew"),
        _ => None,
    }
}

fn air(vector: &Vector, unit: &str) -> Option<Route> {
    if vector.has("same_temperature") {
        return route("standard_pressure", "density_ratio");
    }
    if vector.has("altitude") {
        return route("standard_pressure", "pressure");
    }
    let result = match unit {
        "lb/ft3" => "density",
        "lb/lb" => "humidity_ratio",
        "Btu/lb dry air" => "enthalpy",
        _ => return route("dew_point", "point"),
    };
    if vector.has("rh") {
        route("moist_air", result)
    } else {
        route("moist_air", result)?.with("rh", json!("0 %"))
    }
}

fn fan_law(vector: &Vector) -> Option<Route> {
    if vector.has("cfm_ratio") {
        return route("fan_law_ratio", "power_ratio");
    }
    if vector.has("bhp2") {
        return route("flow_for_power", "air_flow");
    }
    if vector.has("P_std") {
        return route("shaft_power_in_cold_air", "power");
    }
    if vector.has("poles") {
        return (!vector.has("rpm")).then(|| route("synchronous_speed", "speed"))?;
    }
    match ["cfm1", "power1", "sp1"]
        .into_iter()
        .find(|key| vector.has(key))?
    {
        "cfm1" => route("fan_law_flow", "air_flow"),
        "power1" => route("fan_law_power", "power"),
        _ => route("fan_law_pressure", "pressure"),
    }
}

fn motor(vector: &Vector, unit: &str) -> Option<Route> {
    if vector.has("before") {
        return route("watts_saved", "saved");
    }
    match unit {
        "W input" => route("motor_input", "input"),
        "kWh/yr direct" => route("direct_energy", "energy"),
        "W" if vector.has("pf") => route("true_power", "power"),
        "W" | "W shaft" if vector.has("hp") => route("motor_shaft_watts", "shaft"),
        "ratio" => route("retrofit_ratio", "input_ratio"),
        "Btu/h" => route("fan_box_heat", "heat"),
        _ => None,
    }
}

fn saving(vector: &Vector, unit: &str) -> Option<Route> {
    if vector.has("coef_a") {
        return route("lifetime_energy_saved", "energy");
    }
    match unit {
        "W/W" => route("cop_from_eer", "cop"),
        "factor" => route("interactive_factor", "factor"),
        "kWh/yr" => route("energy_saved", "energy"),
        "lb CO2/yr" => route("carbon_dioxide", "mass"),
        "USD/yr" => route("energy_cost", "money"),
        _ => route("power_at_speed", "power"),
    }
}

/// The vector's inputs as they stand, without the remarks that are no inputs of a formula.
fn inputs(vector: &Vector, route: &Route) -> Map<String, Value> {
    const REMARKS: &[&str] = &[
        "same_temperature",
        "same_fan_same_density",
        "same_rpm",
        "same_cfm",
        "same_shaft_power",
        "motor_and_fan_inside_box",
        "phase",
        "quality",
        "note",
    ];
    // The area of a conductor does not depend on its strands.
    let of_area = |key: &str| {
        (route.formula == "conductor_area" && key != "awg")
            || (route.formula == "conductor_resistance" && key == "material")
    };
    let own = vector
        .inputs
        .iter()
        .filter(|(key, _)| !REMARKS.contains(&key.as_str()) && !of_area(key));
    let mut inputs: Map<String, Value> = own
        .map(|(key, value)| (key.clone(), value.clone()))
        .collect();
    for (key, value) in &route.beside {
        inputs.insert((*key).to_owned(), value.clone());
    }
    inputs
}

/// The answered number in the unit that the vector expects.
fn number(answer: &Value, expected: &str) -> f64 {
    let value = answer["value"]
        .as_f64()
        .unwrap_or_else(|| panic!("no number in {answer}"));
    let symbol = answer["unit"].as_str().unwrap();
    if symbol.is_empty() {
        return value;
    }
    let word = match expected {
        "ohm/kft" => "ohm",
        "uF.V/A" => "uF",
        "circular mil" => "cmil",
        "fpm per sqrt(in wg)" => "fpm",
        other => other.split_whitespace().next().unwrap(),
    };
    let word = word.strip_suffix("/yr").unwrap_or(word);
    let both = |kind: Kind| {
        let given = kind.units().find(|unit| unit.symbol == symbol)?;
        Some(given.of(value).in_unit(Unit::typed(kind, word)?))
    };
    Kind::all()
        .iter()
        .find_map(|(kind, _)| both(*kind))
        .unwrap_or_else(|| panic!("{symbol} cannot be told in {expected}"))
}

#[test]
fn every_published_number_comes_out_of_the_command() {
    let mut answered = std::collections::BTreeMap::new();
    for vector in vectors_of(GROUPS) {
        let Some(route) = of(&vector) else { continue };
        let object = Value::Object(inputs(&vector, &route)).to_string();
        let answer = work_out_json(route.formula, &object);
        vector.meets(number(
            &answer["results"][route.result],
            vector.expected_unit(),
        ));
        *answered.entry(vector.group.clone()).or_insert(0) += 1;
    }
    for group in [
        "nec_430_22",
        "nec_430_24",
        "nec_ch9_t8",
        "insulation",
        "air",
        "sensible",
        "velocity",
        "fanlaw",
        "coil",
        "nec_430_248",
        "capacitor",
        "motor",
        "savings",
        "co2",
        "pt",
        "tp",
    ] {
        assert!(
            answered.contains_key(group),
            "no vector of {group} was answered"
        );
    }
}

/// Which formula gives both ends of a vector's band, and under which names.
fn band(vector: &Vector) -> Option<(&'static str, [&'static str; 2])> {
    let ends = ["low", "high"];
    Some(match vector.group.as_str() {
        "c84_1" if vector.has("range") => ("system_voltage_band", ends),
        "service_voltage" => ("utility_voltage_band", ends),
        "mg1" if vector.inputs["rated"]["unit"] == "Hz" => ("motor_frequency_band", ends),
        "mg1" if !vector.has("measured") => ("motor_voltage_band", ends),
        "motor" if vector.takes(&["motor"]) => ("motor_efficiency", ends),
        "defrost_logic" => ("defrost_failsafe", ends),
        _ => return None,
    })
}

// Sources: ANSI C84.1, NEMA MG 1, COMAR and others, beside each vector.
#[test]
fn every_published_band_comes_out_of_the_command() {
    let mut answered = std::collections::BTreeSet::new();
    for vector in vectors_of(BANDS) {
        if vector.expected["min"].is_null() {
            continue;
        }
        let Some((formula, names)) = band(&vector) else {
            continue;
        };
        let object = Value::Object(vector.inputs.clone()).to_string();
        let answer = work_out_json(formula, &object);
        for (key, name) in ["min", "max"].into_iter().zip(names) {
            let result = &answer["results"][name];
            let percent = if result["unit"] == "%" { 100.0 } else { 1.0 };
            vector.meets_under(key, result["value"].as_f64().unwrap() / percent);
        }
        answered.insert(vector.group.clone());
    }
    assert_eq!(answered.len(), BANDS.len(), "{answered:?}");
}

/// The groups whose vectors are a lowest and a highest value.
const BANDS: &[&str] = &["c84_1", "service_voltage", "mg1", "motor", "defrost_logic"];

// Sources: NEC Chapter 9 Table 8 and the K method, beside each vector.
#[test]
fn every_published_voltage_drop_comes_out_of_the_command() {
    let mut answered = 0;
    for vector in vectors_of(&["voltage_drop"]) {
        if !vector.has("i") {
            continue;
        }
        let object = Value::Object(vector.inputs.clone()).to_string();
        let answer = work_out_json("voltage_drop", &object);
        let drop = answer["results"]["drop"]["value"].as_f64().unwrap();
        vector.meets_under("drop", drop);
        let share = &answer["results"]["share"];
        assert_eq!(share["unit"], "%");
        vector.meets_under("percent", share["value"].as_f64().unwrap());
        answered += 1;
    }
    assert!(answered > 0);
}

/// The formula whose word answers a vector, with its inputs, its result and the word expected.
fn verdict(vector: &Vector) -> Option<(&'static str, Value, &'static str, String)> {
    let own = Value::Object(vector.inputs.clone());
    let expected = match &vector.expected {
        Value::String(text) => text.clone(),
        Value::Bool(truth) => truth.to_string(),
        _ => return None,
    };
    Some(match vector.group.as_str() {
        "safety_group" => ("safety_group", own, "group", expected),
        "disconnect" => ("disconnect_in_sight", own, "in_sight", expected),
        "mg1" => {
            // Outside the band and inside it have several words each.
            let rated = vector.inputs["rated"].clone();
            let measured = vector.inputs["measured"].clone();
            let inputs = json!({ "rated": rated, "measured": measured });
            let inside = expected == "true";
            let words = if inside {
                "low good high"
            } else {
                "no_volts too_low too_high"
            };
            ("supply_verdict", inputs, "verdict", words.to_owned())
        }
        "ladder" => {
            let word = if expected == "BLOCK" { "fail" } else { "pass" };
            ("ladder_check", own, "check", word.to_owned())
        }
        "regulation" => {
            let key = |name: &str| vector.inputs.get(name).cloned();
            let mut inputs = Map::new();
            for name in ["hp", "volts", "motor", "built"] {
                inputs.extend(key(name).map(|value| (name.to_owned(), value)));
            }
            let word = if expected.starts_with("NOT") {
                "not_compliant"
            } else {
                "compliant"
            };
            (
                "walk_in_motor_rule",
                Value::Object(inputs),
                "verdict",
                word.to_owned(),
            )
        }
        _ => return None,
    })
}

// Sources: ASHRAE 34, NEC Article 100, NEMA MG 1, ANSI A14, 10 CFR 431.306, beside each vector.
#[test]
fn every_published_verdict_comes_out_of_the_command() {
    let groups = ["safety_group", "disconnect", "mg1", "ladder", "regulation"];
    let mut answered = std::collections::BTreeSet::new();
    for vector in vectors_of(&groups) {
        let Some((formula, inputs, name, words)) = verdict(&vector) else {
            continue;
        };
        let answer = work_out_json(formula, &inputs.to_string());
        let word = answer["results"][name].as_str().unwrap();
        assert!(
            words.split(' ').any(|expected| expected == word),
            "{}: {word}, expected {words}",
            vector.label()
        );
        answered.insert(vector.group.clone());
    }
    assert_eq!(answered.len(), groups.len(), "{answered:?}");
}

// Sources: pint 0.25.3, and 1.0 for the exact definitions, beside each vector.
#[test]
fn units_convert_as_published() {
    let mut converted = 0;
    for vector in vectors_of(&["units"]) {
        // A conditioned inch of water and a gauge vacuum are not units of the table.
        if !vector.has("from") || vector.text("from").contains('(') {
            continue;
        }
        let inputs = json!({ "from": vector.text("from"), "to": vector.expected_unit() });
        let answer = work_out_json("convert", &inputs.to_string());
        vector.meets(answer["result"]["value"].as_f64().unwrap());
        converted += 1;
    }
    assert!(converted > 0);
}
