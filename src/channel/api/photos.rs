//! The photos of a job.

use axum::extract::{Extension, Json, Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::Api;
use super::ask::id;
use super::problem::Problem;
use crate::desk::tokens::Caller;
use crate::record::chain::Hash;
use crate::record::scope::Scope;

/// One photo of a job.
#[derive(Serialize, ToSchema)]
pub(super) struct Photo {
    /// The hash of the stored picture, by which it is fetched.
    hash: String,
    /// When it was sent in.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// When it says that it was taken, as its own text.
    taken: Option<String>,
    /// What it shows, as the screen asked.
    asked: Option<String>,
}

/// The photos of a job.
#[derive(Serialize, ToSchema)]
pub(super) struct Photos {
    /// The photos, in the order in which they came.
    photos: Vec<Photo>,
}

/// The photos of a job.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/photos",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number.")),
    responses((status = 200, body = Photos, description = "The photos")),
    extensions(("x-scope" = json!("read-jobs")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
) -> Result<Json<Photos>, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    let checklist = api.desk().checklist(actor, id("job", &job)?).await?;
    let lines = checklist.sections.into_iter().flat_map(|it| it.lines);
    let photos = lines.filter_map(|line| {
        let photo = line.photo.filter(|photo| !photo.stored.is_empty())?;
        Some(Photo {
            hash: photo.stored,
            at: line.at,
            taken: photo.taken,
            asked: line.asked,
        })
    });
    Ok(Json(Photos {
        photos: photos.collect(),
    }))
}

/// One photo of a job, as JPEG.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/photos/{photo}",
    tag = "Jobs",
    params(
        ("job" = Uuid, Path, description = "The job's number."),
        ("photo" = String, Path, description = "The photo's hash.")
    ),
    responses((status = 200, content_type = "image/jpeg", body = [u8], description = "The photo")),
    extensions(("x-scope" = json!("read-jobs")))
)]
pub(super) async fn one(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path((job, photo)): Path<(String, String)>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    let job = id("job", &job)?;
    // Whether there is such a job comes first, so that nothing tells other crews' apart.
    api.desk().job_line(actor, job).await?;
    let hash: Hash = id("photo", &photo)?;
    let jpeg = api.desk().photo(actor, job, hash).await?;
    let headers = [
        (CONTENT_TYPE, "image/jpeg".to_owned()),
        (ETAG, format!("\"{hash}\"")),
        // The hash in the address is that of the bytes: they never change.
        (
            CACHE_CONTROL,
            "private, max-age=31536000, immutable".to_owned(),
        ),
    ];
    Ok((headers, jpeg).into_response())
}
