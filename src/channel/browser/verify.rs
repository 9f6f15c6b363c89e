//! Checking a record that was written out: a page for anybody, who need not be signed in.

use axum::extract::DefaultBodyLimit;
use axum::extract::multipart::{Multipart, MultipartError};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Serialize;
use tokio::sync::Semaphore;

use super::page::{Frame, render};
use super::trouble::Trouble;
use crate::record::seal::Fingerprint;
use crate::record::verify::{Verdict, verify};

/// A record with its photos fits into so many bytes.
const BYTES_MAX: usize = 32 * 1024 * 1024;

/// So many files are taken in at once: whoever sends them need not be known.
static AT_ONCE: Semaphore = Semaphore::const_new(4);

/// Records are larger than other forms.
pub(super) fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(BYTES_MAX)
}

#[derive(Default, Serialize)]
struct Page {
    /// What was found, the verdict first.
    found: Vec<String>,
    /// Whether nothing was changed.
    intact: bool,
    /// What was typed as the key.
    key: String,
    mebibytes: usize,
}

impl Page {
    fn show(self) -> Response {
        let page = Page {
            mebibytes: BYTES_MAX / (1024 * 1024),
            ..self
        };
        render("verify.html", &Frame::of_nobody("Check a record"), &page)
    }
}

/// The form.
pub(super) async fn ask() -> Response {
    Page::default().show()
}

/// What became of the file that was sent.
pub(super) async fn check(form: Multipart) -> Result<Response, Trouble> {
    let Ok(_place) = AT_ONCE.try_acquire() else {
        return Err(Trouble::told(
            StatusCode::SERVICE_UNAVAILABLE,
            "Others are checking records just now. Try again in a minute.",
        ));
    };
    let (file, key) = read(form).await?;
    let known: Vec<Fingerprint> = match key.trim() {
        "" => Vec::new(),
        typed => vec![typed.parse().map_err(|told| unusable(&told))?],
    };
    if file.is_empty() {
        return Err(unusable(
            &"No file was sent. Choose the file, then check it.",
        ));
    }
    let checked = tokio::task::spawn_blocking(move || {
        verify(&file).map(|report| (report.verdict(&known), report.lines(&known)))
    });
    let checked = checked.await.map_err(|error| {
        tracing::error!(%error, "checking a record panicked");
        Trouble::fault()
    })?;
    let (intact, found) = match checked {
        Ok((verdict, lines)) => {
            let intact = matches!(verdict, Verdict::Intact | Verdict::Confirmed);
            (intact, lines)
        }
        Err(told) => (false, vec![told.to_string()]),
    };
    let page = Page {
        found,
        intact,
        key,
        ..Page::default()
    };
    Ok(page.show())
}

fn unusable(told: &dyn std::fmt::Display) -> Trouble {
    Trouble::told(StatusCode::UNPROCESSABLE_ENTITY, told.to_string())
}

/// The file and the key of the form.
async fn read(mut form: Multipart) -> Result<(Vec<u8>, String), Trouble> {
    let (mut file, mut key) = (Vec::new(), String::new());
    while let Some(field) = form.next_field().await.map_err(unreadable)? {
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(unreadable)?;
        match name.as_str() {
            "file" => file = bytes.to_vec(),
            "key" => key = String::from_utf8_lossy(&bytes).into_owned(),
            _ => {}
        }
    }
    Ok((file, key))
}

fn unreadable(error: MultipartError) -> Trouble {
    let status = error.status();
    if status == StatusCode::PAYLOAD_TOO_LARGE {
        let mebibytes = BYTES_MAX / (1024 * 1024);
        let sentence = format!(
            "That file is larger than {mebibytes} MB. Check it with `fanwright verify` instead."
        );
        return Trouble::told(status, sentence);
    }
    Trouble::told(status, "The file did not arrive whole. Send it again.")
}
