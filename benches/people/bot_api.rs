//! A quick Bot API server on this machine, with people who press the first answer of each screen:
//! as soon as it arrives, or after they read it.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::body::{Body, Bytes, to_bytes};
use hyper::body::Incoming;
use hyper::service::service_fn;
use hyper::{Request, Response, StatusCode};
use hyper_util::rt::TokioIo;
use serde::Deserialize;
use serde_json::json;
use tokio::net::TcpListener;
use tokio::sync::Notify;

use crate::dice::Dice;
use crate::figures::Figures;
use crate::wrong::{Fault, Wrong};

/// The token that the server knows.
pub const TOKEN: &str = "77:bench-token";

/// The first person's number, and that of their chat.
pub const FIRST_CHAT: i64 = 100_000;

/// After so many steps somebody else goes on in place of a person: nobody presses so fast for
/// long, and a server may take it for a flood.
const STEPS_EACH: u32 = 200;

/// So many updates go into one answer.
const BATCH: usize = 100;

/// So long nobody answers a bot that has everything, if it asks for that.
const HELD: Duration = Duration::from_secs(25);

/// The server. Clones share everything.
#[derive(Clone)]
pub struct BotApi {
    inner: Arc<Inner>,
    pub url: String,
}

struct Inner {
    people: Vec<Mutex<Person>>,
    /// What everybody begins with.
    begin: &'static str,
    /// The next one who has done nothing yet.
    fresh: AtomicUsize,
    line: Mutex<Line>,
    arrived: Notify,
    figures: Mutex<Figures>,
    goes_on: AtomicBool,
    wrong: Wrong,
    /// So long people take on average before they do something.
    pace: Duration,
    dice: Dice,
}

/// Somebody with a phone.
struct Person {
    chat: i64,
    /// What they type to begin another job.
    again: String,
    /// When they did what is not answered yet.
    asked: Option<Instant>,
    /// The last time that something went wrong with the answer.
    failed: Option<Instant>,
    /// What the button that they pressed last carries.
    pressed: String,
    messages: i32,
    done: u32,
}

/// Updates that wait to be fetched.
#[derive(Default)]
struct Line {
    updates: VecDeque<(u32, Bytes)>,
    /// Those that come once more although they were confirmed.
    again: Vec<Bytes>,
    last: u32,
    given: u32,
    /// When the bot was last refused its updates.
    failed: Option<Instant>,
}

#[derive(Deserialize)]
struct Fetch {
    #[serde(default)]
    offset: i64,
    #[serde(default)]
    timeout: u64,
}

#[derive(Deserialize)]
struct Send {
    chat_id: i64,
    text: String,
    reply_markup: Option<Markup>,
}

#[derive(Default, Deserialize)]
struct Markup {
    #[serde(default)]
    inline_keyboard: Vec<Vec<Button>>,
}

#[derive(Deserialize)]
struct Button {
    text: String,
    #[serde(default)]
    callback_data: String,
}

impl BotApi {
    /// Listens on a free port; each person is known by what they type to begin another job, and
    /// everybody begins with the same words. Nobody waits before they press if the pace is none.
    pub async fn start(
        again: Vec<String>,
        begin: &'static str,
        (wrong, pace): (Wrong, Duration),
    ) -> BotApi {
        let people = (FIRST_CHAT..).zip(again).map(|(chat, again)| {
            Mutex::new(Person {
                chat,
                again,
                asked: None,
                failed: None,
                pressed: String::new(),
                messages: 0,
                done: 0,
            })
        });
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let api = BotApi {
            url: format!("http://{}", listener.local_addr().unwrap()),
            inner: Arc::new(Inner {
                people: people.collect(),
                begin,
                fresh: AtomicUsize::new(0),
                line: Mutex::default(),
                arrived: Notify::new(),
                figures: Mutex::default(),
                goes_on: AtomicBool::new(true),
                wrong,
                pace,
                dice: Dice::default(),
            }),
        };
        tokio::spawn(listen(api.clone(), listener));
        api
    }

