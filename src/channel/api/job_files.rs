//! What a job leaves to keep: its checklist, its record, its report and its readings.

use axum::extract::{Extension, Json, Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::ask::{Filters, id};
use super::problem::Problem;
use super::{Api, words};
use crate::desk::tokens::Caller;
use crate::record::scope::Scope;
use crate::report::checklist::{Checklist, Line};
use crate::report::pdf::Paper;

/// The checklist of a job, as `fanwright schema record` describes it. It names people.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/checklist",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number.")),
    responses((status = 200, body = Object, description = "The checklist")),
    extensions(("x-scope" = json!("read-jobs")), ("x-also" = json!("read-names")))
)]
pub(super) async fn checklist(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
) -> Result<Json<Checklist>, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    caller.for_this(Scope::ReadNames)?;
    let checklist = api.desk().checklist(actor, id("job", &job)?).await?;
    Ok(Json(checklist))
}

/// What goes into the file of a record.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct RecordAsked {
    /// The photos, too.
    photos: Option<bool>,
}

/// A job's record as the sealed file that `fanwright verify` checks. It names people.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/record",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number."), RecordAsked),
    responses((status = 200, body = Object, description = "The record")),
    extensions(("x-scope" = json!("read-jobs")), ("x-also" = json!("read-names")))
)]
pub(super) async fn record(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
    Filters(asked): Filters<RecordAsked>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    caller.for_this(Scope::ReadNames)?;
    let photos = asked.photos.unwrap_or_default();
    let file = api
        .desk()
        .record_file(actor, id("job", &job)?, photos)
        .await?;
    Ok(([(CONTENT_TYPE, "application/json")], file).into_response())
}

/// What the report is printed on.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct ReportAsked {
    /// The paper; Letter unless said.
    #[param(schema_with = words::paper)]
    paper: Option<Paper>,
}

/// A job's report as a PDF, to print and to hand to the owner. It names people.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/report",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number."), ReportAsked),
    responses((
        status = 200, content_type = "application/pdf", body = [u8], description = "The report"
    )),
    extensions(("x-scope" = json!("read-jobs")), ("x-also" = json!("read-names")))
)]
pub(super) async fn report(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
    Filters(asked): Filters<ReportAsked>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    caller.for_this(Scope::ReadNames)?;
    let paper = asked.paper.unwrap_or_default();
    let pdf = api.desk().pdf(actor, id("job", &job)?, paper).await?;
    Ok(([(CONTENT_TYPE, "application/pdf")], pdf).into_response())
}

/// One reading of a job.
#[derive(Serialize, ToSchema)]
pub(super) struct Reading {
    /// When it was taken.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// The part of the job.
    part: String,
    /// What was to be read, as the screen asked.
    asked: Option<String>,
    /// The number as it was typed.
    value: String,
    /// The symbol of its unit.
    unit: String,
    /// Where it was expected, like `187 V to 253 V`.
    expected: Option<String>,
    /// Whether it lies there; none where nothing was expected.
    as_expected: Option<bool>,
}

/// The readings of a job.
#[derive(Serialize, ToSchema)]
pub(super) struct Readings {
    /// The readings, in the order in which they were taken.
    readings: Vec<Reading>,
}

/// The readings of a job, each with its unit and where it was expected.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}/readings",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number.")),
    responses((status = 200, body = Readings, description = "The readings")),
    extensions(("x-scope" = json!("read-jobs")))
)]
pub(super) async fn readings(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
) -> Result<Json<Readings>, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    let checklist = api.desk().checklist(actor, id("job", &job)?).await?;
    let of_section = |section: &crate::report::checklist::Section| {
        let reading = |line: &Line| reading(&section.title, line);
        section.lines.iter().filter_map(reading).collect::<Vec<_>>()
    };
    let readings = checklist.sections.iter().flat_map(of_section).collect();
    Ok(Json(Readings { readings }))
}

fn reading(part: &str, line: &Line) -> Option<Reading> {
    let reading = line.reading.as_ref()?;
    Some(Reading {
        at: line.at,
        part: part.to_owned(),
        asked: line.asked.clone(),
        value: reading.value.clone(),
        unit: reading.unit.clone(),
        expected: line.expected.clone(),
        as_expected: reading.as_expected,
    })
}
