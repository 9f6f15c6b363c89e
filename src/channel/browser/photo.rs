//! Photos in and out, and the pictures of flows.

use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{DefaultBodyLimit, Multipart, Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use super::Browser;
use super::form::Fields;
use super::job::{Sent, handled, job_of};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::photo::PHOTO_BYTES_MAX;
use crate::flow::name::PictureName;
use crate::record::chain::Hash;
use crate::walk::input::Input;

/// Room for the other fields of the form.
const FIELDS_BYTES_MAX: usize = 16 * 1024;

/// So many fields may stand before the photo.
const FIELDS_MAX: usize = 8;

/// Photos are larger than any other form.
pub(super) fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(PHOTO_BYTES_MAX + FIELDS_BYTES_MAX)
}

/// Takes a photo in and answers the screen with it.
pub(super) async fn upload(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
    mut form: Multipart,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let mut fields = Fields::default();
    while let Some(field) = form.next_field().await.map_err(unreadable)? {
        if field.name() != Some("photo") {
            if fields.0.len() == FIELDS_MAX {
                return Err(Trouble::stale_form());
            }
            let name = field.name().unwrap_or_default().to_owned();
            fields.0.push((name, text(field).await?));
            continue;
        }
        // The small fields come first, so that nobody's photo is read in vain.
        let key = fields.key(&signed_in.session)?;
        let bytes = field.bytes().await.map_err(unreadable)?.to_vec();
        let sent = Sent { job, key, fields };
        if bytes.is_empty() {
            let sentence = "No photo came. Choose one first, then send it.".to_owned();
            return super::job::again(&browser, &signed_in, &sent, sentence).await;
        }
        return match browser.desk().take_photo(bytes).await {
            Ok(photo) => handled(&browser, &signed_in, sent, Input::Photo(photo)).await,
            Err(DeskError::NotUnderstood(sentence)) => {
                super::job::again(&browser, &signed_in, &sent, sentence).await
            }
            Err(error) => Err(error.into()),
        };
    }
    Err(Trouble::stale_form())
}

/// A small field.
async fn text(mut field: Field<'_>) -> Result<String, Trouble> {
    let mut bytes = Vec::new();
    while let Some(chunk) = field.chunk().await.map_err(unreadable)? {
        bytes.extend_from_slice(&chunk);
        if bytes.len() > FIELDS_BYTES_MAX {
            return Err(Trouble::stale_form());
        }
    }
    String::from_utf8(bytes).map_err(|_| Trouble::stale_form())
}

fn unreadable(error: MultipartError) -> Trouble {
    let status = error.status();
    if status == StatusCode::PAYLOAD_TOO_LARGE {
        let mebibytes = PHOTO_BYTES_MAX / (1024 * 1024);
        let sentence = format!("That photo is larger than {mebibytes} MB. Send a smaller one.");
        return Trouble::told(status, sentence);
    }
    Trouble::told(
        status,
        "The photo did not arrive whole. Go back to the job and send it again.",
    )
}

/// A photo of a job.
pub(super) async fn photo(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path((job, hash)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let hash = hash.trim_end_matches(".jpg").parse::<Hash>();
    let hash = hash.map_err(|_| Trouble::not_found("photo"))?;
    let jpeg = browser.desk().photo(&actor, job, hash).await?;
    let headers = [
        (CONTENT_TYPE, "image/jpeg"),
        (CACHE_CONTROL, "private, max-age=86400, immutable"),
    ];
    Ok((headers, jpeg).into_response())
}

/// A picture of the flow that a job walks.
pub(super) async fn picture(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path((job, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let name = PictureName::from(name);
    let svg = browser.desk().picture(&actor, job_of(&job)?, &name).await?;
    let headers = [
        (CONTENT_TYPE, "image/svg+xml"),
        (CACHE_CONTROL, "private, max-age=3600"),
        // A picture may bring its own style but runs nothing and fetches nothing.
        (
            CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'",
        ),
    ];
    Ok((headers, svg).into_response())
}
