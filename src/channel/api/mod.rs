//! The HTTP API: JSON for other programs over the desk, described by an OpenAPI document.
//!
//! Every request shows a token (`Authorization: Bearer`). What changes something also names itself
//! (`Idempotency-Key`), so that repeating it is harmless. What goes wrong is told as a problem
//! (RFC 9457), one sentence each.

mod ask;
mod cursor;
mod document;
mod door;
mod evaporators;
mod flows;
mod goods;
mod job_files;
mod jobs;
mod limit;
mod once;
mod people;
mod photos;
mod problem;
mod webhooks;
mod words;

use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::Request;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderName, HeaderValue, REFERRER_POLICY,
    STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::{any, get};
use jiff::Timestamp;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::channel::caller::{A_YEAR, is_encrypted, place};
use crate::channel::lately::Lately;
use crate::channel::noted::{Event, noted};
use crate::desk::Desk;
use limit::Limits;
use once::UnderWay;
use problem::{Kind, Problem};

pub use document::document;

/// The most bytes of a request: a kit of 20,000 rows and more.
const BODY_BYTES_MAX: usize = 8 * 1024 * 1024;

/// How long a request may take.
const REQUEST_TIME_MAX: Duration = Duration::from_secs(60);

/// What the API is made over.
pub struct ApiParts {
    /// The desk.
    pub desk: Desk,
    /// Tells the time, for the count of requests.
    pub now: Arc<dyn Fn() -> Timestamp + Send + Sync>,
}

/// The API. Clones are cheap and share everything.
#[derive(Clone)]
pub struct Api {
    inner: Arc<Inner>,
}

struct Inner {
    parts: ApiParts,
    limits: Limits,
    strangers: Lately<IpAddr>,
    under_way: UnderWay,
}

impl Api {
    /// An API over these parts.
    pub fn new(parts: ApiParts) -> Api {
        Api {
            inner: Arc::new(Inner {
                parts,
                limits: Limits::default(),
                strangers: Lately::default(),
                under_way: UnderWay::default(),
            }),
        }
    }

    /// All its addresses.
    pub fn router(self) -> Router {
        let (behind_door, _) = behind_door().split_for_parts();
        let behind_door = behind_door
            .method_not_allowed_fallback(no_such_method)
            .route_layer(from_fn_with_state(self.clone(), door::pass));
        behind_door
            .route("/openapi.json", get(document::show))
            .route("/problems/{kind}", get(problem::show))
            .route("/api/{*rest}", any(no_such_resource))
            .layer(TimeoutLayer::with_status_code(
                StatusCode::REQUEST_TIMEOUT,
                REQUEST_TIME_MAX,
            ))
            .layer(CatchPanicLayer::custom(panicked))
            .layer(from_fn(with_headers))
            .with_state(self)
    }

    fn desk(&self) -> &Desk {
        &self.inner.parts.desk
    }

    fn now(&self) -> Timestamp {
        (self.inner.parts.now)()
    }
}

/// Everything that needs a token: the router and its description come from one list.
fn behind_door() -> OpenApiRouter<Api> {
    OpenApiRouter::new()
        .routes(routes!(jobs::list, jobs::begin))
        .routes(routes!(jobs::one))
        .routes(routes!(job_files::checklist))
        .routes(routes!(job_files::record))
        .routes(routes!(job_files::report))
        .routes(routes!(job_files::readings))
        .routes(routes!(photos::list))
        .routes(routes!(photos::one))
        .routes(routes!(evaporators::list, evaporators::add))
        .routes(routes!(evaporators::one))
        .routes(routes!(people::list))
        .routes(routes!(goods::kit, goods::replace_kit))
        .routes(routes!(goods::speed_book, goods::replace_speed_book))
        .routes(routes!(flows::list, flows::publish))
        .routes(routes!(flows::one))
        .routes(routes!(webhooks::list, webhooks::set))
        .routes(routes!(webhooks::one, webhooks::remove))
        .routes(routes!(webhooks::secret, webhooks::renew))
        .routes(routes!(webhooks::again))
}

async fn no_such_resource() -> Problem {
    Problem::new(
        Kind::NotFound,
        "There is no such address in this API. Look at /openapi.json.",
    )
}

async fn no_such_method() -> Problem {
    Problem::new(
        Kind::MethodNotAllowed,
        "This cannot be done here. Look at /openapi.json for what can.",
    )
}

/// What the layers around the API answer without words, as a problem like every other.
fn as_problem(response: Response) -> Response {
    let kind = response.headers().get(CONTENT_TYPE);
    let is_problem = kind.is_some_and(|kind| kind == problem::MEDIA_TYPE);
    match response.status() {
        _ if is_problem => response,
        StatusCode::REQUEST_TIMEOUT => Problem::of(Kind::TryAgain).into_response(),
        // A part of the path is not UTF-8.
        StatusCode::BAD_REQUEST => Problem::not_found("thing").into_response(),
        _ => response,
    }
}

/// An answer of the API is data: nothing of it is shown, run or framed, and no other site reads it.
const CONTENT_POLICY: &str = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'";

async fn with_headers(request: Request, next: Next) -> Response {
    let from = place(request.headers(), request.extensions());
    let path = request.uri().path().to_owned();
    let encrypted = is_encrypted(request.headers());
    let mut response = as_problem(next.run(request).await);
    match response.status() {
        StatusCode::UNAUTHORIZED => noted(Event::NoToken, from, &path),
        StatusCode::FORBIDDEN => noted(Event::OutOfScope, from, &path),
        StatusCode::TOO_MANY_REQUESTS => noted(Event::ProgramAskedTooMuch, from, &path),
        _ => {}
    }
    let headers: &mut HeaderMap = response.headers_mut();
    let mut unless_there = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    unless_there(CACHE_CONTROL, "private, no-cache");
    unless_there(X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_there(CONTENT_SECURITY_POLICY, CONTENT_POLICY);
    unless_there(REFERRER_POLICY, "no-referrer");
    let same_origin = HeaderName::from_static("cross-origin-resource-policy");
    unless_there(same_origin, "same-origin");
    if encrypted {
        unless_there(STRICT_TRANSPORT_SECURITY, A_YEAR);
    }
    response
}

/// What a panic says may quote what somebody sent, so it does not go into the log.
fn panicked(_: Box<dyn std::any::Any + Send>) -> Response {
    tracing::error!("a request to the API panicked");
    Problem::fault().into_response()
}
