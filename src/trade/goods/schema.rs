//! JSON Schemas of a crew's kit and speed book, so that any YAML editor completes and checks
//! their keys.

use serde_json::{Value, json};

use crate::trade::kit::{AirDirection, End, Spin};
use crate::trade::motor::MotorType;
use crate::trade::speed_book::RowSource;

/// The schema of a kit, draft 2020-12.
pub fn kit() -> Value {
    let open = open();
    let mut kit = closed(
        json!({
            "kit": text("What the kit is called."),
            "crew": text("Whose it is."),
            "assemblies": {
                "description": "The replacement assemblies on the truck, by a short key.",
                "type": "object",
                "additionalProperties": { "$ref": "#/$defs/assembly" }
            }
        }),
        &["kit", "crew", "assemblies"],
    );
    headed(&mut kit, "A kit");
    kit["$defs"] = json!({
        "assembly": assembly(),
        "speed": closed(json!({
            "setting": text("What the setting is called."),
            "speed": text("Such as 1550 rpm."),
            "input": text("Electrical input, such as 17 W."),
            "curve": texts("Points of the fan curve: 600 cfm at 0.12 in wg.")
        }), &["setting", "speed", "input"]),
        "coil": closed(json!({
            "fins": range("Such as 4 fpi to 8 fpi."),
            "depth": range("Such as 3 in to 6 in."),
            "rows": range("Such as 2 to 4."),
            "height": range("Such as 10 in to 14 in."),
            "face_velocity": range("Such as 200 fpm to 600 fpm.")
        }), &[]),
        "rotation": closed(json!({
            "turns": { "enum": words(Spin::WORDS) },
            "seen_from": { "enum": words(End::WORDS) }
        }), &["turns", "seen_from"]),
        "blade": closed(json!({
            "diameter": text("Over the tips, such as 10 in."),
            "pitch": text("Such as 25 deg."),
            "count": { "type": "integer", "minimum": 0, "maximum": 255 },
            "bore": text("Such as 1/4 in.")
        }), &["diameter"]),
        "drain": closed(json!({
            "openings": texts("What the drain openings are called."),
            "open": open
        }), &[]),
        "refrigerant": closed(json!({
            "groups": {
                "description": "Safety groups that the sheet allows.",
                "type": "array",
                "items": { "enum": ["A1", "A2L", "A2", "A3", "B1"] }
            },
            "confirmed_models": texts("Evaporators whose maker confirmed it.")
        }), &["groups"])
    });
    kit
}

/// The schema of a speed book, draft 2020-12.
pub fn speed_book() -> Value {
    let mut row = closed(
        json!({
            "speed": text("What the fan needs, such as 1550 rpm; or else an air_flow."),
            "air_flow": text("What one fan must move, such as 600 cfm; or else a speed."),
            "static_pressure": text("Such as 0.12 in wg."),
            "blade_diameter": text("Such as 10 in."),
            "from": { "description": "How it is known.", "enum": words(RowSource::WORDS) },
            "noted": text("Where exactly it came from.")
        }),
        &["from", "noted"],
    );
    row["oneOf"] = json!([{ "required": ["speed"] }, { "required": ["air_flow"] }]);
    let mut book = closed(
        json!({
            "speed_book": text("What the speed book is called."),
            "crew": text("Whose it is."),
            "models": {
                "description": "Evaporator models with what they need.",
                "type": "object",
                "additionalProperties": { "$ref": "#/$defs/row" }
            }
        }),
        &["speed_book", "crew", "models"],
    );
    headed(&mut book, "A speed book");
    book["$defs"] = json!({ "row": row });
    book
}

fn assembly() -> Value {
    let part = |of: &str| json!({ "$ref": format!("#/$defs/{of}") });
    closed(
        json!({
            "title": text("What people call it."),
            "on_truck": { "description": "How many.", "type": "integer", "minimum": 0 },
            "motor": { "enum": MotorType::WORDS },
            "shaft_power": text("Such as 16 W."),
            "volts": range("Such as 108 V to 253 V."),
            "speeds": {
                "description": "From slowest to fastest.",
                "type": "array",
                "minItems": 1,
                "items": part("speed")
            },
            "leaves_box_at": text("The setting it comes with."),
            "set_by": text("How the setting is changed."),
            "mounting": texts("How it is fastened."),
            "coil": part("coil"),
            "rotation": part("rotation"),
            "air": { "enum": words(AirDirection::WORDS) },
            "blade": part("blade"),
            "depth": text("Such as 4.5 in."),
            "protection": text("A class such as IP54."),
            "ambient": range("Such as -30 F to 120 F."),
            "plug": text("Its plug."),
            "drain": part("drain"),
            "refrigerant": part("refrigerant")
        }),
        &[
            "title",
            "on_truck",
            "motor",
            "shaft_power",
            "volts",
            "speeds",
            "leaves_box_at",
            "set_by",
            "mounting",
            "rotation",
            "air",
            "blade",
            "protection",
            "ambient",
            "refrigerant",
        ],
    )
}

/// The openings that are open, by the position of the shaft.
fn open() -> Value {
    closed(
        json!({
            "horizontal": texts("Open with the shaft level."),
            "up": texts("Open with the shaft end up."),
            "down": texts("Open with the shaft end down."),
            "tilted": texts("Open with the shaft tilted.")
        }),
        &[],
    )
}

fn headed(schema: &mut Value, title: &str) {
    schema["$schema"] = json!("https://json-schema.org/draft/2020-12/schema");
    schema["title"] = json!(title);
}

fn words<T>(table: &[(&'static str, T)]) -> Vec<&'static str> {
    table.iter().map(|(word, _)| *word).collect()
}

fn text(description: &str) -> Value {
    json!({ "description": description, "type": ["string", "number"] })
}

fn texts(description: &str) -> Value {
    json!({
        "description": description,
        "type": "array",
        "items": { "type": ["string", "number"] }
    })
}

fn range(description: &str) -> Value {
    json!({ "description": description, "type": "string", "pattern": " to " })
}

fn closed(properties: Value, required: &[&str]) -> Value {
    json!({
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false
    })
}
