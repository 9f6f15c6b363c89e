//! Results as text for people and as one JSON object for programs.

use serde_json::{Map, Value as Json, json};

use crate::trade::formula::{CannotWorkOut, Formula, Results, Value};
use crate::trade::quantity::{Kind, Quantity, Unit, plain_number};

/// Powers that are flows of heat.
const HEAT: &[&str] = &["heat", "coil_capacity", "box_heat", "sensible_heat"];
/// Lengths that nobody tells in inches.
const FAR: &[&str] = &["altitude", "distance", "one_way"];

/// The unit that a value called `name` is shown in: heat in Btu/h, a payback in years, an altitude
/// in feet, anything else as usual.
pub(super) fn shown_in(name: &str, kind: Kind) -> &'static Unit {
    let one_of = |names: &[&str]| {
        let name = name.trim_end_matches("_low").trim_end_matches("_high");
        names.contains(&name)
    };
    let literal = match kind {
        Kind::Power if one_of(HEAT) => "btu_per_hour",
        Kind::Duration if one_of(&["payback", "life"]) => "year",
        Kind::Duration if one_of(&["hours"]) => "hour",
        Kind::Length if one_of(FAR) => "foot",
        _ => return kind.usual_unit(),
    };
    Unit::of_literal(literal).unwrap_or(kind.usual_unit())
}

/// The unit that a person reads this quantity in: short times are told in seconds.
fn read_in(name: &str, quantity: &Quantity) -> &'static Unit {
    let short = quantity.kind == Kind::Duration && quantity.si.abs() < 120.0;
    match Unit::of_literal("second") {
        Some(second) if short && quantity.si != 0.0 => second,
        _ => shown_in(name, quantity.kind),
    }
}

/// `results` for a person to read.
pub(super) fn text(formula: &Formula, results: &Results) -> String {
    let width = results
        .values
        .iter()
        .map(|(name, _)| name.len())
        .max()
        .unwrap_or_default();
    let mut text = String::new();
    for (name, value) in &results.values {
        text.push_str(&format!("{name:width$}  {}\n", value_text(name, value)));
    }
    if let Some(sentence) = &results.sentence {
        text.push_str(&format!("{sentence}\n"));
    }
    for warning in &results.warnings {
        text.push_str(&format!("Note: {warning}\n"));
    }
    text.push_str(&format!("Formula: {}\n", formula.symbols));
    text.push_str(&format!(
        "Source: {} ({})\n",
        formula.source,
        formula.confidence.phrase()
    ));
    text
}

fn value_text(name: &str, value: &Value) -> String {
    let quantity = |quantity: &Quantity| quantity.show(read_in(name, quantity));
    match value {
        Value::Quantity(one) => quantity(one),
        Value::Quantities(several) => several.iter().map(quantity).collect::<Vec<_>>().join(", "),
        Value::Number(number) => plain_number(*number),
        Value::Word(word) | Value::Text(word) => word.clone(),
        Value::Words(words) => words.join(", "),
    }
}

/// `results` as one JSON object.
pub(super) fn json(formula: &Formula, results: &Results) -> String {
    let values: Map<String, Json> = results
        .values
        .iter()
        .map(|(name, value)| (name.clone(), value_json(name, value)))
        .collect();
    let main = results.values.first();
    json!({
        "formula": formula.name,
        "version": formula.version,
        "result": main.map(|(name, value)| value_json(name, value)),
        "results": values,
        "symbols": formula.symbols,
        "source": formula.source,
        "confidence": formula.confidence,
        "warnings": results.warnings,
        "sentence": results.sentence,
    })
    .to_string()
}

/// Why there is no result, as one JSON object.
pub(super) fn refusal(why: &CannotWorkOut) -> String {
    json!({ "cannot_work_out": why.to_string() }).to_string()
}

fn value_json(name: &str, value: &Value) -> Json {
    let quantity = |quantity: &Quantity| {
        let unit = shown_in(name, quantity.kind);
        json!({ "value": quantity.in_unit(unit), "unit": unit.symbol })
    };
    match value {
        Value::Quantity(one) => quantity(one),
        Value::Quantities(several) => several.iter().map(quantity).collect(),
        Value::Number(number) => json!({ "value": number, "unit": "" }),
        Value::Word(word) | Value::Text(word) => json!(word),
        Value::Words(words) => json!(words),
    }
}
