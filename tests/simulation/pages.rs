//! People at pages: they open a job, fill in a form of it and send it, and send it again when no
//! answer comes. The pages are the real ones, asked in this process without a socket.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::header::{CONTENT_TYPE, COOKIE, LOCATION};
use axum::http::{Request, StatusCode};
use fanwright::channel::browser::{Browser, BrowserParts};
use fanwright::desk::clock::Clock;
use fanwright::desk::id::JobId;
use fanwright::store::InputKey;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use super::form::{Filled, begun, filled};
use super::life::Life;
use super::machine::SimClock;
use super::people::{People, arrivals};
use super::server::Server;
use super::world::World;
use crate::support::html::Html;
use crate::walk::Dice;

/// No page is longer.
const PAGE_BYTES_MAX: usize = 4 << 20;

/// A form that was sent.
#[derive(Clone, Debug)]
struct Post {
    person: usize,
    filled: Filled,
    is_answered: bool,
    /// The process that it was sent to first.
    life: u32,
}

/// A page that somebody has open.
#[derive(Clone)]
struct Open {
    person: usize,
    job: JobId,
    page: Html,
}

#[derive(Default)]
struct State {
    lives: u32,
    posts: Vec<Post>,
    open: Vec<Open>,
    seen: BTreeMap<JobId, u64>,
    acknowledged: Vec<InputKey>,
}

/// The browsers of the crew, whichever process they speak to.
pub(super) struct Browsers {
    cookies: Vec<String>,
    state: Mutex<State>,
}

impl Browsers {
    pub(super) fn new(cookies: &[String]) -> Browsers {
        Browsers {
            cookies: cookies.to_vec(),
            state: Mutex::default(),
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap()
    }

    /// The newest screens that anybody saw, and the inputs that somebody was told count.
    pub(super) fn promised(&self) -> (BTreeMap<JobId, u64>, Vec<InputKey>) {
        let state = self.state();
        (state.seen.clone(), state.acknowledged.clone())
    }
}

/// An answer of the server.
struct Answer {
    status: StatusCode,
    to: String,
    page: Html,
}

/// The browsers in front of one process of the server.
#[derive(Clone)]
pub(super) struct Pages {
    browsers: Arc<Browsers>,
    router: Router,
    people: Arc<People>,
    world: Arc<World>,
    life: Arc<Life>,
}

impl Pages {
    pub(super) fn begin(
        browsers: &Arc<Browsers>,
        people: &Arc<People>,
        (world, life, clock): (&Arc<World>, &Arc<Life>, &Arc<SimClock>),
    ) -> Pages {
        browsers.state().lives += 1;
        let clock = Arc::clone(clock);
        let browser = Browser::new(BrowserParts {
            desk: people.desk.clone(),
            now: Arc::new(move || clock.now()),
            stop: CancellationToken::new(),
        });
        Pages {
            browsers: Arc::clone(browsers),
            router: browser.router(),
            people: Arc::clone(people),
            world: Arc::clone(world),
            life: Arc::clone(life),
        }
    }

    /// Asks for an address, or sends a form to it.
    async fn asks(&self, person: usize, path: &str, form: Option<String>) -> Answer {
        let request = Request::builder()
            .uri(path)
            .header(COOKIE, &self.browsers.cookies[person]);
        let request = match form {
            None => request.body(Body::empty()),
            Some(form) => request
                .method("POST")
                .header(CONTENT_TYPE, "application/x-www-form-urlencoded")
                .body(Body::from(form)),
        };
        let mut request = request.unwrap();
        let from = SocketAddr::from(([192, 0, 2, u8::try_from(person).unwrap()], 9));
        request.extensions_mut().insert(ConnectInfo(from));
        let answered: Result<_, Infallible> = self.router.clone().oneshot(request).await;
        let Ok(answer) = answered;
        let status = answer.status();
        let to = answer.headers().get(LOCATION);
        let to = to.map_or_else(String::new, |to| to.to_str().unwrap().to_owned());
        let bytes = to_bytes(answer.into_body(), PAGE_BYTES_MAX).await.unwrap();
        self.life.unless_over().await;
        if status == StatusCode::INTERNAL_SERVER_ERROR {
            self.world.wrong(format!("{path} met a fault"));
        }
        // Nobody here asks for more than a person does.
        if status == StatusCode::TOO_MANY_REQUESTS {
            self.world.wrong(format!("{path} was not let through"));
        }
        let page = Html::read(std::str::from_utf8(&bytes).unwrap());
        Answer { status, to, page }
    }

    /// Opens a page of a job and keeps it open.
    async fn opens(&self, person: usize, (job, path): (JobId, &str)) -> Option<Html> {
        let answer = self.asks(person, path, None).await;
        if answer.status != StatusCode::OK {
            self.world
                .note(&format!("{path} for {person}: {}", answer.status));
            return None;
        }
        let mut state = self.browsers.state();
        if let Some(revision) = revision_of(&answer.page) {
            let seen = state.seen.entry(job).or_default();
            *seen = revision.max(*seen);
        }
        let page = answer.page.clone();
        state.open.push(Open { person, job, page });
        Some(answer.page)
    }

    /// Begins a job.
    pub(super) async fn begins(&self, person: usize, dice: &mut Dice) {
        let answer = self.asks(person, "/new-job", None).await;
        if let Some(filled) = begun(&answer.page, dice) {
            self.sends(person, filled, dice);
        }
    }

    pub(super) async fn holder_acts(&self, dice: &mut Dice) {
        if let Some(job) = self.people.any_job(dice)
            && let Some(person) = self.people.whose_turn(job, dice).await
        {
            self.does(person, job, dice).await;
        }
    }

