//! The checklist of a job, as a page and as JSON, and its record as files to keep.

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ring::digest::{SHA256, digest};

use super::Browser;
use super::job::job_of;
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::id::JobId;
use crate::report::checklist::Links;
use crate::report::pdf::Paper;
use crate::report::readings::csv;

/// The page brings its own style, so that it can be saved and printed. That very style may be
/// used, by its hash, and no other; the page runs nothing.
fn content_policy(html: &str) -> String {
    let style = html
        .split_once("<style>")
        .and_then(|(_, rest)| rest.split_once("</style>"));
    let style = style.map_or("", |(style, _)| style);
    let hash = STANDARD.encode(digest(&SHA256, style.as_bytes()));
    format!(
        "default-src 'none'; img-src 'self'; style-src 'sha256-{hash}'; base-uri 'none'; \
         form-action 'none'; frame-ancestors 'none'"
    )
}

/// The checklist to read and print.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let checklist = browser.desk().checklist(&actor, job).await?;
    let links = Links {
        photos: format!("/job/{job}/photo/"),
        job: format!("/job/{job}"),
        record: format!("/job/{job}/record.json"),
        readings: format!("/job/{job}/readings.csv"),
        pdf: if crate::report::pdf::IS_BUILT {
            format!("/job/{job}/report.pdf")
        } else {
            String::new()
        },
        code: Some(browser.desk().verify_code(&checklist, None)),
    };
    let html = checklist.to_html(&links).map_err(|error| {
        tracing::error!(%error, "a checklist could not be made");
        Trouble::fault()
    })?;
    let headers = [(CONTENT_SECURITY_POLICY, content_policy(&html))];
    Ok((headers, Html(html)).into_response())
}

/// The checklist for other programs.
pub(super) async fn json(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let checklist = browser.desk().checklist(&actor, job_of(&job)?).await?;
    Ok(Json(checklist).into_response())
}

/// What goes into the file of a record.
#[derive(serde::Deserialize)]
pub(super) struct With {
    /// The photos, too.
    #[serde(default)]
    photos: bool,
}

/// The record as one sealed file.
pub(super) async fn record(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(job): Path<String>,
    Query(With { photos }): Query<With>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let file = browser.desk().record_file(&actor, job, photos).await?;
    Ok(to_keep(job, ("json", "application/json"), file))
}

/// The readings as a table.
pub(super) async fn readings(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let table = csv(&browser.desk().checklist(&actor, job).await?);
    Ok(to_keep(job, ("csv", "text/csv; charset=utf-8"), table))
}

/// Which paper the report is for.
#[derive(serde::Deserialize)]
pub(super) struct On {
    #[serde(default)]
    paper: Paper,
}

/// The report as a PDF.
pub(super) async fn pdf(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(job): Path<String>,
    Query(On { paper }): Query<On>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    let pdf = browser.desk().pdf(&actor, job, paper).await?;
    Ok(to_keep(job, ("pdf", "application/pdf"), pdf))
}

/// The JSON Schema of a record's file, at an address that stays.
pub(super) async fn schema() -> Response {
    let headers = [(CONTENT_TYPE, "application/schema+json")];
    (headers, crate::record::export::SCHEMA).into_response()
}

/// A file to keep.
fn to_keep(job: JobId, (ending, kind): (&str, &'static str), bytes: impl IntoResponse) -> Response {
    let as_file = format!("attachment; filename=\"job-{job}.{ending}\"");
    let headers = [
        (CONTENT_TYPE, kind.to_owned()),
        (CONTENT_DISPOSITION, as_file),
    ];
    (headers, bytes).into_response()
}
