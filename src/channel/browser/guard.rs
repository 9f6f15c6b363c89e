//! What stands around every page: limits, headers, and the refusal of forms from elsewhere.

use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::StatusCode;
use axum::http::header::{
    ALLOW, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderName, HeaderValue,
    REFERRER_POLICY, STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::middleware::{Next, from_fn, map_response};
use axum::response::{IntoResponse, Response};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::csrf::{CsrfLayer, ProtectionError};
use tower_http::timeout::TimeoutLayer;

use super::Browser;
use super::clocks;
use super::trouble::Trouble;
use crate::channel::caller::{A_YEAR, is_encrypted, place};
use crate::channel::noted::{Event, noted};

/// The most bytes of a form without a photo.
const FORM_BYTES_MAX: usize = 64 * 1024;

/// How long a request may take; a photo over a thin line needs most of it.
const REQUEST_TIME_MAX: Duration = Duration::from_secs(180);

/// Everything comes from this server, nothing runs that is not a file of it.
const CONTENT_POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'self'; \
    script-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
    frame-ancestors 'none'";

/// Limits a request in size and time, catches a panic while it is served, and refuses a form
/// that another site sent.
pub(super) fn around(router: Router<Browser>) -> Router<Browser> {
    router
        .layer(DefaultBodyLimit::max(FORM_BYTES_MAX))
        .layer(CsrfLayer::new().with_rejection_response(from_elsewhere))
        .layer(TimeoutLayer::with_status_code(
            StatusCode::REQUEST_TIMEOUT,
            REQUEST_TIME_MAX,
        ))
        .layer(CatchPanicLayer::custom(panicked))
        .layer(map_response(in_words))
}

/// Turns a refusal that a library made into a page with one sentence.
async fn in_words(response: Response) -> Response {
    let kind = response.headers().get(CONTENT_TYPE);
    let is_page = kind.is_some_and(|kind| !kind.as_bytes().starts_with(b"text/plain"));
    let told = match response.status() {
        StatusCode::METHOD_NOT_ALLOWED => {
            "This cannot be done at this address. Go on from your list of jobs."
        }
        StatusCode::REQUEST_TIMEOUT => {
            "This took too long to arrive. Look at the page again before you repeat it."
        }
        StatusCode::PAYLOAD_TOO_LARGE => {
            "That is more than this form takes, so nothing was done. Send less."
        }
        StatusCode::BAD_REQUEST
        | StatusCode::UNSUPPORTED_MEDIA_TYPE
        | StatusCode::UNPROCESSABLE_ENTITY => {
            "This did not arrive as the page sends it, so nothing was done. Open the page again \
             and repeat it."
        }
        _ => return response,
    };
    if is_page {
        return response;
    }
    let mut page = Trouble::told(response.status(), told).into_response();
    let allowed = response.headers().get(ALLOW).cloned();
    page.headers_mut()
        .extend(allowed.map(|allowed| (ALLOW, allowed)));
    page
}

/// Gives every request its clocks, and sets the headers that every answer carries, unless it
/// brings its own.
pub(super) fn headers(router: Router<Browser>) -> Router<Browser> {
    router
        .layer(from_fn(clocks::around))
        .layer(from_fn(with_headers))
}

async fn with_headers(request: Request, next: Next) -> Response {
    let encrypted = is_encrypted(request.headers());
    let from = place(request.headers(), request.extensions());
    let path = request.uri().path().to_owned();
    let mut response = next.run(request).await;
    if response.status() == StatusCode::FORBIDDEN {
        noted(Event::PageRefused, from, &path);
    }
    let headers = response.headers_mut();
    let mut unless_there = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    unless_there(CONTENT_SECURITY_POLICY, CONTENT_POLICY);
    unless_there(CACHE_CONTROL, "no-store");
    if encrypted {
        unless_there(STRICT_TRANSPORT_SECURITY, A_YEAR);
    }
    unless_there(X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_there(X_FRAME_OPTIONS, "DENY");
    // The address of a page to join holds a secret.
    unless_there(REFERRER_POLICY, "no-referrer");
    for name in ["cross-origin-opener-policy", "cross-origin-resource-policy"] {
        unless_there(HeaderName::from_static(name), "same-origin");
    }
    unless_there(
        HeaderName::from_static("permissions-policy"),
        "camera=(self), microphone=(), geolocation=()",
    );
    response
}

fn from_elsewhere(_: ProtectionError) -> Response {
    Trouble::from_elsewhere().into_response()
}

/// What a panic says may quote what somebody typed, so it does not go into the log.
fn panicked(_: Box<dyn std::any::Any + Send>) -> Response {
    tracing::error!("a request panicked");
    Trouble::fault().into_response()
}
