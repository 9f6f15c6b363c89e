//! The description of the API as an OpenAPI document, made from the handlers themselves.

use std::sync::LazyLock;

use axum::extract::Json;
use serde_json::{Map, Value, json};
use utoipa::{OpenApi, PartialSchema, ToSchema};

use super::problem::{FindingBody, Kind, ProblemBody};
use super::{behind_door, once, words};

/// What stands at the head of the document.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Fanwright",
        description = "Jobs on evaporator fans, for other programs.",
    ),
    tags(
        (name = "Jobs", description = "What is and was worked on."),
        (name = "Evaporators", description = "What jobs are about."),
        (name = "People", description = "Who is in the crew."),
        (name = "Kit and speed book", description = "What the crew carries and knows."),
        (name = "Flows", description = "What jobs walk along."),
        (name = "Webhooks", description = "Who is called when something happens to a job."),
    )
)]
struct Head;

static DOCUMENT: LazyLock<Value> = LazyLock::new(made);

/// The OpenAPI document of the API.
pub fn document() -> &'static Value {
    &DOCUMENT
}

/// The document for everybody: it holds nothing of any crew.
pub(super) async fn show() -> Json<&'static Value> {
    Json(document())
}

fn made() -> Value {
    let described = behind_door().into_openapi();
    let mut whole = Head::openapi();
    whole.merge(described);
    let mut document = serde_json::to_value(&whole).unwrap_or_default();
    document["info"]["license"] = json!({ "name": "MIT OR Apache-2.0" });
    document["info"]["description"] = Value::String(format!(
        "Jobs on evaporator fans, for other programs. Local codes, the rules of the site and \
         licensed practice prevail over anything that is read here; a record says what was done \
         and when, never how things are now.\n\nTokens are made by a supervisor, who says what \
         each is good for:\n\n{}\n\nA job is reviewed by people, not by programs.",
        words::scopes()
    ));
    document["servers"] = json!([{ "url": "/" }]);
    document["security"] = json!([{ "token": [] }]);
    let components = &mut document["components"];
    components["securitySchemes"] = json!({
        "token": { "type": "http", "scheme": "bearer", "description": "A token of the crew." }
    });
    components["schemas"]["Problem"] = schema::<ProblemBody>();
    components["schemas"]["Finding"] = schema::<FindingBody>();
    components["responses"] = json!({
        "Problem": {
            "description": "What went wrong, in one sentence.",
            "content": {
                "application/problem+json": {
                    "schema": { "$ref": "#/components/schemas/Problem" }
                }
            }
        }
    });
    if let Some(paths) = document["paths"].as_object_mut() {
        for (path, methods) in paths {
            let methods = methods.as_object_mut();
            for (method, operation) in methods.into_iter().flatten() {
                complete((path, method), operation);
            }
        }
    }
    document
}

fn schema<T: ToSchema + PartialSchema>() -> Value {
    serde_json::to_value(T::schema()).unwrap_or_default()
}

/// Adds to an operation what holds for all of its kind: the header that names it, and every
/// problem that it can answer with.
fn complete((path, method): (&str, &str), operation: &mut Value) {
    // Handlers of one name in several files would share an id.
    let words = path.trim_start_matches("/api/v1/").replace(['/', '-'], "_");
    let id = format!("{method}_{}", words.replace(['{', '}'], ""));
    operation["operationId"] = Value::String(id);
    let changes = matches!(method, "post" | "put");
    if changes {
        let named = json!({
            "name": "Idempotency-Key",
            "in": "header",
            "required": true,
            "description": "Names this request: 1 to 255 visible characters, another for every \
                            request, the same when one is repeated. Kept for seven days.",
            "schema": { "type": "string", "minLength": 1, "maxLength": 255 }
        });
        match operation["parameters"].as_array_mut() {
            Some(parameters) => parameters.push(named),
            None => operation["parameters"] = json!([named]),
        }
        debug_assert_eq!(once::HEADER, "idempotency-key");
    }
    let (has_body, has_filters) = (
        operation.get("requestBody").is_some(),
        in_query(operation) > 0,
    );
    let mut kinds = vec![
        Kind::NoToken,
        Kind::OutOfScope,
        Kind::TooMany,
        Kind::TryAgain,
        Kind::Fault,
    ];
    // Ids may stand in the filters of the list of jobs, and in the body that begins one.
    if path.contains('{') || path == "/api/v1/jobs" {
        kinds.push(Kind::NotFound);
    }
    if changes {
        kinds.extend([
            Kind::NeedsName,
            Kind::UnderWay,
            Kind::NameTaken,
            Kind::TooLarge,
        ]);
    }
    if has_body || has_filters {
        kinds.push(Kind::NotUnderstood);
    }
    if has_body {
        kinds.push(Kind::NotJson);
    }
    if method == "put" {
        kinds.extend([Kind::NeedsIfMatch, Kind::HasChanged]);
    }
    if path == "/api/v1/flows" && changes {
        kinds.extend([Kind::Findings, Kind::HasChanged]);
    }
    if let Some(responses) = operation["responses"].as_object_mut() {
        if method == "get" {
            not_modified(responses);
        }
        for kind in kinds {
            let status = kind.status().as_str().to_owned();
            let problem = json!({ "$ref": "#/components/responses/Problem" });
            responses.entry(status).or_insert(problem);
        }
        if has_body {
            let problem = json!({ "$ref": "#/components/responses/Problem" });
            responses.entry("415").or_insert(problem);
        }
    }
}

fn in_query(operation: &Value) -> usize {
    let parameters = operation["parameters"].as_array();
    let parameters = parameters.into_iter().flatten();
    parameters.filter(|one| one["in"] == "query").count()
}

fn not_modified(responses: &mut Map<String, Value>) {
    let tag = json!({
        "ETag": {
            "description": "Tells this content from every other.",
            "schema": { "type": "string" }
        }
    });
    if let Some(headers) = responses["200"].get_mut("headers") {
        headers["ETag"] = tag["ETag"].clone();
    } else {
        responses["200"]["headers"] = tag;
    }
    responses.insert(
        "304".to_owned(),
        json!({ "description": "It is what If-None-Match names." }),
    );
}
