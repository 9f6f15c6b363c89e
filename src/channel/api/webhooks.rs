//! The addresses that are called when something happens to a job.

use std::collections::BTreeSet;

use axum::extract::{Extension, Json, Path, State};
use axum::http::StatusCode;
use axum::http::header::LOCATION;
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::ask::{Asked, id};
use super::once::Key;
use super::problem::Problem;
use super::{Api, words};
use crate::desk::tokens::Caller;
use crate::desk::webhooks::{GivenUp, WebhookLine};
use crate::record::around::WebhookEvent;
use crate::record::scope::Scope;

/// An address that is called.
#[derive(Serialize, ToSchema)]
pub(super) struct Webhook {
    /// Its number.
    id: Uuid,
    /// The address.
    url: String,
    /// When it is called.
    #[schema(schema_with = words::events)]
    events: Vec<&'static str>,
    /// When it was set.
    #[schema(value_type = String, format = DateTime)]
    set: Timestamp,
    /// When a call was last taken.
    #[schema(value_type = Option<String>, format = DateTime)]
    delivered: Option<Timestamp>,
    /// When a call last failed.
    #[schema(value_type = Option<String>, format = DateTime)]
    failed: Option<Timestamp>,
    /// Why it failed.
    failed_because: Option<String>,
    /// Calls that were tried for days in vain and given up, the oldest first.
    given_up: Vec<CallGivenUp>,
}

/// A call that was given up.
#[derive(Serialize, ToSchema)]
pub(super) struct CallGivenUp {
    /// The webhook-id that the call carried.
    id: String,
    /// The job.
    job: Uuid,
    /// What it tells.
    #[schema(schema_with = words::event)]
    event: &'static str,
    /// When it was given up.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// Why the last try failed.
    because: String,
}

impl Webhook {
    fn of(line: WebhookLine) -> Webhook {
        let given_up = |call: GivenUp| CallGivenUp {
            id: call.call,
            job: call.job.0,
            event: call.event.word(),
            at: call.at,
            because: call.why,
        };
        let (failed, failed_because) = line.failed.unzip();
        Webhook {
            id: line.webhook,
            url: line.url,
            events: line.events.into_iter().map(WebhookEvent::word).collect(),
            set: line.set,
            delivered: line.delivered,
            failed,
            failed_because,
            given_up: line.given_up.into_iter().map(given_up).collect(),
        }
    }
}

/// All addresses that are called.
#[derive(Serialize, ToSchema)]
pub(super) struct Webhooks {
    /// The addresses, the first set first.
    webhooks: Vec<Webhook>,
}

/// An address to be called.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WebhookNew {
    /// The address, with `https://`.
    #[schema(max_length = 500)]
    url: String,
    /// When it is to be called.
    #[schema(schema_with = words::events)]
    events: BTreeSet<WebhookEvent>,
}

/// The secret that signs the calls to an address.
#[derive(Serialize, ToSchema)]
pub(super) struct WebhookSecret {
    /// `whsec_` and the key in base 64, as the Standard Webhooks specification writes it.
    secret: String,
}

/// The addresses that are called.
#[utoipa::path(
    get,
    path = "/api/v1/webhooks",
    tag = "Webhooks",
    responses((status = 200, body = Webhooks, description = "The addresses")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
) -> Result<Json<Webhooks>, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let lines = api.desk().webhooks(actor).await?;
    Ok(Json(Webhooks {
        webhooks: lines.into_iter().map(Webhook::of).collect(),
    }))
}

/// Has an address called from now on. Its secret is asked for apart.
#[utoipa::path(
    post,
    path = "/api/v1/webhooks",
    tag = "Webhooks",
    request_body = WebhookNew,
    responses((
        status = 201, body = Webhook, description = "It is called from now on",
        headers(("Location" = String, description = "Its address in this API."))
    )),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn set(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Asked(new): Asked<WebhookNew>,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let line = api
        .desk()
        .set_webhook(key, actor, &new.url, &new.events)
        .await?;
    let address = format!("/api/v1/webhooks/{}", line.webhook);
    let answer = (
        StatusCode::CREATED,
        [(LOCATION, address)],
        Json(Webhook::of(line)),
    );
    Ok(answer.into_response())
}

/// One address that is called.
#[utoipa::path(
    get,
    path = "/api/v1/webhooks/{webhook}",
    tag = "Webhooks",
    params(("webhook" = Uuid, Path, description = "The number of the address.")),
    responses((status = 200, body = Webhook, description = "The address")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn one(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(webhook): Path<String>,
) -> Result<Json<Webhook>, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let line = api.desk().webhook(actor, id("webhook", &webhook)?).await?;
    Ok(Json(Webhook::of(line)))
}

/// Calls an address no more; what waits for it is let go.
#[utoipa::path(
    delete,
    path = "/api/v1/webhooks/{webhook}",
    tag = "Webhooks",
    params(("webhook" = Uuid, Path, description = "The number of the address.")),
    responses((status = 204, description = "It is gone")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn remove(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Path(webhook): Path<String>,
) -> Result<StatusCode, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let webhook = id("webhook", &webhook)?;
    api.desk().remove_webhook(key, actor, webhook).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// The secret that signs the calls to an address.
#[utoipa::path(
    get,
    path = "/api/v1/webhooks/{webhook}/secret",
    tag = "Webhooks",
    params(("webhook" = Uuid, Path, description = "The number of the address.")),
    responses((status = 200, body = WebhookSecret, description = "The secret")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn secret(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(webhook): Path<String>,
) -> Result<Json<WebhookSecret>, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let webhook = id("webhook", &webhook)?;
    let secret = api.desk().webhook_secret(actor, webhook).await?;
    Ok(Json(WebhookSecret { secret }))
}

/// Signs the calls to an address with a new secret from now on. It is asked for apart, so that the
/// kept answer to this request holds none.
#[utoipa::path(
    post,
    path = "/api/v1/webhooks/{webhook}/secret",
    tag = "Webhooks",
    params(("webhook" = Uuid, Path, description = "The number of the address.")),
    responses((status = 204, description = "There is a new secret")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn renew(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Path(webhook): Path<String>,
) -> Result<StatusCode, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let webhook = id("webhook", &webhook)?;
    api.desk().renew_webhook_secret(key, actor, webhook).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Makes a call that was given up once more.
#[utoipa::path(
    post,
    path = "/api/v1/webhooks/{webhook}/given-up/{call}",
    tag = "Webhooks",
    params(
        ("webhook" = Uuid, Path, description = "The number of the address."),
        ("call" = String, Path, description = "The webhook-id that the call carried.")
    ),
    responses((status = 204, description = "It is made again")),
    extensions(("x-scope" = json!("webhooks")))
)]
pub(super) async fn again(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Path((webhook, call)): Path<(String, String)>,
) -> Result<StatusCode, Problem> {
    let actor = caller.for_this(Scope::Webhooks)?;
    let webhook = id("webhook", &webhook)?;
    api.desk().call_again(key, actor, webhook, &call).await?;
    Ok(StatusCode::NO_CONTENT)
}
