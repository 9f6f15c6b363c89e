//! Updates that the platform pushes: 200 only after everything that one does is durable.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, FromRequest, Request, State};
use axum::http::StatusCode;
use axum::routing::post;
use subtle::ConstantTimeEq;
use teloxide::types::Update;
use tokio::sync::Semaphore;

use super::intake::Intake;
use crate::channel::caller::place;
use crate::channel::noted::{Event, noted};

/// The most bytes of one update.
const UPDATE_BYTES_MAX: usize = 1024 * 1024;

/// So many pushes may wait for their update at the same time; the platform brings others later.
const PUSHES_MAX: usize = 256;

/// How long the body of a push may take.
const BODY_TIME_MAX: Duration = Duration::from_secs(30);

/// How long a push may wait for its update; the platform brings it again after that.
const PUSH_WAITS_MAX: Duration = Duration::from_secs(50);

/// The header that shows that the platform is who it says.
const SECRET_HEADER: &str = "x-telegram-bot-api-secret-token";

struct Door {
    intake: Intake,
    secret: String,
    pushes: Semaphore,
}

/// The route that takes pushed updates at this path.
pub(super) fn router(path: &str, intake: Intake, secret: String) -> Router {
    let door = Arc::new(Door {
        intake,
        secret,
        pushes: Semaphore::new(PUSHES_MAX),
    });
    Router::new()
        .route(path, post(pushed))
        .layer(DefaultBodyLimit::max(UPDATE_BYTES_MAX))
        .with_state(door)
}

async fn pushed(State(door): State<Arc<Door>>, request: Request) -> StatusCode {
    let shown = request.headers().get(SECRET_HEADER);
    let shown = shown.map(|value| value.as_bytes());
    let is_known = shown.is_some_and(|shown| shown.ct_eq(door.secret.as_bytes()).into());
    if !is_known {
        // Nothing of the body is read for whoever cannot show it.
        let from = place(request.headers(), request.extensions());
        noted(Event::WrongSecret, from, "");
        return StatusCode::UNAUTHORIZED;
    }
    let permit = door.pushes.try_acquire();
    if permit.is_err() || !door.intake.has_room() {
        return StatusCode::SERVICE_UNAVAILABLE;
    }
    let body = match read(request).await {
        Ok(body) => body,
        Err(status) => return status,
    };
    let Ok(update) = serde_json::from_slice::<Update>(&body) else {
        tracing::warn!(bytes = body.len(), "a pushed update cannot be read");
        return StatusCode::BAD_REQUEST;
    };
    let mut finished = door.intake.take(&update);
    let waited = tokio::time::timeout(PUSH_WAITS_MAX, finished.wait_for(|is| *is)).await;
    match waited {
        Ok(Ok(_)) => StatusCode::OK,
        _ => StatusCode::SERVICE_UNAVAILABLE,
    }
}

/// The body of a push, within the limits of size and time.
async fn read(request: Request) -> Result<Bytes, StatusCode> {
    let read = tokio::time::timeout(BODY_TIME_MAX, Bytes::from_request(request, &()));
    let read = read.await.map_err(|_| StatusCode::REQUEST_TIMEOUT)?;
    read.map_err(|rejection| rejection.status())
}
