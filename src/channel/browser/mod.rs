//! The browser page: plain forms over the desk, made for a phone, whole without scripts.
//!
//! Every page that changes something is a form with a one-time token: a form that is sent twice
//! has one effect. A job's page has one form token for all its buttons, so that of two buttons of
//! one page only one counts.

mod assets;
mod attempts;
mod checklist;
mod door;
mod flows;
mod form;
mod goods;
mod guard;
mod home;
mod hurt;
mod job;
mod job_form;
mod job_view;
mod lock_off;
mod new_job;
mod news;
mod page;
mod people;
mod photo;
mod session;
mod trouble;
mod verify;

use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::routing::{get, post};
use jiff::Timestamp;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;

use crate::desk::Desk;
use attempts::Attempts;

/// So many pages may wait for news at once; the others are refreshed by hand.
const WAITING_PAGES_MAX: usize = 2_048;

/// Tells the time of day.
pub type Now = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// What the pages are made over.
pub struct BrowserParts {
    /// The desk.
    pub desk: Desk,
    /// Tells the time, for countdowns and the count of attempts.
    pub now: Now,
    /// Cancelled when the server is told to stop: pages that wait for news are let go.
    pub stop: CancellationToken,
}

/// The pages. Clones are cheap and share everything.
#[derive(Clone)]
pub struct Browser {
    inner: Arc<Inner>,
}

struct Inner {
    parts: BrowserParts,
    attempts: Attempts,
    waiting: Arc<Semaphore>,
}

impl Browser {
    /// Pages over these parts.
    pub fn new(parts: BrowserParts) -> Browser {
        Browser {
            inner: Arc::new(Inner {
                parts,
                attempts: Attempts::default(),
                waiting: Arc::new(Semaphore::new(WAITING_PAGES_MAX)),
            }),
        }
    }

    /// All addresses. Serve it with the connection's address as connect info, by which attempts
    /// to join are counted.
    pub fn router(self) -> Router {
        let pages = Router::new()
            .route("/", get(home::show))
            .route("/seen", post(home::seen))
            .route("/finished", get(home::finished))
            .route("/open", get(home::open))
            .route("/jobs/{kind}", get(home::of_kind))
            .route("/join", get(door::ask_code).post(door::take_code))
            .route("/join/{code}", get(door::ask_name).post(door::join))
            .route("/sign-out", post(door::sign_out))
            .route("/hurt", get(hurt::show))
            .route("/new-job", get(new_job::show).post(new_job::begin))
            .route("/new-evaporator", post(new_job::add_evaporator))
            .route("/people", get(people::show))
            .route("/people/invite", post(people::invite))
            .route("/people/roles", post(people::set_roles))
            .route("/people/sign-in", post(people::sign_in_code))
            .route("/goods", get(goods::show))
            .route("/goods/file/{name}", get(goods::file))
            .route("/goods/{which}", post(goods::set).layer(goods::limit()))
            .route("/job/{job}", get(job::show).post(job::answer))
            .route("/job/{job}/hand-over", get(job::choose_person))
            .route(
                "/job/{job}/lock-off",
                get(lock_off::show).post(lock_off::confirm),
            )
            .route(
                "/job/{job}/photo",
                get(job::back_to_it).merge(post(photo::upload).layer(photo::limit())),
            )
            .route("/job/{job}/photo/{hash}", get(photo::photo))
            .route("/job/{job}/picture/{name}", get(photo::picture))
            .route("/job/{job}/checklist", get(checklist::show))
            .route("/job/{job}/checklist.json", get(checklist::json))
            .route("/job/{job}/record.json", get(checklist::record))
            .route("/job/{job}/readings.csv", get(checklist::readings))
            .route(
                "/verify",
                get(verify::ask).merge(post(verify::check).layer(verify::limit())),
            )
            .merge(flows::routes())
            .fallback(trouble::no_such_page);
        let pages = guard::around(pages);
        // News go on for as long as the page is open, so they stand outside the time limit.
        let others = Router::new()
            .route("/news", get(news::of_crew))
            .route("/job/{job}/news", get(news::of_job))
            .route("/assets/{name}", get(assets::show))
            .route("/healthz", get(|| async { "ok\n" }))
            .route("/readyz", get(is_ready));
        guard::headers(pages.merge(others)).with_state(self)
    }

    fn desk(&self) -> &Desk {
        &self.inner.parts.desk
    }

    fn now(&self) -> Timestamp {
        (self.inner.parts.now)()
    }
}

/// Whether this server can be used: its store can be read and it was not told to stop.
async fn is_ready(State(browser): State<Browser>) -> (StatusCode, &'static str) {
    if browser.inner.parts.stop.is_cancelled() {
        return (StatusCode::SERVICE_UNAVAILABLE, "stopping\n");
    }
    match browser.desk().crews().await {
        Ok(_) => (StatusCode::OK, "ready\n"),
        Err(error) => {
            tracing::error!(error = error.for_the_log(), "the store cannot be read");
            (
                StatusCode::SERVICE_UNAVAILABLE,
                "the store cannot be read\n",
            )
        }
    }
}
