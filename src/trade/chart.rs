//! Which chart belongs to the result of a formula, as data: channels and reports only draw it.
//!
//! A chart is made from the formula's name and the values that were recorded with its result, so
//! an old record shows the same chart again.

use serde::{Deserialize, Serialize};

use super::formula::{Arguments, Results, Value};
use super::quantity::{Quantity, Unit, plain_number};

/// A chart, with every value in the unit that it is read in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "chart", rename_all = "snake_case")]
pub enum Chart {
    /// What each speed setting of an assembly gives at one place.
    Settings {
        /// The settings, slowest first.
        steps: Vec<Step>,
        /// What the fan needs, where that is known.
        wanted: Option<Wanted>,
    },
    /// The same measures before and after.
    BeforeAndAfter {
        /// One pair a measure.
        pairs: Vec<Pair>,
        /// How sure the difference is, in one line.
        note: String,
    },
}

/// One speed setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// What the setting is called.
    pub setting: String,
    /// Its speed, rpm.
    pub rpm: f64,
    /// Air of one fan, cfm; none where it is not known.
    pub cfm: Option<f64>,
    /// Electrical input, W.
    pub watts: f64,
    /// Whether it is the setting to use.
    pub chosen: bool,
}

/// What the fan needs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wanted {
    /// Air of one fan, cfm.
    Cfm(f64),
    /// Speed, rpm.
    Rpm(f64),
}

/// One measure before and after, in one unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// What it is: `Fan power`.
    pub what: String,
    /// Its unit: `W`.
    pub unit: String,
    /// Before, with the old fans.
    pub before: f64,
    /// After, with the new fans.
    pub after: f64,
    /// How the numbers are known: `by wattmeter`, `by nameplate`.
    pub known: String,
}

/// A chart shows at most so many settings: the chosen one and its neighbours.
pub const SETTINGS_MAX: usize = 10;

/// How the chart of a result is made.
type Make = fn(&Arguments, &Results) -> Option<Chart>;

/// The formulas whose results have a chart.
const CHARTED: &[(&str, Make)] = &[("choose_replacement", settings), ("gains", gain)];

impl Chart {
    /// The chart of what `formula` gave; none if it has none or a value for it is missing.
    pub fn of(formula: &str, inputs: &Arguments, results: &Results) -> Option<Chart> {
        let (_, make) = CHARTED.iter().find(|(name, _)| *name == formula)?;
        make(inputs, results)
    }

    /// The names of the formulas whose results have a chart.
    pub fn formulas() -> impl Iterator<Item = &'static str> {
        CHARTED.iter().map(|(name, _)| *name)
    }
}

fn settings(_: &Arguments, results: &Results) -> Option<Chart> {
    let names: Vec<&str> = text(results.get("settings")?)?.lines().collect();
    let rpm = list(results, "setting_speeds", "rpm")?;
    let cfm = list(results, "setting_air_flows", "cfm");
    let watts = list(results, "setting_inputs", "watt")?;
    let chosen = text(results.get("setting")?)?;
    let steps: Vec<Step> = names
        .iter()
        .enumerate()
        .map(|(place, name)| {
            Some(Step {
                setting: (*name).to_owned(),
                rpm: *rpm.get(place)?,
                cfm: cfm.as_ref().and_then(|cfm| cfm.get(place).copied()),
                watts: *watts.get(place)?,
                chosen: *name == chosen,
            })
        })
        .collect::<Option<_>>()?;
    let one = |name: &str, unit| quantity(results.get(name)?).and_then(|it| shown(it, unit));
    let wanted = match (one("needed_air_flow", "cfm"), one("needed_speed", "rpm")) {
        (Some(cfm), _) => Some(Wanted::Cfm(cfm)),
        (None, rpm) => rpm.map(Wanted::Rpm),
    };
    Some(Chart::Settings {
        steps: near_the_chosen(steps),
        wanted,
    })
}

/// The chosen setting with as many neighbours as fit on a chart.
fn near_the_chosen(steps: Vec<Step>) -> Vec<Step> {
    let chosen = steps.iter().position(|step| step.chosen).unwrap_or(0);
    let last_start = steps.len().saturating_sub(SETTINGS_MAX);
    let start = chosen.saturating_sub(SETTINGS_MAX / 2).min(last_start);
    steps.into_iter().skip(start).take(SETTINGS_MAX).collect()
}

fn gain(inputs: &Arguments, results: &Results) -> Option<Chart> {
    let motors = match inputs.0.get("motors") {
        Some(Value::Number(motors)) => *motors,
        _ => 1.0,
    };
    let all = |name: &str, unit| {
        let each = quantity(inputs.0.get(name)?)?;
        shown(each, unit).map(|value| value * motors)
    };
    let known = known(inputs);
    let pair = |what: &str, literal: &'static str| {
        Some(Pair {
            what: what.to_owned(),
            unit: Unit::of_literal(literal)?.symbol.to_owned(),
            before: all("watts_before", literal)?,
            after: all("watts_after", literal)?,
            known: known.clone(),
        })
    };
    let fans = match motors {
        1.0 => "Power of 1 fan".to_owned(),
        more => format!("Power of {} fans", plain_number(more)),
    };
    let saved = |name: &str| in_unit(quantity(results.get(name)?)?, "watt").map(whole);
    let note = format!(
        "Saved: {} W to {} W, likely {} W.",
        saved("saved_low")?,
        saved("saved_high")?,
        saved("saved")?
    );
    Some(Chart::BeforeAndAfter {
        pairs: vec![
            pair(&fans, "watt")?,
            pair("Heat into the box", "btu_per_hour")?,
        ],
        note,
    })
}

