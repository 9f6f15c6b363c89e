//! Jobs: the list, one of them, its checklist, its record and its readings.

use axum::extract::{Extension, Json, Path, State};
use axum::http::header::{CONTENT_TYPE, LINK};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::ask::{Filters, id};
use super::evaporators::EvaporatorRef;
use super::people::PersonRef;
use super::problem::{Kind, Problem};
use super::{Api, cursor, words};
use crate::desk::catalog::{ITEMS_A_PAGE_MAX, JobsWanted};
use crate::desk::screen::{JobLine, Phase};
use crate::desk::tokens::Caller;
use crate::flow::model::Role;
use crate::flow::name::FlowName;
use crate::record::person::PersonId;
use crate::record::scope::Scope;
use crate::report::checklist::{Checklist, Line};

/// So many items are on a page unless another number is asked for.
pub(super) const ITEMS_A_PAGE: usize = 50;

/// A job in a few fields.
#[derive(Serialize, ToSchema)]
pub(super) struct Job {
    /// Its number.
    id: Uuid,
    evaporator: EvaporatorRef,
    /// The name of its flow.
    flow: String,
    /// The title of its flow.
    title: String,
    /// How far it is.
    #[schema(schema_with = words::phase)]
    phase: &'static str,
    /// How it ended, in words. Of a job left locked out it names the owner, so it is told only to
    /// who may see names.
    outcome: Option<String>,
    /// A training walk: never handed in.
    training: bool,
    /// In whose hands it is.
    holder: PersonRef,
    /// It goes on only when somebody in one of these roles answered.
    #[schema(schema_with = words::roles)]
    waits_for: Vec<&'static str>,
    /// Handed in, but nobody of the crew may review it.
    nobody_to_review: bool,
    /// When it began.
    #[schema(value_type = String, format = DateTime)]
    began: Timestamp,
    /// When something last happened.
    #[schema(value_type = String, format = DateTime)]
    last: Timestamp,
}

impl Job {
    fn of(line: JobLine, names: bool) -> Job {
        let tells = names || line.phase != Phase::LockedOut;
        Job {
            id: line.job.0,
            evaporator: EvaporatorRef::of(&line.evaporator),
            flow: line.flow.to_string(),
            title: line.title,
            phase: line.phase.word(),
            outcome: line.outcome.filter(|_| tells),
            training: line.training,
            holder: PersonRef::of(&line.holder, names),
            waits_for: line.waits_for.into_iter().map(Role::word).collect(),
            nobody_to_review: line.nobody_to_review,
            began: line.began,
            last: line.last,
        }
    }
}

/// A page of jobs.
#[derive(Serialize, ToSchema)]
pub(super) struct Jobs {
    /// The jobs, the oldest first. A page may hold fewer than asked, or none, and still have a
    /// next one.
    jobs: Vec<Job>,
    /// Where the list goes on: send it as `cursor`. None at the end.
    next: Option<String>,
}

/// Which jobs, and which page of them.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct JobsAsked {
    /// Only jobs so far.
    #[param(schema_with = words::phase)]
    phase: Option<Phase>,
    /// Only jobs on this evaporator.
    evaporator: Option<Uuid>,
    /// Only jobs in this person's hands.
    holder: Option<Uuid>,
    /// Only jobs along this flow.
    flow: Option<String>,
    /// Only jobs to which something happened at this time or later.
    #[param(value_type = Option<String>, format = DateTime)]
    since: Option<Timestamp>,
    /// Where a list that was begun goes on.
    cursor: Option<String>,
    /// How many at most, 1 to 200; 50 unless said.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<usize>,
}

/// How many items a page has.
pub(super) fn limit(asked: Option<usize>) -> Result<usize, Problem> {
    match asked.unwrap_or(ITEMS_A_PAGE) {
        0 => Err(Problem::new(
            Kind::NotUnderstood,
            "A page has 1 to 200 items. Say another limit.",
        )),
        many if many > ITEMS_A_PAGE_MAX => Err(Problem::new(
            Kind::NotUnderstood,
            "A page has 1 to 200 items. Say another limit.",
        )),
        fits => Ok(fits),
    }
}

/// The crew's jobs, the oldest first.
///
/// The order never changes: reading page by page gives every job that was there at the beginning,
/// once, while the jobs go on.
#[utoipa::path(
    get,
    path = "/api/v1/jobs",
    tag = "Jobs",
    params(JobsAsked),
    responses((
        status = 200, body = Jobs, description = "A page of jobs",
        headers(("Link" = String, description = "The next page, as RFC 8288 has it."))
    )),
    extensions(("x-scope" = json!("read-jobs")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Filters(asked): Filters<JobsAsked>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    let limit = limit(asked.limit)?;
    let wanted = JobsWanted {
        phase: asked.phase,
        evaporator: asked.evaporator.map(crate::desk::id::EvaporatorId),
        holder: asked.holder.map(PersonId),
        flow: asked.flow.as_deref().map(FlowName::from),
        since: asked.since,
    };
    let filters = filters(&asked);
    let question = format!("/api/v1/jobs?{filters}");
    let after = match &asked.cursor {
        Some(text) => Some(cursor::read(&question, caller.crew(), text)?),
        None => None,
    };
    let page = api.desk().all_jobs(actor, &wanted, (after, limit)).await?;
    let next = page.next;
    let next = next.map(|next| cursor::written(&question, caller.crew(), &next));
    let link = next.as_ref().map(|next| {
        let and = if filters.is_empty() { "" } else { "&" };
        format!("</api/v1/jobs?{filters}{and}limit={limit}&cursor={next}>; rel=\"next\"")
    });
    let names = caller.sees_names();
    let jobs = page.items.into_iter().map(|line| Job::of(line, names));
    let page = Jobs {
        jobs: jobs.collect(),
        next,
    };
    Ok(linked(link, Json(page)))
}

/// An answer with the way to the next page.
pub(super) fn linked(link: Option<String>, answer: impl IntoResponse) -> Response {
    match link {
        Some(link) => ([(LINK, link)], answer).into_response(),
        None => answer.into_response(),
    }
}

/// The filters as the address of a next page repeats them.
fn filters(asked: &JobsAsked) -> String {
    let pairs = [
        ("phase", asked.phase.map(Phase::word).map(str::to_owned)),
        ("evaporator", asked.evaporator.map(|id| id.to_string())),
        ("holder", asked.holder.map(|id| id.to_string())),
        ("flow", asked.flow.clone()),
        ("since", asked.since.map(|since| since.to_string())),
    ];
    let given = pairs
        .into_iter()
        .filter_map(|(name, value)| Some((name, value?)));
    let mut text = reqwest::Url::parse("http://localhost").ok();
    if let Some(url) = &mut text {
        url.query_pairs_mut().extend_pairs(given);
    }
    let query = text.as_ref().and_then(reqwest::Url::query);
    query.unwrap_or_default().to_owned()
}

/// One job.
#[utoipa::path(
    get,
    path = "/api/v1/jobs/{job}",
    tag = "Jobs",
    params(("job" = Uuid, Path, description = "The job's number.")),
    responses((status = 200, body = Job, description = "The job")),
    extensions(("x-scope" = json!("read-jobs")))
)]
pub(super) async fn one(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(job): Path<String>,
) -> Result<Json<Job>, Problem> {
    let actor = caller.for_this(Scope::ReadJobs)?;
    let line = api.desk().job_line(actor, id("job", &job)?).await?;
    Ok(Json(Job::of(line, caller.sees_names())))
}

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