    /// So many begin.
    pub fn begin(&self, count: usize) {
        for _ in 0..count {
            self.inner.later(|inner| inner.one_begins());
        }
    }

    /// What happened since the last look.
    pub fn take(&self) -> Figures {
        std::mem::take(&mut self.inner.figures.lock().unwrap())
    }

    /// How many were answered since the last look.
    pub fn begun(&self) -> usize {
        self.inner.figures.lock().unwrap().steps()
    }

    /// How many wait for an answer.
    pub fn waiting(&self) -> usize {
        let waits = |person: &&Mutex<Person>| person.lock().unwrap().asked.is_some();
        self.inner.people.iter().filter(waits).count()
    }

    /// Nobody does anything more; what they did is still answered.
    pub fn rest(&self) {
        self.inner.goes_on.store(false, Ordering::SeqCst);
        self.inner.wrong.stop();
    }
}

async fn listen(api: BotApi, listener: TcpListener) {
    loop {
        let (stream, _) = listener.accept().await.unwrap();
        stream.set_nodelay(true).unwrap();
        let api = api.clone();
        tokio::spawn(async move {
            let serve = service_fn(move |request| answer(api.clone(), request));
            let connection = hyper::server::conn::http1::Builder::new();
            // A bot that closes its line, or a fault that was drawn, ends it.
            let _ = connection
                .serve_connection(TokioIo::new(stream), serve)
                .await;
        });
    }
}

/// A line that breaks.
#[derive(Debug)]
struct Broken;

impl std::fmt::Display for Broken {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("the line broke")
    }
}

impl std::error::Error for Broken {}

async fn answer(api: BotApi, request: Request<Incoming>) -> Result<Response<Body>, Broken> {
    let path = request.uri().path().to_owned();
    let method = path.rsplit('/').next().unwrap().to_ascii_lowercase();
    let body = to_bytes(Body::new(request.into_body()), 1 << 20).await;
    let body = body.map_err(|_| Broken)?;
    let inner = &api.inner;
    let fault = inner.wrong.draws();
    if fault.is_some() {
        inner.fails(&method, &body);
    }
    match fault {
        Some(Fault::Refused) => return Ok(refused(500, "Internal Server Error", None)),
        Some(Fault::Wait) => return Ok(refused(429, "Too Many Requests: retry after 1", Some(1))),
        Some(Fault::LostBefore) => return Err(Broken),
        Some(Fault::LostAfter) | None => {}
    }
    let result = match method.as_str() {
        "getupdates" => inner.updates(&serde_json::from_slice(&body).unwrap()).await,
        "sendmessage" => inner.message(&body),
        "getme" => json!({ "id": 77, "is_bot": true, "first_name": "Bench",
            "username": "bench_bot", "can_join_groups": true,
            "can_read_all_group_messages": false, "supports_inline_queries": false,
            "has_main_web_app": false, "can_connect_to_business": false })
        .to_string(),
        _ => "true".to_owned(),
    };
    if fault.is_some() {
        return Err(Broken);
    }
    Ok(Response::new(Body::from(format!(
        r#"{{"ok":true,"result":{result}}}"#
    ))))
}

fn refused(code: u16, why: &str, wait: Option<u32>) -> Response<Body> {
    let mut body = json!({ "ok": false, "error_code": code, "description": why });
    if let Some(wait) = wait {
        body["parameters"] = json!({ "retry_after": wait });
    }
    let mut response = Response::new(Body::from(body.to_string()));
    *response.status_mut() = StatusCode::from_u16(code).unwrap();
    response
}

impl Inner {
    /// Does something when a person has taken their time.
    fn later(self: &Arc<Self>, what: impl FnOnce(&Arc<Inner>) + std::marker::Send + 'static) {
        if self.pace.is_zero() {
            return what(self);
        }
        let wait = self.dice.around(self.pace);
        let inner = Arc::clone(self);
        tokio::spawn(async move {
            tokio::time::sleep(wait).await;
            if inner.goes_on.load(Ordering::SeqCst) {
                what(&inner);
            }
        });
    }