/// How the watts before and after are known.
fn known(inputs: &Arguments) -> String {
    let by = |name: &str| match inputs.0.get(name) {
        Some(Value::Word(word) | Value::Text(word)) => word.replace('_', " "),
        _ => "nameplate".to_owned(),
    };
    match (by("before_known_by"), by("after_known_by")) {
        (before, after) if before == after => format!("by {before}"),
        (before, after) => format!("by {before}, then {after}"),
    }
}

fn text(value: &Value) -> Option<&str> {
    match value {
        Value::Text(text) | Value::Word(text) => Some(text),
        _ => None,
    }
}

fn quantity(value: &Value) -> Option<Quantity> {
    match value {
        Value::Quantity(quantity) => Some(*quantity),
        _ => None,
    }
}

/// The value in this unit; none where a bar cannot show it.
fn shown(quantity: Quantity, literal: &str) -> Option<f64> {
    in_unit(quantity, literal).filter(|value| *value >= 0.0)
}

fn in_unit(quantity: Quantity, literal: &str) -> Option<f64> {
    let unit = Unit::of_literal(literal)?;
    let value = (unit.kind == quantity.kind).then(|| quantity.in_unit(unit))?;
    value.is_finite().then_some(value)
}

fn list(results: &Results, name: &str, literal: &str) -> Option<Vec<f64>> {
    let Value::Quantities(all) = results.get(name)? else {
        return None;
    };
    all.iter().map(|one| shown(*one, literal)).collect()
}

fn whole(value: f64) -> String {
    plain_number(value.round())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::formula::Results;
    use crate::trade::quantity::Kind;

    fn of(unit: &str, value: f64) -> Quantity {
        Unit::of_literal(unit).unwrap().of(value)
    }

    fn choice(count: usize, chosen: usize) -> Results {
        let names: Vec<String> = (0..count).map(|at| format!("S{at}")).collect();
        let speeds = (0..count).map(|at| of("rpm", 1000.0 + 50.0 * at as f64));
        let inputs = (0..count).map(|at| of("watt", 20.0 + at as f64));
        Results::default()
            .with("setting", Value::Text(format!("S{chosen}")))
            .with("settings", Value::Text(names.join("\n")))
            .with("setting_speeds", Value::Quantities(speeds.collect()))
            .with("setting_inputs", Value::Quantities(inputs.collect()))
            .with("needed_speed", Value::Quantity(of("rpm", 1040.0)))
    }

    #[test]
    fn of_many_settings_the_neighbours_of_the_chosen_one_are_drawn() {
        for (count, chosen) in [(1, 0), (3, 2), (30, 0), (30, 17), (30, 29)] {
            let results = choice(count, chosen);
            let chart = Chart::of("choose_replacement", &Arguments::default(), &results);
            let Some(Chart::Settings { steps, wanted }) = chart else {
                panic!("no chart of {count} settings");
            };
            assert_eq!(steps.len(), count.min(SETTINGS_MAX));
            assert_eq!(steps.iter().filter(|step| step.chosen).count(), 1);
            assert!(matches!(wanted, Some(Wanted::Rpm(rpm)) if (rpm - 1040.0).abs() < 1e-9));
        }
    }

    #[test]
    fn a_gain_is_drawn_for_all_motors_with_how_it_is_known() {
        let inputs = Arguments(
            [
                (
                    "watts_before".to_owned(),
                    Value::Quantity(of("watt", 135.0)),
                ),
                ("watts_after".to_owned(), Value::Quantity(of("watt", 45.0))),
                ("motors".to_owned(), Value::Number(2.0)),
                ("after_known_by".to_owned(), Value::Word("wattmeter".into())),
            ]
            .into(),
        );
        let saved = |name: &str, watts| (name.to_owned(), Value::Quantity(of("watt", watts)));
        let results = Results {
            values: vec![
                saved("saved", 180.0),
                saved("saved_low", -10.0),
                saved("saved_high", 220.0),
            ],
            ..Results::default()
        };
        let Some(Chart::BeforeAndAfter { pairs, note }) = Chart::of("gains", &inputs, &results)
        else {
            panic!("no chart of a gain");
        };
        assert_eq!((pairs[0].before, pairs[0].after), (270.0, 90.0));
        assert_eq!(pairs[0].known, "by nameplate, then wattmeter");
        assert!(
            (pairs[1].before - 270.0 * 3.412_14).abs() < 0.1,
            "{pairs:?}"
        );
        assert_eq!(note, "Saved: -10 W to 220 W, likely 180 W.");
    }

    #[test]
    fn what_was_recorded_without_its_lists_has_no_chart() {
        let old = Results::default().with("setting", Value::Text("2".into()));
        assert_eq!(
            Chart::of("choose_replacement", &Arguments::default(), &old),
            None
        );
        let power = Value::Quantity(Quantity {
            kind: Kind::Power,
            si: 1.0,
        });
        let none = Results::default().with("power", power);
        assert_eq!(Chart::of("true_power", &Arguments::default(), &none), None);
    }
}
