//! Inputs as typed on a command line or sent as JSON, turned into a formula's arguments.

use std::fmt;

use serde::de::{Deserializer, MapAccess, Visitor};

use super::symbol;
use crate::trade::formula::{Arguments, CannotWorkOut, Formula, Parameter, Value, ValueType};
use crate::trade::quantity::{Kind, Quantity};
use crate::trade::written;

/// Adds the input `KEY=VALUE`.
///
/// # Errors
/// When the key is unknown or given twice, or the value cannot be read.
pub(super) fn pair(
    formula: &Formula,
    pair: &str,
    arguments: &mut Arguments,
) -> Result<(), CannotWorkOut> {
    let (key, text) = pair.split_once('=').ok_or_else(|| {
        CannotWorkOut(format!(
            "\"{pair}\" is not an input; write KEY=VALUE, such as motors=2."
        ))
    })?;
    let (parameter, unit) = parameter_of(formula, key)?;
    let text = with_unit_of_key(&parameter.takes, text, unit);
    if let Some((end, [low, high])) = ends(formula, parameter, &text) {
        add(arguments, parameter, low)?;
        return add(arguments, end, high);
    }
    let value = from_text(&parameter.takes, &text).map_err(|why| under(parameter.name, &why))?;
    add(arguments, parameter, value)
}

/// Adds every input of the JSON object `text`.
///
/// # Errors
/// When it is not an object, a key is unknown or there twice, or a value cannot be read.
pub(super) fn json(
    formula: &Formula,
    text: &str,
    arguments: &mut Arguments,
) -> Result<(), CannotWorkOut> {
    let Pairs(pairs) = serde_json::from_str(text).map_err(|why| {
        CannotWorkOut(format!(
            "The inputs must be one JSON object such as {{\"motors\": 2}}: {why}."
        ))
    })?;
    for (key, json) in pairs {
        let (parameter, unit) = parameter_of(formula, &key)?;
        let json = match (&json, unit) {
            (serde_json::Value::Number(number), Some(_)) => {
                with_unit_of_key(&parameter.takes, &number.to_string(), unit).into()
            }
            (serde_json::Value::String(text), Some(_)) => {
                with_unit_of_key(&parameter.takes, text, unit).into()
            }
            (serde_json::Value::Array(list), Some(_)) => list
                .iter()
                .map(|one| match one {
                    serde_json::Value::Number(number) => {
                        with_unit_of_key(&parameter.takes, &number.to_string(), unit).into()
                    }
                    other => other.clone(),
                })
                .collect(),
            _ => json,
        };
        let json = symbol::without_length(parameter.name, json);
        if let Some(text) = json.as_str()
            && let Some((end, [low, high])) = ends(formula, parameter, text)
        {
            add(arguments, parameter, low)?;
            add(arguments, end, high)?;
            continue;
        }
        let value =
            from_json(&parameter.takes, &json).map_err(|why| under(parameter.name, &why))?;
        add(arguments, parameter, value)?;
    }
    Ok(())
}

/// The one of `names` that is nearest to `typed`, if any is near.
pub(super) fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    names
        .map(|name| (strsim::osa_distance(typed, name), name))
        .filter(|(distance, name)| *distance <= 2.max(name.len() / 4))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// A JSON object's entries in order, with doubles kept so that they can be refused.
struct Pairs(Vec<(String, serde_json::Value)>);

impl<'de> serde::Deserialize<'de> for Pairs {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries;
        impl<'de> Visitor<'de> for Entries {
            type Value = Pairs;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Pairs, A::Error> {
                let mut pairs = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    pairs.push(entry);
                }
                Ok(Pairs(pairs))
            }
        }
        deserializer.deserialize_map(Entries)
    }
}

fn under(name: &str, why: &CannotWorkOut) -> CannotWorkOut {
    CannotWorkOut(format!("{name}: {why}"))
}

/// Both ends of a range such as `208-230 V`, where the formula takes the upper end by itself.
fn ends(
    formula: &Formula,
    parameter: &'static Parameter,
    text: &str,
) -> Option<(&'static Parameter, [Value; 2])> {
    let ValueType::Quantity(kind) = parameter.takes else {
        return None;
    };
    let takes = formula.takes;
    let end = takes
        .iter()
        .find(|other| other.name.strip_suffix("_to") == Some(parameter.name))?;
    let (low, high) = text.split_once(['-', '–', '/'])?;
    let high = written::quantity(kind, high).ok()?;
    let unit: String = text.chars().skip_while(|c| !c.is_alphabetic()).collect();
    let low = written::quantity(kind, &format!("{} {unit}", low.trim())).ok()?;
    Some((end, [Value::Quantity(low), Value::Quantity(high)]))
}

/// `text` with the unit that its key says, where it is a bare number of a quantity.
fn with_unit_of_key(takes: &ValueType, text: &str, unit: Option<&str>) -> String {
    match (takes, unit) {
        (ValueType::Quantity(_) | ValueType::Quantities(_), Some(unit))
            if text.split(',').all(|part| written::plain(part).is_some()) =>
        {
            format!("{text} {unit}")
        }
        _ => text.to_owned(),
    }
}

