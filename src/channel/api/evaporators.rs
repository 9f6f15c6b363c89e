//! Evaporators: the list, one of them, and adding one.

use axum::extract::{Extension, Json, Path, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::ask::{Asked, Filters, id};
use super::jobs::{limit, linked};
use super::once::Key;
use super::problem::Problem;
use super::{Api, cursor};
use crate::desk::evaporators::NewEvaporator;
use crate::desk::screen::EvaporatorLabel;
use crate::desk::tokens::Caller;
use crate::record::scope::Scope;

/// How people tell one evaporator from the next.
#[derive(Serialize, ToSchema)]
pub(super) struct EvaporatorRef {
    /// Its number.
    id: Uuid,
    /// Where: the shop, the building.
    site: String,
    /// What is written on it.
    tag: String,
    /// Where it hangs.
    hangs: String,
}

impl EvaporatorRef {
    pub(super) fn of(label: &EvaporatorLabel) -> EvaporatorRef {
        EvaporatorRef {
            id: label.id.0,
            site: label.site.clone(),
            tag: label.tag.clone(),
            hangs: label.hangs.clone(),
        }
    }
}

/// An evaporator.
#[derive(Serialize, ToSchema)]
pub(super) struct Evaporator {
    /// Its number.
    id: Uuid,
    /// Where: the shop, the building.
    site: String,
    /// What is written on it.
    tag: String,
    /// Where it hangs.
    hangs: String,
    /// When it was added.
    #[schema(value_type = String, format = DateTime)]
    added: Timestamp,
}

impl Evaporator {
    fn of((label, added): (EvaporatorLabel, Timestamp)) -> Evaporator {
        Evaporator {
            id: label.id.0,
            site: label.site,
            tag: label.tag,
            hangs: label.hangs,
            added,
        }
    }
}

/// A page of evaporators.
#[derive(Serialize, ToSchema)]
pub(super) struct Evaporators {
    /// The evaporators, the first added first.
    evaporators: Vec<Evaporator>,
    /// Where the list goes on: send it as `cursor`. None at the end.
    next: Option<String>,
}

/// Which page of a list.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct PageAsked {
    /// Where a list that was begun goes on.
    cursor: Option<String>,
    /// How many at most, 1 to 200; 50 unless said.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<usize>,
}

/// The crew's evaporators, the first added first.
#[utoipa::path(
    get,
    path = "/api/v1/evaporators",
    tag = "Evaporators",
    params(PageAsked),
    responses((
        status = 200, body = Evaporators, description = "A page of evaporators",
        headers(("Link" = String, description = "The next page, as RFC 8288 has it."))
    )),
    extensions(("x-scope" = json!("read-evaporators")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Filters(asked): Filters<PageAsked>,
) -> Result<Response, Problem> {
    const ADDRESS: &str = "/api/v1/evaporators";
    let actor = caller.for_this(Scope::ReadEvaporators)?;
    let limit = limit(asked.limit)?;
    let after = match &asked.cursor {
        Some(text) => Some(cursor::read(ADDRESS, caller.crew(), text)?),
        None => None,
    };
    let page = api.desk().all_evaporators(actor, (after, limit)).await?;
    let next = page.next;
    let next = next.map(|next| cursor::written(ADDRESS, caller.crew(), &next));
    let link = next
        .as_ref()
        .map(|next| format!("<{ADDRESS}?limit={limit}&cursor={next}>; rel=\"next\""));
    let page = Evaporators {
        evaporators: page.items.into_iter().map(Evaporator::of).collect(),
        next,
    };
    Ok(linked(link, Json(page)))
}

/// One evaporator. Its jobs are listed with `GET /api/v1/jobs?evaporator=…`.
#[utoipa::path(
    get,
    path = "/api/v1/evaporators/{evaporator}",
    tag = "Evaporators",
    params(("evaporator" = Uuid, Path, description = "The evaporator's number.")),
    responses((status = 200, body = Evaporator, description = "The evaporator")),
    extensions(("x-scope" = json!("read-evaporators")))
)]
pub(super) async fn one(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(evaporator): Path<String>,
) -> Result<Json<Evaporator>, Problem> {
    let actor = caller.for_this(Scope::ReadEvaporators)?;
    let evaporator = id("evaporator", &evaporator)?;
    let found = api.desk().one_evaporator(actor, evaporator).await?;
    Ok(Json(Evaporator::of(found)))
}

/// An evaporator to be added.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EvaporatorNew {
    /// Where: the shop, the building.
    #[schema(min_length = 1, max_length = 80)]
    site: String,
    /// What is written on it.
    #[serde(default)]
    #[schema(max_length = 80)]
    tag: String,
    /// Where it hangs.
    #[serde(default)]
    #[schema(max_length = 80)]
    hangs: String,
}

/// Adds an evaporator.
#[utoipa::path(
    post,
    path = "/api/v1/evaporators",
    tag = "Evaporators",
    request_body = EvaporatorNew,
    responses((
        status = 201, body = Evaporator, description = "It was added",
        headers(("Location" = String, description = "Its address."))
    )),
    extensions(("x-scope" = json!("add-evaporators")))
)]
pub(super) async fn add(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Asked(new): Asked<EvaporatorNew>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::AddEvaporators)?;
    let new = NewEvaporator {
        site: new.site,
        tag: new.tag,
        hangs: new.hangs,
    };
    let label = api.desk().add_evaporator(key, actor, new).await?;
    let made = api.desk().one_evaporator(actor, label.id).await?;
    let address = format!("/api/v1/evaporators/{}", label.id);
    let answer = (
        StatusCode::CREATED,
        [(LOCATION, address)],
        Json(Evaporator::of(made)),
    );
    Ok(answer.into_response())
}
