//! What stands around every page: limits, headers, and the refusal of forms from elsewhere.

use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::StatusCode;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, HeaderValue, REFERRER_POLICY,
    STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::middleware::{Next, from_fn};
use axum::response::{IntoResponse, Response};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::csrf::{CsrfLayer, ProtectionError};
use tower_http::timeout::TimeoutLayer;

use super::Browser;
use super::clocks;
use super::session::is_encrypted;
use super::trouble::Trouble;

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
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut unless_there = |name: HeaderName, value: &'static str| {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    };
    unless_there(CONTENT_SECURITY_POLICY, CONTENT_POLICY);
    unless_there(CACHE_CONTROL, "no-store");
    if encrypted {
        // For a year no browser that was here speaks to this server without encryption.
        unless_there(STRICT_TRANSPORT_SECURITY, "max-age=31536000");
    }
    unless_there(X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_there(X_FRAME_OPTIONS, "DENY");
    // The address of a page to join holds a secret.
    unless_there(REFERRER_POLICY, "no-referrer");
    unless_there(
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    );
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
