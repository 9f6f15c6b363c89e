//! The checklist of a job, as a page and as JSON.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::response::{Html, IntoResponse, Response};

use super::Browser;
use super::job::job_of;
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::report::checklist::Links;

/// The page brings its own style, so that it can be saved and printed; it runs nothing.
const CONTENT_POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'unsafe-inline'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

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
    };
    let html = checklist.to_html(&links).map_err(|error| {
        tracing::error!(%error, "a checklist could not be made");
        Trouble::fault()
    })?;
    let headers = [(CONTENT_SECURITY_POLICY, CONTENT_POLICY)];
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
