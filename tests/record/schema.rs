//! The published JSON Schema against files that were written out.

use std::process::Command;

use serde_json::Value;

/// Checks a file against the schema that the program prints.
pub(super) fn holds(file: &str) {
    let printed = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(["schema", "record"])
        .output()
        .unwrap();
    let schema: Value = serde_json::from_slice(&printed.stdout).unwrap();
    let file: Value = serde_json::from_str(file).unwrap();
    let mut wrong = Vec::new();
    check(&schema, &schema, &file, "", &mut wrong);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // A schema that lets anything pass would be none.
    for (place, other) in [
        ("/fanwright_record", Value::from(2)),
        ("/about/job", Value::from("a job")),
        ("/entries/0/hash", Value::from("ABC")),
        ("/keys/0/fingerprint", Value::from("AEIO")),
        ("/summary/checklist/training", Value::from("no")),
        ("/seal", Value::from("none")),
    ] {
        let mut changed = file.clone();
        *changed.pointer_mut(place).unwrap() = other;
        let mut wrong = Vec::new();
        check(&schema, &schema, &changed, "", &mut wrong);
        assert_eq!(wrong.len(), 1, "{place}: {wrong:?}");
    }
}

/// The part of JSON Schema 2020-12 that the schema uses; another keyword is told as wrong.
fn check(root: &Value, schema: &Value, value: &Value, at: &str, wrong: &mut Vec<String>) {
    for (keyword, says) in schema.as_object().unwrap() {
        let fits = match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" => true,
            "format" => value
                .as_str()
                .is_some_and(|text| text.parse::<jiff::Timestamp>().is_ok()),
            "$ref" => {
                let path = says.as_str().unwrap().trim_start_matches('#');
                check(root, root.pointer(path).unwrap(), value, at, wrong);
                true
            }
            "type" => match says {
                Value::Array(types) => types.iter().any(|one| is(one, value)),
                one => is(one, value),
            },
            "const" => says == value,
            "enum" => says.as_array().unwrap().contains(value),
            "minimum" => value.as_f64() >= says.as_f64(),
            "pattern" => matches(says.as_str().unwrap(), value),
            "required" => value.as_object().is_none_or(|object| {
                let names = says.as_array().unwrap().iter();
                names
                    .map(|name| name.as_str().unwrap())
                    .all(|name| object.contains_key(name))
            }),
            "additionalProperties" => value.as_object().is_none_or(|object| {
                let known = schema["properties"].as_object().unwrap();
                object.keys().all(|name| known.contains_key(name))
            }),
            "properties" => {
                for (name, schema) in says.as_object().unwrap() {
                    if let Some(value) = value.get(name) {
                        check(root, schema, value, &format!("{at}/{name}"), wrong);
                    }
                }
                true
            }
            "items" => {
                for (number, item) in value.as_array().into_iter().flatten().enumerate() {
                    check(root, says, item, &format!("{at}/{number}"), wrong);
                }
                true
            }
            other => panic!("{other} is not known here"),
        };
        if !fits {
            wrong.push(format!("{at}: {keyword} {says} against {value}"));
        }
    }
}

fn is(kind: &Value, value: &Value) -> bool {
    match kind.as_str().unwrap() {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "integer" => value.is_u64() || value.is_i64(),
        "number" => value.is_number(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        other => panic!("{other} is not known here"),
    }
}

fn matches(pattern: &str, value: &Value) -> bool {
    let Some(text) = value.as_str() else {
        return true;
    };
    let mut context = cel::Context::default();
    context.add_variable("text", text).unwrap();
    context.add_variable("pattern", pattern).unwrap();
    let asked = cel::Program::compile("text.matches(pattern)").unwrap();
    asked.execute(&context).unwrap() == cel::Value::Bool(true)
}