fn parameter_of(
    formula: &Formula,
    key: &str,
) -> Result<(&'static Parameter, Option<&'static str>), CannotWorkOut> {
    let folded = key.trim().to_lowercase().replace('-', "_");
    symbol::input_of(formula, &folded).ok_or_else(|| {
        let names: Vec<&str> = formula
            .takes
            .iter()
            .map(|parameter| parameter.name)
            .collect();
        let near = nearest(&folded, names.iter().copied())
            .map_or_else(String::new, |near| format!(" Did you mean {near}?"));
        CannotWorkOut(format!(
            "{} takes no {key}.{near} It takes: {}.",
            formula.name,
            names.join(", ")
        ))
    })
}

fn add(
    arguments: &mut Arguments,
    parameter: &Parameter,
    value: Value,
) -> Result<(), CannotWorkOut> {
    match arguments.0.insert(parameter.name.to_owned(), value) {
        None => Ok(()),
        Some(_) => Err(CannotWorkOut(format!(
            "{} is given twice; give it once.",
            parameter.name
        ))),
    }
}

fn from_text(takes: &ValueType, text: &str) -> Result<Value, CannotWorkOut> {
    match takes {
        ValueType::Quantity(kind) => written::quantity(*kind, text).map(Value::Quantity),
        ValueType::Quantities(kind) => written::quantities(*kind, text).map(Value::Quantities),
        ValueType::Number => number(text),
        ValueType::Word(words) => word(words, text),
        ValueType::Text => Ok(Value::Text(text.to_owned())),
    }
}

fn number(text: &str) -> Result<Value, CannotWorkOut> {
    written::plain(text).map(Value::Number).ok_or_else(|| {
        CannotWorkOut(format!(
            "\"{text}\" is not a plain number such as 4, 0.5 or 1/15."
        ))
    })
}

fn word(words: &'static [&'static str], text: &str) -> Result<Value, CannotWorkOut> {
    let fold = |text: &str| text.trim().to_lowercase().replace([' ', '-', '/'], "_");
    let folded = fold(text);
    let meant = symbol::word_meant(&folded);
    let same = |word: &&&str| {
        let word = fold(word);
        word == folded || meant.contains(&word.as_str())
    };
    words
        .iter()
        .find(|word| **word == text.trim())
        .or_else(|| words.iter().find(same))
        .map(|word| Value::Word((*word).to_owned()))
        .ok_or_else(|| CannotWorkOut(format!("\"{text}\" must be one of {}.", words.join(", "))))
}

fn from_json(takes: &ValueType, json: &serde_json::Value) -> Result<Value, CannotWorkOut> {
    use serde_json::Value as Json;
    match (takes, json) {
        (_, Json::String(text)) => from_text(takes, text),
        (ValueType::Number, Json::Number(number)) => number
            .as_f64()
            .map(Value::Number)
            .ok_or_else(|| cannot_read(takes, json)),
        (ValueType::Word(words), Json::Bool(truth)) => word(words, &truth.to_string()),
        (ValueType::Word(words), Json::Number(number)) => word(words, &number.to_string()),
        (ValueType::Quantity(kind), Json::Object(_)) => with_unit(*kind, json).map(Value::Quantity),
        (ValueType::Quantities(kind), Json::Object(_)) => {
            with_unit(*kind, json).map(|one| Value::Quantities(vec![one]))
        }
        (ValueType::Quantities(kind), Json::Array(list)) => list
            .iter()
            .map(|one| match one {
                Json::String(text) => written::quantity(*kind, text),
                one => with_unit(*kind, one),
            })
            .collect::<Result<_, _>>()
            .map(Value::Quantities),
        _ => Err(cannot_read(takes, json)),
    }
}

/// `{"value": 70, "unit": "degF"}`.
fn with_unit(kind: Kind, json: &serde_json::Value) -> Result<Quantity, CannotWorkOut> {
    let refuse = || cannot_read(&ValueType::Quantity(kind), json);
    let object = json
        .as_object()
        .filter(|object| object.len() == 2)
        .ok_or_else(refuse)?;
    let value = object
        .get("value")
        .and_then(serde_json::Value::as_f64)
        .ok_or_else(refuse)?;
    let unit = object
        .get("unit")
        .and_then(serde_json::Value::as_str)
        .ok_or_else(refuse)?;
    written::quantity(kind, &format!("{value} {unit}"))
}

fn cannot_read(takes: &ValueType, json: &serde_json::Value) -> CannotWorkOut {
    let wanted = match takes {
        ValueType::Quantity(kind) => format!(
            "a {} with its unit, such as {{\"value\": 70, \"unit\": \"{}\"}}",
            kind.word(),
            kind.usual_unit().symbol
        ),
        ValueType::Quantities(kind) => format!("a list of {} with units", kind.word()),
        ValueType::Number => "a plain number".into(),
        ValueType::Word(words) => format!("one of {}", words.join(", ")),
        ValueType::Text => "a text".into(),
    };
    CannotWorkOut(format!("{json} must be {wanted}."))
}