    fn person(&self, chat: i64) -> Option<&Mutex<Person>> {
        self.people.get(usize::try_from(chat - FIRST_CHAT).ok()?)
    }

    /// Somebody begins who has done nothing yet.
    fn one_begins(self: &Arc<Self>) {
        let next = self.fresh.fetch_add(1, Ordering::SeqCst);
        let person = self
            .people
            .get(next)
            .expect("nobody is left who could begin");
        self.types(&mut person.lock().unwrap(), self.begin);
    }

    /// A call is about to go wrong: whose answer comes later for it?
    fn fails(&self, method: &str, body: &[u8]) {
        let now = Some(Instant::now());
        if method == "getupdates" {
            self.line.lock().unwrap().failed = now;
        }
        if method == "sendmessage" {
            let send: Send = serde_json::from_slice(body).unwrap();
            if let Some(person) = self.person(send.chat_id) {
                person.lock().unwrap().failed = now;
            }
        }
    }

    async fn updates(&self, fetch: &Fetch) -> String {
        let held = HELD.min(Duration::from_secs(fetch.timeout));
        let until = tokio::time::Instant::now() + held;
        loop {
            let arrived = self.arrived.notified();
            let found = self.fetched(u32::try_from(fetch.offset).unwrap_or(0));
            if found != "[]" || tokio::time::timeout_at(until, arrived).await.is_err() {
                return found;
            }
        }
    }

    fn fetched(&self, offset: u32) -> String {
        let mut line = self.line.lock().unwrap();
        while line.updates.front().is_some_and(|(id, _)| *id < offset) {
            line.updates.pop_front();
        }
        let mut found = "[".to_owned();
        let mut add = |update: &Bytes| {
            if found.len() > 1 {
                found.push(',');
            }
            found.push_str(std::str::from_utf8(update).unwrap());
        };
        let again = std::mem::take(&mut line.again);
        again.iter().for_each(&mut add);
        let mut twice = Vec::new();
        let mut given = line.given;
        for (id, update) in line.updates.iter().take(BATCH) {
            add(update);
            if *id > given && self.wrong.comes_again() {
                twice.push(update.clone());
            }
            given = given.max(*id);
        }
        line.given = given;
        line.again = twice;
        found.push(']');
        found
    }

    /// A message of the bot arrives, and its person goes on.
    fn message(self: &Arc<Self>, body: &Bytes) -> String {
        let send: Send = serde_json::from_slice(body).unwrap();
        let text = String::from_utf8_lossy(body);
        let markup = markup_of(&text);
        let chat = send.chat_id;
        let Some(person) = self.person(chat) else {
            return shown(chat, 1, &send.text, markup);
        };
        let mut person = person.lock().unwrap();
        person.messages += 1;
        let message = shown(chat, person.messages, &send.text, markup);
        let rows = send.reply_markup.unwrap_or_default().inline_keyboard;
        let first = rows.first().and_then(|row| row.first());
        let first = first.filter(|button| answers(&button.text));
        // Whoever sees the same screen once more does not press the same button again.
        let is_copy = first.is_some_and(|button| button.callback_data == person.pressed);
        if is_copy || person.asked.is_none() {
            self.figures.lock().unwrap().extra += 1;
            return message;
        }
        self.was_answered(&mut person);
        if self.goes_on.load(Ordering::SeqCst) {
            let data = first.map(|button| button.callback_data.clone());
            let is_done = person.done >= STEPS_EACH;
            drop(person);
            let shown = message.clone();
            self.later(move |inner| match data {
                _ if is_done => inner.one_begins(),
                Some(data) => inner.of(chat, |person| inner.presses(person, &data, &shown)),
                None => inner.of(chat, |person| {
                    let again = person.again.clone();
                    inner.types(person, &again);
                }),
            });
        }
        message
    }

