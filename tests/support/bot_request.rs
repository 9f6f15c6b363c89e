//! Requests to the Bot API as they come, and its answers as they go.

use std::collections::BTreeMap;

use axum::extract::{FromRequest, Multipart, Request};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};

pub(super) fn taken(result: Value) -> Response {
    axum::Json(json!({ "ok": true, "result": result })).into_response()
}

pub(super) fn refused(code: u16, why: &str, parameters: Value) -> Response {
    let mut body = json!({ "ok": false, "error_code": code, "description": why });
    if parameters != json!({}) {
        body["parameters"] = parameters;
    }
    (StatusCode::from_u16(code).unwrap(), axum::Json(body)).into_response()
}

/// The fields of a request, and the sizes of the files that came with it, by the names under which
/// its fields speak of them.
#[derive(Default)]
pub(super) struct Fields {
    pub(super) body: Value,
    pub(super) files: BTreeMap<String, usize>,
}

/// Reads a request.
pub(super) async fn body_of(request: Request) -> Fields {
    let kind = request.headers().get("content-type");
    let kind = kind.map(|kind| kind.to_str().unwrap().to_owned());
    if kind.is_some_and(|kind| kind.starts_with("multipart/")) {
        let mut fields = Multipart::from_request(request, &()).await.unwrap();
        let mut body = json!({});
        let mut files = BTreeMap::new();
        while let Some(field) = fields.next_field().await.unwrap() {
            let name = field.name().unwrap_or_default().to_owned();
            if field.file_name().is_some() {
                files.insert(name, field.bytes().await.unwrap().len());
            } else {
                let text = field.text().await.unwrap();
                let read = serde_json::from_str::<Value>(&text);
                let is_plain = ["caption", "text", "photo", "document"].contains(&name.as_str());
                let value = read.ok().filter(|_| !is_plain);
                body[name.as_str()] = value.unwrap_or(Value::String(text));
            }
        }
        return Fields { body, files };
    }
    let bytes = axum::body::to_bytes(request.into_body(), 64 << 20)
        .await
        .unwrap();
    Fields {
        body: serde_json::from_slice(&bytes).unwrap_or(json!({})),
        ..Fields::default()
    }
}
