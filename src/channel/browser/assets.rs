//! The script, the style and the mark: files of the program, cached by what is in them.

use std::sync::LazyLock;

use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use super::trouble::{Trouble, no_such_page};

/// Name, type and text of every file.
const FILES: &[(&str, &str, &str)] = &[
    (
        "page.css",
        "text/css; charset=utf-8",
        include_str!("../../../templates/assets/page.css"),
    ),
    (
        "page.js",
        "text/javascript; charset=utf-8",
        include_str!("../../../templates/assets/page.js"),
    ),
    (
        "flows.css",
        "text/css; charset=utf-8",
        include_str!("../../../templates/assets/flows.css"),
    ),
    (
        "flows.js",
        "text/javascript; charset=utf-8",
        include_str!("../../../templates/assets/flows.js"),
    ),
    (
        "mark.svg",
        "image/svg+xml",
        include_str!("../../../templates/assets/mark.svg"),
    ),
];

static VERSION: LazyLock<String> = LazyLock::new(|| {
    let mut hasher = blake3::Hasher::new();
    for (_, _, text) in FILES {
        hasher.update(text.as_bytes());
    }
    hasher.finalize().to_hex().as_str()[..12].to_owned()
});

/// What tells this version's files from another's.
pub(super) fn version() -> &'static str {
    &VERSION
}

/// One of the files. Pages ask for it with the version in its address.
pub(super) async fn show(Path(name): Path<String>) -> Result<Response, Trouble> {
    let Some((_, kind, text)) = FILES.iter().find(|(file, _, _)| *file == name) else {
        return Err(no_such_page().await);
    };
    let headers = [
        (CONTENT_TYPE, *kind),
        (CACHE_CONTROL, "public, max-age=31536000, immutable"),
    ];
    Ok((headers, *text).into_response())
}
