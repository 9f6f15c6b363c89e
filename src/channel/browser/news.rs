//! News for open pages, as server-sent events: a page that hears of a change shows itself anew.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use futures_util::stream;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use tokio_util::sync::CancellationToken;

use super::Browser;
use super::job::job_of;
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::Change;
use crate::desk::id::{CrewId, JobId};

/// How often a silent line shows that it is still there.
const SIGN_OF_LIFE: Duration = Duration::from_secs(20);

/// What a page waits for.
struct Waiting {
    /// The revision when the page began to wait: it may be older.
    first: Option<u64>,
    changes: Receiver<Change>,
    crew: CrewId,
    job: Option<JobId>,
    stop: CancellationToken,
    /// Held for as long as the page waits.
    _place: tokio::sync::OwnedSemaphorePermit,
}

impl Waiting {
    /// The next change that matters to the page; none when the server stops.
    async fn next(&mut self) -> Option<Event> {
        if let Some(revision) = self.first.take() {
            return Some(changed(&revision.to_string()));
        }
        loop {
            let received = tokio::select! {
                () = self.stop.cancelled() => return None,
                received = self.changes.recv() => received,
            };
            let revision = match received {
                Ok(change) if change.crew != self.crew => continue,
                Ok(change) if self.job.is_some_and(|job| job != change.job) => continue,
                Ok(change) => change.revision.to_string(),
                // Too much happened at once: the page looks at everything.
                Err(RecvError::Lagged(_)) => String::new(),
                Err(RecvError::Closed) => return None,
            };
            return Some(changed(&revision));
        }
    }
}

fn changed(revision: &str) -> Event {
    Event::default().event("changed").data(revision)
}

/// News of every job of the crew.
pub(super) async fn of_crew(
    State(browser): State<Browser>,
    signed_in: SignedIn,
) -> Result<Response, Trouble> {
    let changes = browser.desk().changes();
    Ok(news(&browser, &signed_in, None, (None, changes)))
}

/// News of one job.
pub(super) async fn of_job(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let job = job_of(&job)?;
    // Listening comes before looking, so that nothing falls between.
    let changes = browser.desk().changes();
    let screen = browser.desk().screen(&signed_in.actor, job).await?;
    let first = Some(screen.prompt.revision);
    Ok(news(&browser, &signed_in, Some(job), (first, changes)))
}

fn news(
    browser: &Browser,
    signed_in: &SignedIn,
    job: Option<JobId>,
    (first, changes): (Option<u64>, Receiver<Change>),
) -> Response {
    let Ok(place) = browser.inner.waiting.clone().try_acquire_owned() else {
        return StatusCode::SERVICE_UNAVAILABLE.into_response();
    };
    let waiting = Waiting {
        first,
        changes,
        crew: signed_in.actor.crew,
        job,
        stop: browser.inner.parts.stop.clone(),
        _place: place,
    };
    let events = stream::unfold(waiting, |mut waiting| async {
        let event = waiting.next().await?;
        Some((Ok::<_, Infallible>(event), waiting))
    });
    Sse::new(events)
        .keep_alive(KeepAlive::new().interval(SIGN_OF_LIFE))
        .into_response()
}
