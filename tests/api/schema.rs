//! Holds an answer against the schema that the document gives for it.
//!
//! It knows the words of JSON Schema that the document uses, and fails on any other. What a schema
//! of an object does not name may not be there.

use serde_json::Value;

/// Everything in which a value differs from its schema, each with its place.
pub(crate) fn differences(document: &Value, schema: &Value, value: &Value) -> Vec<String> {
    let mut found = Vec::new();
    hold(document, schema, ("$", value), &mut found);
    found
}

/// Words that say nothing about what is allowed, or that are looked after elsewhere.
const SILENT: &[&str] = &[
    "description",
    "title",
    "format",
    "example",
    "examples",
    "minLength",
    "maxLength",
    "minimum",
    "maximum",
    "default",
    "contentEncoding",
    "contentMediaType",
    "propertyNames",
];

fn hold(document: &Value, schema: &Value, (at, value): (&str, &Value), found: &mut Vec<String>) {
    for (word, says) in schema.as_object().unwrap() {
        match word.as_str() {
            "$ref" => {
                let pointer = says.as_str().unwrap().trim_start_matches('#');
                let named = document.pointer(pointer);
                let named = named.unwrap_or_else(|| panic!("{says} is not there"));
                hold(document, named, (at, value), found);
            }
            "type" => {
                let kinds: Vec<&str> = match says {
                    Value::String(one) => vec![one],
                    many => many
                        .as_array()
                        .unwrap()
                        .iter()
                        .filter_map(Value::as_str)
                        .collect(),
                };
                let is_number = kinds.contains(&"number") && value.is_number();
                if !is_number && !kinds.contains(&kind(value)) {
                    found.push(format!("{at} is {} and not {says}", kind(value)));
                }
            }
            "enum" => {
                if !says.as_array().unwrap().contains(value) {
                    found.push(format!("{at}: {value} is none of {says}"));
                }
            }
            "required" => {
                for name in says.as_array().unwrap() {
                    if value.is_object() && value.get(name.as_str().unwrap()).is_none() {
                        found.push(format!("{at} has no {name}"));
                    }
                }
            }
            "properties" => {
                for (name, inside) in value.as_object().into_iter().flatten() {
                    let place = format!("{at}.{name}");
                    match says.get(name) {
                        Some(schema) => hold(document, schema, (&place, inside), found),
                        None => found.push(format!("{place} is not described")),
                    }
                }
            }
            "items" => {
                for (number, item) in value.as_array().into_iter().flatten().enumerate() {
                    let place = format!("{at}[{number}]");
                    hold(document, says, (&place, item), found);
                }
            }
            "oneOf" | "anyOf" => {
                let all = says.as_array().unwrap();
                let fits = |one: &&Value| differences(document, one, value).is_empty();
                if !all.iter().any(|one| fits(&one)) {
                    found.push(format!("{at} fits none of {says}"));
                }
            }
            "additionalProperties" => {}
            other => assert!(SILENT.contains(&other), "{at}: the schema says {other}"),
        }
    }
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(number) if number.is_f64() => "number",
        Value::Number(_) => "integer",
        Value::String(_) => "string",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
    }
}

#[test]
fn what_is_wrong_is_found_with_its_place() {
    let document = serde_json::json!({
        "kinds": { "type": "string", "enum": ["a", "b"] }
    });
    let schema = serde_json::json!({
        "type": "object",
        "required": ["id", "kind"],
        "properties": {
            "id": { "type": "integer" },
            "kind": { "$ref": "#/kinds" },
            "all": { "type": ["array", "null"], "items": { "$ref": "#/kinds" } }
        }
    });
    let wrong = |value: Value| differences(&document, &schema, &value);
    assert!(wrong(serde_json::json!({ "id": 1, "kind": "a", "all": null })).is_empty());
    let value = serde_json::json!({ "id": "1", "all": ["a", "c"], "more": 1 });
    let mut found = wrong(value);
    found.sort();
    assert_eq!(
        found,
        [
            "$ has no \"kind\"",
            "$.all[1]: \"c\" is none of [\"a\",\"b\"]",
            "$.id is string and not \"integer\"",
            "$.more is not described",
        ]
    );
}
