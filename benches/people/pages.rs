//! People who walk on the page over lines of their own that stay open: they send a form, follow
//! where it leads, and read the next one.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes, to_bytes};
use hyper::client::conn::http1::{SendRequest, handshake};
use hyper::header::{CONTENT_TYPE, COOKIE, HOST, LOCATION};
use hyper::{Method, Request, StatusCode};
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;
use tokio::sync::{Mutex, watch};
use tokio::task::JoinSet;

use crate::crowd::{By, Crowd, STEPS, Worker};
use crate::dice::Dice;
use crate::figures::Figures;
use crate::{WARM_UP, seconds};

/// One browser may ask for 900 pages a minute, and a step is two: nobody presses oftener than
/// this on average. People take now half as long and now half as long again, so that they do not
/// press in step.
const APART: Duration = Duration::from_millis(140);

/// As long as this a job takes; people begin as far apart as they can within it, so that they do
/// not all hand in at once.
const JOB: Duration = APART.saturating_mul(STEPS as u32);

/// What people do at the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    WarmUp,
    Counted,
    Over,
}

/// More lines than this a server need not hold open; more people take turns on them, as behind a
/// proxy.
const LINES_MAX: usize = 2_000;

/// A line that stays open.
type Line = Arc<Mutex<SendRequest<Body>>>;

/// One person's browser.
struct Browser {
    line: Line,
    host: String,
    worker: Worker,
    path: String,
}

/// What a person read and goes on with.
struct Form {
    action: String,
    body: String,
}

impl Browser {
    fn opens(base: String, line: Line, worker: Worker) -> Browser {
        Browser {
            line,
            host: base,
            path: format!("/job/{}", worker.job),
            worker,
        }
    }

    async fn asks(
        &mut self,
        method: Method,
        path: &str,
        body: String,
    ) -> (StatusCode, Option<String>, Bytes) {
        let request = Request::builder()
            .method(method)
            .uri(path)
            .header(HOST, &self.host)
            .header(COOKIE, &self.worker.cookie)
            .header(CONTENT_TYPE, "application/x-www-form-urlencoded")
            .body(Body::from(body));
        let mut line = self.line.lock().await;
        let sent = line.send_request(request.unwrap()).await;
        let answer = sent.unwrap();
        let status = answer.status();
        let to = answer.headers().get(LOCATION);
        let to = to.map(|to| to.to_str().unwrap().to_owned());
        let body = to_bytes(Body::new(answer.into_body()), 1 << 20).await;
        (status, to, body.unwrap())
    }

    /// Reads the page and finds the form that goes on.
    async fn reads(&mut self) -> Form {
        loop {
            let path = self.path.clone();
            let (status, _, page) = self.asks(Method::GET, &path, String::new()).await;
            assert_eq!(status, StatusCode::OK, "{path}");
            let page = std::str::from_utf8(&page).unwrap();
            if let Some(form) = form(page, &path) {
                return form;
            }
            self.path = format!("/new-job?find={}", self.worker.tag);
        }
    }

    /// Sends the form and reads the page that it leads to.
    async fn steps(&mut self, sent: Form) -> Form {
        let (status, to, page) = self.asks(Method::POST, &sent.action, sent.body).await;
        assert_eq!(status, StatusCode::SEE_OTHER, "{page:?}");
        self.path = to.unwrap();
        self.reads().await
    }

    async fn works(mut self, wait: Duration, phase: watch::Receiver<Phase>) -> Figures {
        tokio::time::sleep(wait).await;
        let mut figures = Figures::default();
        let dice = Dice::of(self.worker.number as u64);
        let mut form = self.reads().await;
        while *phase.borrow() != Phase::Over {
            let began = Instant::now();
            form = self.steps(form).await;
            if *phase.borrow() == Phase::Counted {
                figures.answered(began.elapsed());
            }
            tokio::time::sleep_until((began + dice.around(APART)).into()).await;
        }
        figures
    }
}

async fn line(base: &str) -> Line {
    let stream = TcpStream::connect(base).await.unwrap();
    stream.set_nodelay(true).unwrap();
    let (line, connection) = handshake(TokioIo::new(stream)).await.unwrap();
    tokio::spawn(connection);
    Arc::new(Mutex::new(line))
}

/// The form of a page that goes on: its first answer, handing in, or another job.
fn form(page: &str, path: &str) -> Option<Form> {
    let value = |name: &str| {
        let from = page.find(&format!("name=\"{name}\" value=\""))? + name.len() + 15;
        page[from..].split('"').next()
    };
    let token = value("token")?;
    if path.starts_with("/new-job") {
        let evaporator = value("evaporator")?;
        return Some(Form {
            action: "/new-job".to_owned(),
            body: format!("token={token}&evaporator={evaporator}&flow=visit&kind=real&do=begin"),
        });
    }
    let revision = value("revision")?;
    let what = match value("press") {
        Some(key) => format!("press={key}"),
        None if page.contains("value=\"hand-in\"") => "do=hand-in".to_owned(),
        None => return None,
    };
    Some(Form {
        action: path.to_owned(),
        body: format!("token={token}&revision={revision}&{what}"),
    })
}

/// So many people at once.
pub async fn pages(count: usize) -> Figures {
    let crowd = Crowd::of(count, By::Page).await;
    let (program, base) = crowd.serve(None);
    let phase = watch::Sender::new(Phase::WarmUp);
    let mut working = JoinSet::new();
    let mut lines = Vec::new();
    for worker in &crowd.workers {
        if lines.len() < LINES_MAX {
            lines.push(line(&base).await);
        }
        let line = Arc::clone(&lines[worker.number % lines.len()]);
        let browser = Browser::opens(base.clone(), line, worker.clone());
        let wait = JOB * worker.number as u32 / count as u32;
        working.spawn(browser.works(wait, phase.subscribe()));
    }
    tokio::time::sleep(JOB + WARM_UP).await;
    phase.send_replace(Phase::Counted);
    let began = Instant::now();
    tokio::time::sleep(seconds()).await;
    phase.send_replace(Phase::Over);
    let mut figures = Figures::default();
    figures.counted = began.elapsed();
    while let Some(done) = working.join_next().await {
        match done {
            Ok(done) => figures.add(done),
            Err(_) => figures.lost += 1,
        }
    }
    println!("    {}", program.used());
    figures
}
