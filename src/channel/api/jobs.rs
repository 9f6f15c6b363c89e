//! Jobs: the list, one of them, and beginning one for a person.

use axum::extract::{Extension, Json, Path, State};
use axum::http::StatusCode;
use axum::http::header::{LINK, LOCATION};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::ask::{Asked, Filters, id};
use super::evaporators::EvaporatorRef;
use super::once::Key;
use super::people::PersonRef;
use super::problem::{Kind, Problem};
use super::{Api, cursor, words};
use crate::desk::catalog::{ITEMS_A_PAGE_MAX, JobsWanted};
use crate::desk::id::EvaporatorId;
use crate::desk::jobs::NewJob;
use crate::desk::screen::{JobLine, Phase};
use crate::desk::search::Wanted;
use crate::desk::tokens::Caller;
use crate::flow::model::Role;
use crate::flow::name::FlowName;
use crate::record::person::PersonId;
use crate::record::scope::Scope;

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
    /// The jobs. A page may hold fewer than asked, or none, and still have a next one.
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
    /// Words to look for: of site, tag, place, flow, outcome and people's names by their
    /// beginnings, numbers as a whole, or a job's number.
    q: Option<String>,
    /// Only jobs at this site, as it is called. A search.
    site: Option<String>,
    /// Only jobs that were ever in this person's hands. A search.
    person: Option<Uuid>,
    /// Only jobs that ended so, in the words of `outcome`; of those left locked out, `Left with
    /// an owner`. A search.
    ended: Option<String>,
    /// Only jobs that were begun on this day or later by the clocks of the crew. A search.
    #[param(value_type = Option<String>, format = Date)]
    from: Option<Date>,
    /// Only jobs that were begun on this day or earlier by the clocks of the crew. A search.
    #[param(value_type = Option<String>, format = Date)]
    to: Option<Date>,
    /// Where a list that was begun goes on.
    cursor: Option<String>,
    /// How many at most, 1 to 200; 50 unless said.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<usize>,
}

impl JobsAsked {
    /// What is searched for; none if the list as a whole is read.
    fn search(&self) -> Option<Wanted> {
        let is_search = self.q.is_some()
            || self.site.is_some()
            || self.person.is_some()
            || self.ended.is_some()
            || self.from.is_some()
            || self.to.is_some();
        is_search.then(|| Wanted {
            words: self.q.clone().unwrap_or_default(),
            site: self.site.clone(),
            evaporator: self.evaporator.map(EvaporatorId),
            person: self.person.map(PersonId),
            flow: self.flow.as_deref().map(FlowName::from),
            phase: self.phase,
            ended: self.ended.clone(),
            from: self.from,
            to: self.to,
        })
    }

    /// The rest of a search, which its lists do not know.
    fn takes(&self, line: &JobLine) -> bool {
        let held = self
            .holder
            .is_none_or(|holder| line.holder.person.0 == holder);
        held && self.since.is_none_or(|since| line.last >= since)
    }
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

/// The crew's jobs, the oldest first; those that are searched for, the latest begun first.
///
/// The order never changes: reading page by page gives every job that was there at the beginning,
/// once, while the jobs go on. With `q`, `site`, `person`, `ended`, `from` or `to` the list is
/// searched; then a page may be short where the search paused on its way back in time.
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
    let filters = filters(&asked);
    let question = format!("/api/v1/jobs?{filters}");
    let (lines, next) = match asked.search() {
        Some(wanted) => {
            let after = after(&question, &caller, &asked)?;
            let found = api.desk().find_some_jobs(actor, &wanted, (after, limit));
            let found = found.await?;
            let lines = found.jobs.into_iter().filter(|line| asked.takes(line));
            let next = found.next.map(|next| next_of(&question, &caller, &next));
            (lines.collect::<Vec<_>>(), next)
        }
        None => {
            let after = after(&question, &caller, &asked)?;
            let wanted = JobsWanted {
                phase: asked.phase,
                evaporator: asked.evaporator.map(EvaporatorId),
                holder: asked.holder.map(PersonId),
                flow: asked.flow.as_deref().map(FlowName::from),
                since: asked.since,
            };
            let page = api.desk().all_jobs(actor, &wanted, (after, limit)).await?;
            let next = page.next.map(|next| next_of(&question, &caller, &next));
            (page.items, next)
        }
    };
    let link = next.as_ref().map(|next| {
        let and = if filters.is_empty() { "" } else { "&" };
        format!("</api/v1/jobs?{filters}{and}limit={limit}&cursor={next}>; rel=\"next\"")
    });
    let names = caller.sees_names();
    let jobs = lines.into_iter().map(|line| Job::of(line, names));
    let page = Jobs {
        jobs: jobs.collect(),
        next,
    };
    Ok(linked(link, Json(page)))
}

/// The place from which a list goes on.
fn after<C: std::str::FromStr>(
    question: &str,
    caller: &Caller,
    asked: &JobsAsked,
) -> Result<Option<C>, Problem> {
    let read = |text: &String| cursor::read(question, caller.crew(), text);
    asked.cursor.as_ref().map(read).transpose()
}

fn next_of(question: &str, caller: &Caller, next: &impl std::fmt::Display) -> String {
    cursor::written(question, caller.crew(), next)
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
        ("q", asked.q.clone()),
        ("site", asked.site.clone()),
        ("person", asked.person.map(|id| id.to_string())),
        ("ended", asked.ended.clone()),
        ("from", asked.from.map(|day| day.to_string())),
        ("to", asked.to.map(|day| day.to_string())),
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

/// A job to be begun for a person.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct JobNew {
    /// On which evaporator.
    evaporator: Uuid,
    /// Along which flow: the name of one that begins jobs.
    flow: String,
    /// In whose hands: somebody of the crew, who is told.
    person: Uuid,
    /// A training walk: never handed in.
    #[serde(default)]
    training: bool,
}

/// Begins a job in the hands of somebody of the crew, who is told of it.
///
/// The supervisor in whose name the token acts does not hold the job and may review it.
#[utoipa::path(
    post,
    path = "/api/v1/jobs",
    tag = "Jobs",
    request_body = JobNew,
    responses((
        status = 201, body = Job, description = "It began",
        headers(("Location" = String, description = "Its address."))
    )),
    extensions(("x-scope" = json!("begin-jobs")))
)]
pub(super) async fn begin(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Asked(new): Asked<JobNew>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::BeginJobs)?;
    let job = NewJob {
        evaporator: EvaporatorId(new.evaporator),
        flow: FlowName::from(new.flow.as_str()),
        training: new.training,
    };
    let person = PersonId(new.person);
    let begun = api.desk().begin_for(key, actor, job, person).await?;
    let job = begun.screen.job;
    let line = api.desk().job_line(actor, job).await?;
    let address = format!("/api/v1/jobs/{job}");
    let made = Json(Job::of(line, caller.sees_names()));
    Ok((StatusCode::CREATED, [(LOCATION, address)], made).into_response())
}
