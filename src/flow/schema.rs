//! A JSON Schema of flow files, so that any YAML editor completes and checks their keys.
//!
//! Words come from the loader's own tables. What needs the whole file, such as whether a step is
//! there, stays with the loader.

use serde_json::{Map, Value, json};

use super::load::tables;
use super::model::Role;
use crate::trade::chart::Chart;
use crate::trade::formula::Formula;
use crate::trade::quantity::Kind;
use crate::trade::{formulas, rows};

/// The schema, draft 2020-12.
pub fn schema() -> Value {
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A flow",
        "description": "One decision flow: it asks one thing on one screen.",
        "type": "object",
        "properties": head(),
        "required": ["flow", "title", "language", "outcomes", "start", "steps"],
        "additionalProperties": false,
        "if": { "properties": { "hands_off": { "const": true } }, "required": ["hands_off"] },
        "else": {
            "properties": { "steps": { "additionalProperties": { "$ref": "#/$defs/placed" } } }
        },
        "$defs": {
            "name": { "type": "string", "pattern": "^[a-z][a-z0-9_]{0,47}$" },
            "names": one_or_list(json!({ "$ref": "#/$defs/name" })),
            "text": { "type": ["string", "number"] },
            "texts": one_or_list(json!({ "$ref": "#/$defs/text" })),
            "expression": {
                "description": "A CEL expression over the facts, with units: supply < volt(187).",
                "type": ["string", "number", "boolean"]
            },
            "role": { "enum": Role::ALL.map(Role::word) },
            "time": { "type": "string", "pattern": "^[0-9]+ ?[a-z]+$", "examples": ["20 s"] },
            "source": source(),
            "fact": fact(),
            "step": step(),
            "placed": placed(),
            "branch": branch(),
            "range": closed(json!({
                "from": { "$ref": "#/$defs/expression" },
                "to": { "$ref": "#/$defs/expression" }
            }), &["from", "to"]),
            "points": closed(json!({
                "ac": told("Pairs tested on AC.", "texts"),
                "dc": told("Pairs tested on DC: what stores a charge.", "texts")
            }), &[]),
        }
    })
}

