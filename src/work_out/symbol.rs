//! Short keys as formulas write them, and keys that name their unit.
//!
//! `rh=85%` means the humidity. `cfm=1200` needs no unit, as the key says it.

use crate::trade::formula::{Formula, Parameter};

/// A short key.
struct Symbol {
    written: &'static str,
    /// The inputs that it may stand for; the first that a formula has counts.
    names: &'static [&'static str],
    /// The unit that the key itself says, for a number without one.
    unit: Option<&'static str>,
}

const fn symbol(written: &'static str, names: &'static [&'static str]) -> Symbol {
    Symbol {
        written,
        names,
        unit: None,
    }
}

const fn unit(written: &'static str, names: &'static [&'static str], unit: &'static str) -> Symbol {
    Symbol {
        written,
        names,
        unit: Some(unit),
    }
}

const SYMBOLS: &[Symbol] = &[
    symbol("t", &["temperature", "ice_temperature"]),
    symbol("rh", &["humidity"]),
    symbol("p", &["pressure"]),
    symbol("alt", &["altitude"]),
    symbol("dt", &["difference"]),
    symbol("rho", &["density"]),
    symbol("vp", &["velocity_pressure"]),
    symbol("sp", &["pressure", "static_pressure"]),
    unit("sp1", &["pressure"], "in wg"),
    unit("cfm", &["air_flow"], "cfm"),
    unit("cfm1", &["air_flow"], "cfm"),
    unit("cfm2", &["new_air_flow"], "cfm"),
    unit("rpm", &["speed", "old_speed", "needed_speed"], "rpm"),
    unit("rpm1", &["speed"], "rpm"),
    unit("rpm2", &["new_speed"], "rpm"),
    unit("d1", &["diameter"], "in"),
    unit("d2", &["new_diameter"], "in"),
    unit("power1", &["power"], "W"),
    unit("power2", &["new_power"], "W"),
    unit("bhp1", &["power"], "hp"),
    unit("bhp2", &["new_power"], "hp"),
    symbol("p_std", &["power"]),
    unit("p_kw", &["power"], "kW"),
    unit("hp", &["shaft", "old_shaft_power"], "hp"),
    unit("f", &["frequency"], "Hz"),
    unit("fpi", &["fins", "fin_pitch"], "fpi"),
    symbol("face_area", &["area"]),
    symbol("air_entering", &["air_on"]),
    symbol("sat_suction", &["saturated_suction"]),
    symbol("suction", &["pressure"]),
    symbol("line_t", &["line_temperature"]),
    symbol("awg", &["gauge"]),
    symbol("strand", &["stranding"]),
    unit("cm", &["area"], "cmil"),
    unit("flc", &["full_load"], "A"),
    unit("motor_flc", &["full_load"], "A"),
    unit("flc_each", &["full_load"], "A"),
    unit("motors_flc", &["full_load"], "A"),
    unit("defrost_heater", &["other"], "A"),
    unit("heater", &["other"], "A"),
    symbol("heater_continuous", &["other_continuous"]),
    symbol("continuous", &["other_continuous"]),
    symbol("phase", &["phases"]),
    unit("length_one_way", &["one_way"], "ft"),
    unit("distance_one_way", &["one_way"], "ft"),
    symbol("material", &["metal"]),
    symbol("winding", &["build"]),
    symbol("old", &["old_motor"]),
    symbol("new", &["new_motor"]),
    symbol("type", &["motor"]),
    symbol("inch_of_water", &["velocity_pressure"]),
    symbol("cfm_ratio", &["flow_ratio"]),
    symbol("rpm_ratio", &["flow_ratio"]),
    symbol("speed_ratio", &["flow_ratio"]),
    unit("load_lb", &["load"], "lb"),
    unit("user_plus_tools_lb", &["load"], "lb"),
    unit("ladder_duty_lb", &["duty"], "lb"),
    symbol("built", &["made"]),
    unit("i", &["current"], "A"),
    unit("v", &["voltage", "supply", "measured"], "V"),
    unit("v0", &["from"], "V"),
    unit("volts", &["rated", "supply"], "V"),
    unit("rated_voltage", &["rated"], "V"),
    unit("rated", &["rated"], "V"),
    unit("nominal", &["nominal"], "V"),
    symbol("c", &["capacitance"]),
    symbol("r", &["resistor", "resistance", "resistance_per_kft"]),
    symbol("v_across_cap", &["across"]),
    unit("pf", &["power_factor"], "ratio"),
    unit("efficiency", &["efficiency"], "ratio"),
    unit("w_base", &["watts_before"], "W"),
    unit("w_new", &["watts_after"], "W"),
    symbol("before", &["watts_before"]),
    symbol("after", &["watts_after"]),
    symbol("w_full", &["full_power"]),
    symbol("saved", &["power"]),
    symbol("n", &["motors"]),
    unit("hours", &["hours", "time"], "h"),
    unit("life_years", &["life"], "years"),
    symbol("coef_a", &["coefficient_a"]),
    unit("coef_b", &["coefficient_b"], "kW"),
    symbol("avg_power_factor", &["average"]),
    unit("kwh", &["energy"], "kWh"),
    symbol("rate", &["price"]),
    symbol("factor", &["emission_factor"]),
];

/// Other ways to write a word of a list, folded, each with the words it may stand for.
const OTHER_WORDS: &[(&str, &[&str])] = &[
    ("1", &["single_phase"]),
    ("3", &["three_phase"]),
    ("single", &["single_phase"]),
    ("three", &["three_phase"]),
    ("ecm", &["ec"]),
    ("sp", &["shaded_pole"]),
    ("stranded", &["stranded7"]),
    ("cu", &["copper"]),
    ("uncoated_copper", &["copper"]),
    ("al", &["aluminum"]),
    ("aluminium", &["aluminum"]),
    ("random_wound,_<_1_kv", &["random_wound"]),
    ("yes", &["true"]),
    ("no", &["false"]),
];

/// The words that a folded word may stand for besides itself.
pub(super) fn word_meant(folded: &str) -> &'static [&'static str] {
    OTHER_WORDS
        .iter()
        .find(|(written, _)| *written == folded)
        .map_or(&[], |(_, words)| words)
}

/// An input that is told per 1000 ft may be given in `ohm/kft`: the name says the rest.
pub(super) fn without_length(name: &str, json: serde_json::Value) -> serde_json::Value {
    let serde_json::Value::Object(mut object) = json else {
        return json;
    };
    if name.ends_with("_per_kft")
        && let Some(serde_json::Value::String(unit)) = object.get_mut("unit")
        && let Some(plain) = unit.strip_suffix("/kft")
    {
        *unit = plain.to_owned();
    }
    serde_json::Value::Object(object)
}

/// The input of `formula` that `key` stands for, with the short key where it is one.
pub(super) fn input_of(
    formula: &Formula,
    key: &str,
) -> Option<(&'static Parameter, Option<&'static str>)> {
    let takes = formula.takes;
    let named = |name: &str| takes.iter().find(|parameter| parameter.name == name);
    let short = SYMBOLS.iter().find(|symbol| symbol.written == key);
    let unit = short.and_then(|symbol| symbol.unit);
    if let Some(parameter) = named(key) {
        // An input's own name carries no unit, unless the table gives it one.
        return Some((
            parameter,
            unit.filter(|_| short.is_some_and(|s| s.names.contains(&key))),
        ));
    }
    let parameter = short?.names.iter().find_map(|name| named(name))?;
    Some((parameter, unit))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::formulas;

    #[test]
    fn every_symbol_stands_for_an_input_of_some_formula() {
        for symbol in SYMBOLS {
            for name in symbol.names {
                let known =
                    formulas().any(|formula| formula.takes.iter().any(|one| one.name == *name));
                assert!(
                    known,
                    "{} stands for {name}, which nothing takes",
                    symbol.written
                );
            }
        }
    }
}
