//! The browser page: plain forms over the desk, made for a phone, whole without scripts.
//!
//! Every page that changes something is a form with a one-time token: a form that is sent twice
//! has one effect. A job's page has one form token for all its buttons, so that of two buttons of
//! one page only one counts.

mod address;
mod assets;
mod attempts;
mod checklist;
mod clocks;
mod door;
mod evaporator;
mod find;
mod flows;
mod form;
mod goods;
mod guard;
mod home;
mod hurt;
mod job;
mod job_form;
mod job_view;
mod labels;
mod limits;
mod lock_off;
mod looks;
mod new_job;
mod news;
mod numbers;
mod page;
mod people;
mod photo;
mod programs;
mod quiet;
mod review;
mod routes;
mod session;
mod sign_offs;
mod trouble;
mod verify;
mod ways_in;

use std::sync::{Arc, OnceLock};

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::middleware::from_fn_with_state;
use jiff::Timestamp;
use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;

use crate::desk::{Desk, DeskError};
use attempts::Attempts;
use limits::Limits;
use routes::Routes;

pub use routes::Address;

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
    limits: Limits,
    /// What tells this server's renewed sessions from anybody's guess; drawn when it is needed.
    secret: OnceLock<[u8; 32]>,
    waiting: Arc<Semaphore>,
}

impl Browser {
    /// Pages over these parts.
    pub fn new(parts: BrowserParts) -> Browser {
        Browser {
            inner: Arc::new(Inner {
                parts,
                attempts: Attempts::default(),
                limits: Limits::default(),
                secret: OnceLock::new(),
                waiting: Arc::new(Semaphore::new(WAITING_PAGES_MAX)),
            }),
        }
    }

    /// Every address that [`Browser::router`] answers.
    pub fn addresses() -> Vec<Address> {
        pages().and(others()).addresses()
    }

    /// All addresses. Serve it with the connection's address as connect info, by which attempts
    /// to join are counted.
    pub fn router(self) -> Router {
        let pages = pages().router().fallback(trouble::no_such_page);
        let within = from_fn_with_state(self.clone(), limits::within);
        let pages = guard::around(pages.layer(within));
        guard::headers(pages.merge(others().router())).with_state(self)
    }

    fn secret(&self) -> Result<[u8; 32], DeskError> {
        if let Some(secret) = self.inner.secret.get() {
            return Ok(*secret);
        }
        let drawn = self.desk().new_session()?.hash().0;
        Ok(*self.inner.secret.get_or_init(|| drawn))
    }

    fn desk(&self) -> &Desk {
        &self.inner.parts.desk
    }

    fn now(&self) -> Timestamp {
        (self.inner.parts.now)()
    }
}

/// The pages, each within the limits of size and time.
fn pages() -> Routes {
    Routes::default()
        .get("/", home::show)
        .post("/seen", home::seen)
        .get("/finished", home::finished)
        .get("/open", home::open)
        .get("/jobs", find::show)
        .get("/jobs/{kind}", home::of_kind)
        .get("/join", door::ask_code)
        .post("/join", door::take_code)
        .get("/join/{code}", door::ask_name)
        .post("/join/{code}", door::join)
        .post("/sign-out", door::sign_out)
        .get("/hurt", hurt::show)
        .get("/new-job", new_job::show)
        .post("/new-job", new_job::begin)
        .get("/evaporator/{id}", evaporator::show)
        .post("/new-evaporator", new_job::add_evaporator)
        .get("/people", people::show)
        .post("/people/invite", people::invite)
        .post("/people/withdraw", people::withdraw)
        .post("/people/roles", people::set_roles)
        .post("/people/erase-name", people::erase_name)
        .post("/people/sign-in", people::sign_in_code)
        .post("/people/way", people::set_way)
        .post("/people/sign-off", sign_offs::sign)
        .post("/people/withdraw-sign-off", sign_offs::withdraw)
        .and(of_programs())
        .get("/quiet-hours", quiet::show)
        .post("/quiet-hours", quiet::set)
        .post("/quiet-hours/crew", quiet::set_crew)
        .get("/looks", looks::show)
        .get("/labels", labels::show)
        .get("/labels.pdf", labels::pdf)
        .get("/sign-in", ways_in::ask)
        .post("/sign-in", ways_in::sign_in)
        .get("/ways-in", ways_in::show)
        .post("/ways-in/password", ways_in::set_password)
        .post("/ways-in/no-password", ways_in::remove_password)
        .post("/ways-in/end", ways_in::end)
        .get("/goods", goods::show)
        .get("/goods/file/{name}", goods::file)
        .post_up_to(goods::limit(), "/goods/{which}", goods::set)
        .get("/numbers", numbers::show)
        .get("/numbers.csv", numbers::file)
        .get("/verify", verify::ask)
        .post_up_to(verify::limit(), "/verify", verify::check)
        .and(of_a_job())
        .and(flows::routes())
}

