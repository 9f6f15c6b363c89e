//! The emergency page: fixed text, for everybody, signed in or not.

use axum::extract::Query;
use axum::response::Response;
use serde::{Deserialize, Serialize};

use super::page::{Frame, render};
use crate::desk::id::JobId;
use crate::walk::prompt::EMERGENCY;

#[derive(Deserialize)]
pub(super) struct From {
    job: Option<String>,
}

#[derive(Serialize)]
struct Hurt {
    sentences: Vec<&'static str>,
    /// The way back.
    job: Option<String>,
    /// Whether others are being told.
    told: bool,
}

/// What to do now.
pub(super) async fn show(Query(from): Query<From>) -> Response {
    page(from.job.and_then(|job| job.parse().ok()), false)
}

/// What to do now, and whether others are being told of it.
pub(super) fn page(job: Option<JobId>, told: bool) -> Response {
    let page = Hurt {
        sentences: EMERGENCY.lines().collect(),
        told,
        job: job.map(|job| job.to_string()),
    };
    let frame = Frame::of_nobody("Someone is hurt / gas alarm").with_own_bar();
    render("hurt.html", &frame, &page)
}