fn words<T>(table: &[(&'static str, T)]) -> Vec<&'static str> {
    table.iter().map(|(word, _)| *word).collect()
}

/// A value of a definition, with what it means.
fn told(description: &str, of: &str) -> Value {
    json!({ "description": description, "$ref": format!("#/$defs/{of}") })
}

fn map_of(description: &str, of: &str) -> Value {
    json!({
        "description": description,
        "type": "object",
        "additionalProperties": { "$ref": format!("#/$defs/{of}") }
    })
}

fn one_or_list(of: Value) -> Value {
    json!({ "anyOf": [of.clone(), { "type": "array", "items": of }] })
}

fn closed(properties: Value, required: &[&str]) -> Value {
    json!({
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false
    })
}

/// Exactly one of these keys.
fn exactly_one(keys: &[&str]) -> Vec<Value> {
    keys.iter()
        .map(|key| json!({ "required": [key] }))
        .collect()
}

fn head() -> Value {
    json!({
        "flow": {
            "description": "The name other flows run it by: small letters, digits and dashes.",
            "type": "string",
            "pattern": "^[a-z][a-z0-9-]{0,47}$"
        },
        "title": told("Shown above every screen of this flow.", "text"),
        "language": told("The language of its texts, a BCP 47 tag.", "text"),
        "pause_limit": told("A longer pause voids every proof; 30 min if left out.", "time"),
        "look_again": closed(json!({
            "after": told("So long after it was agreed, if the words are not understood.", "time"),
            "owner": told("The text that says who.", "name"),
            "date": told("The text that says when.", "name")
        }), &["after", "owner", "date"]),
        "check_ins": told("Where it holds, people are asked if they are all right.", "expression"),
        "hands_off": {
            "description": "Says for all its steps that nothing is touched.",
            "type": "boolean"
        },
        "outcomes": map_of("How it can end, each with a label.", "text"),
        "competences": map_of("What somebody must have shown, each with a label.", "text"),
        "energy": map_of("What can hurt.", "source"),
        "needs": told("Facts that the runner must give.", "names"),
        "gives": told("Facts that the runner may take.", "names"),
        "facts": map_of("What it collects.", "fact"),
        "start": told("The first step.", "name"),
        "steps": map_of("One thing on one screen, each.", "step")
    })
}

fn source() -> Value {
    closed(
        json!({
            "kind": {
                "description": "Each kind has its own ladder up to proved.",
                "enum": words(tables::SOURCE_KINDS)
            },
            "label": told("What people call it.", "text"),
            "fed_by": told("The source that charges or drives it.", "name"),
            "proved_by": told("The flow that proves it.", "text"),
            "exists_when": told("Where this is false it is not there.", "expression")
        }),
        &["kind", "label"],
    )
}

fn fact() -> Value {
    let kinds: Vec<String> = Kind::all()
        .iter()
        .map(|(_, word)| word.replace(' ', "_"))
        .collect();
    let units: Vec<&str> = Kind::all()
        .iter()
        .flat_map(|(kind, _)| kind.units().map(|unit| unit.symbol))
        .collect();
    let whole = json!({ "type": "integer", "minimum": 0 });
    let mut fact = closed(
        json!({
            "label": told("What the checklist calls it.", "text"),
            "one_of": map_of("One of these keys, each with a label.", "text"),
            "some_of": map_of("Several of these keys, each with a label.", "text"),
            "first_page": {
                "description": "The heading it stands under on the first page of the report.",
                "enum": words(tables::HEADINGS)
            },
            "held": map_of("Answers after which only this role lets it go on.", "role"),
            "stays": {
                "description": "As what it stays known of the evaporator after the job.",
                "enum": tables::STAYS.iter().map(|(word, _)| word).collect::<Vec<_>>()
            },
            "measures": { "description": "A quantity of this kind.", "enum": kinds },
            "show_in": {
                "description": "The unit it is shown in.",
                "anyOf": [{ "enum": units }, { "type": "string" }]
            },
            "counts": told("A whole number of this noun.", "text"),
            "from": whole,
            "to": whole,
            "number": told("A plain number of this noun.", "text"),
            "text": { "description": "Text of at most so many characters.", "type": "integer" },
            "photo": told("A photo of this.", "text")
        }),
        &[],
    );
    fact["oneOf"] = json!(exactly_one(tables::FACT_TYPES));
    fact["dependentRequired"] = json!({ "held": ["one_of"], "show_in": ["measures"], "from": ["counts"], "to": ["counts"] });
    fact
}

fn branch() -> Value {
    closed(
        json!({
            "when": told("The condition; the last branch has none.", "expression"),
            "go": told("The step it leads to.", "name")
        }),
        &["go"],
    )
}

/// A step, wherever its hands are.
fn step() -> Value {
    let mut properties = kinds();
    merge(&mut properties, keys_of_kinds());
    merge(&mut properties, keys_of_all());
    let mut step = closed(properties, &[]);
    step["allOf"] = json!(formulas().map(inputs).collect::<Vec<Value>>());
    step["oneOf"] = json!(exactly_one(tables::KINDS));
    // At most one place in the danger.
    step["not"] = json!({ "anyOf": [
        { "required": ["hands_off", "touches"] },
        { "required": ["hands_off", "tests_live"] },
        { "required": ["touches", "tests_live"] }
    ] });
    step["if"] = json!({ "required": ["finish"] });
    step["then"] = json!({ "required": ["say"], "properties": { "then": false } });
    step["else"] = json!({
        "required": ["then"],
        "anyOf": [{ "required": ["say"] }, { "required": ["run"] }]
    });
    step["dependentRequired"] = json!({
        "plausible": ["measure"], "expect": ["measure"],
        "instrument": ["measure"], "example": ["measure"],
        "safety": ["wait"], "work_out": ["unable"], "unable": ["work_out"],
        "store": ["work_out"], "prove_dead": ["limit", "not_dead"], "limit": ["prove_dead"],
        "not_dead": ["prove_dead"], "hold": ["release"], "release": ["hold"],
        "take": ["run"], "energy": ["run"], "tests_live": ["gear"], "gear": ["tests_live"]
    });
    step
}

/// A step that must say its place in the danger itself.
fn placed() -> Value {
    json!({ "allOf": [
        { "$ref": "#/$defs/step" },
        { "anyOf": exactly_one(&["hands_off", "touches", "tests_live", "run", "finish"]) }
    ] })
}

fn merge(into: &mut Value, more: Value) {
    if let (Value::Object(into), Value::Object(more)) = (into, more) {
        into.extend(more);
    }
}

fn kinds() -> Value {
    let names: Vec<&str> = formulas().map(|formula| formula.name).collect();
    json!({
        "tell": told("The person reads, and presses this button.", "text"),
        "confirm": told("The person does what is asked, then presses this button.", "text"),
        "choose": told("The person picks choices of this fact.", "name"),
        "measure": told("The person types a reading, a count or a number: this fact.", "name"),
        "photo": told("The person sends a photo: this fact.", "name"),
        "write": told("The person types words: this fact.", "name"),
        "wait": told("The person waits so long.", "expression"),
        "work_out": { "description": "Shows what this formula gives.", "enum": names },
        "prove_dead": map_of("The live-dead-live test: sources with their points.", "points"),
        "hold": told("A hold point: only this role releases it.", "role"),
        "run": told("Walks this flow and comes back.", "text"),
        "finish": told("The end of this flow, with this outcome.", "name")
    })
}

fn keys_of_kinds() -> Value {
    let limits: Vec<&str> = rows::rows()
        .filter(|row| row.kind == Kind::Voltage)
        .map(|row| row.name)
        .collect();
    json!({
        "plausible": told("Refused outside of it; readings must have it.", "range"),
        "expect": told("Asked for once more outside of it.", "range"),
        "instrument": told("What it is read from.", "text"),
        "example": told("An example of what to type.", "text"),
        "safety": { "description": "Begins again after a restart.", "type": "boolean" },
        "with": map_of("Inputs of the formula, or needs of the flow that is run.", "expression"),
        "store": map_of("Facts that take a result.", "name"),
        "unable": told("Where to go when it cannot be worked out.", "name"),
        "limit": { "description": "The highest reading that passes.", "enum": limits },
        "not_dead": told("Where to go when something is live.", "name"),
        "release": told("The button of the person who releases it.", "text"),
        "take": map_of("Own facts that take what the flow gives.", "name"),
        "energy": map_of("Its sources, bound to own ones.", "name")
    })
}

fn keys_of_all() -> Value {
    let settings: Vec<&str> = tables::LADDERS
        .iter()
        .flat_map(|(_, ladder)| words(ladder))
        .collect();
    json!({
        "say": told("The sentence on the screen.", "text"),
        "caution": told("The warning above it.", "text"),
        "why": told("Why it is asked; shown on request.", "text"),
        "how": told("How to read or do it; shown on request.", "text"),
        "picture": told("A picture of the folder pictures.", "text"),
        "chart": {
            "description": "The formula whose result is drawn here.",
            "enum": Chart::formulas().collect::<Vec<&str>>()
        },
        "duty": {
            "description": "What the rules of lockout call this step.",
            "enum": words(tables::DUTIES)
        },
        "leads": {
            "description": "What it does to line-voltage leads.",
            "enum": words(tables::LEADS)
        },
        "cite": told("Published sources, or common practice.", "texts"),
        "by": one_or_list(json!({ "$ref": "#/$defs/role" })),
        "needs_shown": told("What the person must have shown before, by sign-off.", "names"),
        "takes_at_least": told("What it takes a careful person.", "time"),
        "hands_off": { "description": "Nothing is touched.", "const": true },
        "touches": told("Hands go in: each must be proved and locked before.", "names"),
        "tests_live": told("Measuring on live parts, guard on, nothing loosened.", "names"),
        "gear": told("Facts of meter rating and protective gear.", "names"),
        "sets": {
            "description": "What answering does to energy sources.",
            "type": "object",
            "additionalProperties": { "enum": settings }
        },
        "then": {
            "description": "The next step, or branches whose last has no condition.",
            "anyOf": [
                { "$ref": "#/$defs/name" },
                { "type": "array", "minItems": 1, "items": { "$ref": "#/$defs/branch" } }
            ]
        }
    })
}

/// What a formula takes and gives.
fn inputs(formula: &Formula) -> Value {
    let takes: Map<String, Value> = formula
        .takes
        .iter()
        .map(|input| (input.name.to_owned(), told(input.about, "expression")))
        .collect();
    let required: Vec<&str> = formula
        .takes
        .iter()
        .filter(|input| input.unless_given.is_none())
        .map(|input| input.name)
        .collect();
    let gives: Vec<&str> = formula.gives.iter().map(|output| output.name).collect();
    let mut then = json!({ "properties": {
        "with": closed(Value::Object(takes), &required),
        "store": { "additionalProperties": { "enum": gives } }
    } });
    if !required.is_empty() {
        then["required"] = json!(["with"]);
    }
    json!({
        "if": {
            "properties": { "work_out": { "const": formula.name } },
            "required": ["work_out"]
        },
        "then": then
    })
}