    pub(super) async fn acts(&self, person: usize, dice: &mut Dice) {
        if let Some(job) = self.people.any_job(dice) {
            self.does(person, job, dice).await;
        }
    }

    /// Somebody answers a page: one that they open, or one that they left open.
    async fn does(&self, person: usize, job: JobId, dice: &mut Dice) {
        let left_open: Vec<Open> = {
            let state = self.browsers.state();
            let theirs = state.open.iter().filter(|open| open.person == person);
            theirs.cloned().collect()
        };
        let path = match dice.roll(10) {
            0 => format!("/job/{job}/hand-over"),
            _ => format!("/job/{job}"),
        };
        let opened = match dice.roll(4) {
            0 if !left_open.is_empty() => {
                let open = left_open[dice.roll(left_open.len())].clone();
                Some((open.job, open.page))
            }
            _ => self
                .opens(person, (job, &path))
                .await
                .map(|page| (job, page)),
        };
        let Some((job, page)) = opened else { return };
        let seen = self.people.in_front_of(job, Some(person)).await;
        let Some((_, _, screen)) = seen else { return };
        let input = self.people.mostly_sensible(&screen, dice);
        let Some(filled) = filled(&page, &input, dice) else {
            return;
        };
        let revision = revision_of(&page).filter(|_| !filled.counts_on_any_screen());
        let on = revision.map(|revision| (job, revision));
        self.world.meant(filled.key(), on);
        self.sends(person, filled, dice);
    }

    fn sends(&self, person: usize, filled: Filled, dice: &mut Dice) {
        let number = {
            let mut state = self.browsers.state();
            let life = state.lives;
            state.posts.push(Post {
                person,
                filled,
                is_answered: false,
                life,
            });
            state.posts.len() - 1
        };
        self.world.known().tally.updates += 1;
        let arrivals = arrivals(dice);
        self.world.known().tally.again += arrivals.len() as u64 - 1;
        for millis in arrivals {
            self.comes(number, millis);
        }
    }

    /// A form that was sent before is sent again.
    pub(super) fn again(&self, dice: &mut Dice) {
        let count = self.browsers.state().posts.len();
        if count > 0 {
            self.world.known().tally.again += 1;
            self.comes(dice.roll(count), 0);
        }
    }

    pub(super) fn send_unanswered_again(&self) {
        let open: Vec<usize> = {
            let state = self.browsers.state();
            let all = state.posts.iter().enumerate();
            all.filter(|(_, post)| !post.is_answered)
                .map(|(number, _)| number)
                .collect()
        };
        for number in open {
            self.world.known().tally.again += 1;
            self.comes(number, self.life.roll(50) as u64);
        }
    }

    fn comes(&self, number: usize, millis: u64) {
        let pages = self.clone();
        self.people.on_the_way.fetch_add(1, Ordering::SeqCst);
        tokio::spawn(async move {
            tokio::time::sleep(Duration::from_millis(millis)).await;
            let post = pages.browsers.state().posts[number].clone();
            let (path, form) = (post.filled.action.clone(), post.filled.encoded());
            let answer = pages.asks(post.person, &path, Some(form)).await;
            pages.answered(number, &answer);
            pages.people.on_the_way.fetch_sub(1, Ordering::SeqCst);
        });
    }

    fn answered(&self, number: usize, answer: &Answer) {
        let post = {
            let mut state = self.browsers.state();
            state.posts[number].is_answered = true;
            state.posts[number].clone()
        };
        let key = post.filled.key();
        self.world.note(&format!(
            "{key} by {} to {}: {} {}",
            post.person, post.filled.action, answer.status, answer.to
        ));
        let job = answer.to.strip_prefix("/job/").map(str::parse);
        if let Some(Ok(job)) = job {
            self.counts(&post, job);
        }
        if answer
            .page
            .text
            .contains("A message to your crew is on its way")
        {
            self.browsers.state().acknowledged.push(key);
        }
    }

    /// A form was answered with the way on, so it must be there ever after.
    fn counts(&self, post: &Post, job: JobId) {
        let key = post.filled.key();
        let is_of_this_life = {
            // Whatever is sent from one page is one input.
            let state = self.browsers.state();
            let same = state.posts.iter().filter(|other| other.filled.key() == key);
            same.map(|other| other.life).min() == Some(state.lives)
        };
        let mut known = self.world.known();
        known.jobs.insert(job);
        if is_of_this_life && !known.keys.contains_key(&key) {
            let told = format!("{key} was answered before it was kept");
            known.wrong.push(told);
        }
        known.keys.entry(key.clone()).or_insert(1);
        drop(known);
        self.browsers.state().acknowledged.push(key);
    }

    /// Whoever holds a job sees it as it stands, and every form had its answer.
    pub(super) async fn at_the_end(&self, server: &Server) {
        let open: Vec<Post> = {
            let state = self.browsers.state();
            let open = state.posts.iter().filter(|post| !post.is_answered);
            open.cloned().collect()
        };
        for post in open {
            self.world.wrong(format!("{post:?} was never answered"));
        }
        let jobs = self.world.known().jobs.clone();
        for job in jobs {
            let Some((person, _, screen)) = server.people.in_front_of(job, None).await else {
                continue;
            };
            let path = format!("/job/{job}");
            let page = self.opens(person, (job, &path)).await;
            let sees = page.as_ref().and_then(revision_of);
            if sees != Some(screen.prompt.revision) {
                let is = screen.prompt.revision;
                self.world
                    .wrong(format!("{person} sees {sees:?} of {job}, which is at {is}"));
            }
        }
    }
}

/// The screen that a page shows.
fn revision_of(page: &Html) -> Option<u64> {
    let mut fields = page.forms.iter().flat_map(|form| &form.fields);
    let revision = fields.find(|field| field.name == "revision")?;
    revision.value.parse().ok()
}