    fn of(&self, chat: i64, does: impl FnOnce(&mut Person)) {
        if let Some(person) = self.person(chat) {
            does(&mut person.lock().unwrap());
        }
    }

    fn was_answered(&self, person: &mut Person) {
        let Some(asked) = person.asked.take() else {
            return;
        };
        let now = Instant::now();
        let fetching = self.line.lock().unwrap().failed;
        let fetching = fetching.filter(|failed| *failed > asked);
        let failed = fetching.max(person.failed.take());
        let mut figures = self.figures.lock().unwrap();
        figures.answered(now - asked);
        if let Some(failed) = failed {
            figures.late(now - failed);
        }
    }

    fn presses(&self, person: &mut Person, data: &str, message: &str) {
        let (chat, done) = (person.chat, person.done);
        data.clone_into(&mut person.pressed);
        let data = serde_json::to_string(data).unwrap();
        let from = from(chat);
        self.does(person, |id| {
            let query = format!(r#""id":"{chat}-{done}","from":{from},"chat_instance":"c""#);
            let query = format!(r#"{{{query},"data":{data},"message":{message}}}"#);
            format!(r#"{{"update_id":{id},"callback_query":{query}}}"#)
        });
    }

    fn types(&self, person: &mut Person, text: &str) {
        person.messages += 1;
        let (chat, number) = (person.chat, person.messages);
        let text = serde_json::to_string(text).unwrap();
        let from = from(chat);
        self.does(person, |id| {
            let chat = format!(r#"{{"id":{chat},"type":"private","first_name":"P"}}"#);
            let sent = format!(r#""message_id":{number},"date":1900000000,"from":{from}"#);
            let message = format!(r#"{{{sent},"chat":{chat},"text":{text}}}"#);
            format!(r#"{{"update_id":{id},"message":{message}}}"#)
        });
    }

    fn does(&self, person: &mut Person, update: impl FnOnce(u32) -> String) {
        person.done += 1;
        person.asked = Some(Instant::now());
        let mut line = self.line.lock().unwrap();
        line.last += 1;
        let id = line.last;
        line.updates.push_back((id, Bytes::from(update(id))));
        drop(line);
        self.arrived.notify_one();
    }
}

/// Whether a button answers the question and does not only stand beside it.
fn answers(label: &str) -> bool {
    let beside = [
        "Back one step",
        "More",
        "Stop work",
        "Why?",
        "Check on me",
        "Look at the job",
    ];
    !beside.contains(&label)
}

fn from(chat: i64) -> String {
    format!(r#"{{"id":{chat},"is_bot":false,"first_name":"P"}}"#)
}

/// A message of the bot as the platform shows it.
fn shown(chat: i64, number: i32, text: &str, markup: &str) -> String {
    let text = serde_json::to_string(text).unwrap();
    let chat = format!(r#"{{"id":{chat},"type":"private","first_name":"P"}}"#);
    let bot = r#"{"id":77,"is_bot":true,"first_name":"Bench","username":"bench_bot"}"#;
    let sent = format!(r#""message_id":{number},"date":1900000000,"chat":{chat},"from":{bot}"#);
    format!(r#"{{{sent},"text":{text},"reply_markup":{markup}}}"#)
}

/// The buttons as they were sent.
fn markup_of(body: &str) -> &str {
    const NONE: &str = r#"{"inline_keyboard":[]}"#;
    let name = r#""reply_markup":"#;
    let Some(at) = body.find(name) else {
        return NONE;
    };
    let rest = &body[at + name.len()..];
    let (mut depth, mut quoted, mut escaped) = (0, false, false);
    for (end, letter) in rest.bytes().enumerate() {
        match letter {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => quoted = !quoted,
            b'{' if !quoted => depth += 1,
            b'}' if !quoted => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return &rest[..=end];
        }
    }
    NONE
}