/// The pages about other programs.
fn of_programs() -> Routes {
    Routes::default()
        .get("/programs", programs::show)
        .post("/programs/make-token", programs::make_token)
        .post("/programs/revoke-token", programs::revoke_token)
        .post("/programs/set-webhook", programs::set_webhook)
        .post("/programs/webhook", programs::change_webhook)
        .post("/programs/call-again", programs::call_again)
}

/// The pages of one job.
fn of_a_job() -> Routes {
    Routes::default()
        .get("/job/{job}", job::show)
        .post("/job/{job}", job::answer)
        .get("/job/{job}/review", review::show)
        .post("/job/{job}/review", review::decide)
        .get("/job/{job}/hand-over", job::choose_person)
        .get("/job/{job}/lock-off", lock_off::show)
        .post("/job/{job}/lock-off", lock_off::confirm)
        .get("/job/{job}/photo", job::back_to_it)
        .post_up_to(photo::limit(), "/job/{job}/photo", photo::upload)
        .get("/job/{job}/photo/{hash}", photo::photo)
        .get("/job/{job}/picture/{name}", photo::picture)
        .get("/job/{job}/checklist", checklist::show)
        .get("/job/{job}/checklist.json", checklist::json)
        .get("/job/{job}/report.pdf", checklist::pdf)
        .get("/schema/record.json", checklist::schema)
        .get("/job/{job}/record.json", checklist::record)
        .get("/job/{job}/readings.csv", checklist::readings)
}

/// News go on for as long as the page is open, so they stand outside the time limit.
fn others() -> Routes {
    Routes::default()
        .get("/news", news::of_crew)
        .get("/job/{job}/news", news::of_job)
        .get("/job/{job}/review/news", news::of_job)
        .get("/assets/{name}", assets::show)
        .get("/healthz", lives)
        .get("/readyz", is_ready)
}

/// Whether the process lives.
async fn lives() -> &'static str {
    "ok\n"
}

/// Whether this server can be used: its store can be read, keeps what it is given, and the server
/// was not told to stop.
async fn is_ready(State(browser): State<Browser>) -> (StatusCode, &'static str) {
    if browser.inner.parts.stop.is_cancelled() {
        return (StatusCode::SERVICE_UNAVAILABLE, "stopping\n");
    }
    let desk = browser.desk();
    let (error, told) = match (desk.crews().await, desk.keeps().await) {
        (Ok(_), Ok(())) if desk.looked_over().damage.is_some() => {
            let told = "ready, but a part of the stored journal is damaged: the log says which\n";
            return (StatusCode::OK, told);
        }
        (Ok(_), Ok(())) => return (StatusCode::OK, "ready\n"),
        (Err(error), _) => (error, "the store cannot be read\n"),
        (_, Err(error)) => (error, "nothing can be kept\n"),
    };
    tracing::error!(error = error.for_the_log(), "{}", told.trim_end());
    (StatusCode::SERVICE_UNAVAILABLE, told)
}
