//! The API for other programs, over a real socket and a store in memory.

mod begin;
mod calls;
mod document;
mod fuzz;
mod goods;
mod lists;
mod matrix;
mod once;
mod receiver;
mod schema;
mod tokens;

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::channel::api::{Api, ApiParts};
use fanwright::channel::webhooks::Webhooks;
use fanwright::desk::chance::Chance;
use fanwright::desk::clock::Clock;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::tokens::NewToken;
use fanwright::desk::{Actor, ChannelAddress, Desk, Parts, Rules};
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::flow::name::{ChoiceKey, FlowName};
use fanwright::record::scope::Scope;
use fanwright::server;
use fanwright::store::{InputKey, Memory, Store};
use fanwright::walk::input::Input;
use jiff::{SignedDuration, Timestamp};
use reqwest::{Client, Method, Response, StatusCode};
use serde_json::Value;
use tokio::net::TcpListener;

use crate::desk::{Counted, TestClock, keys};

/// A flow of one question, so that a job is done quickly.
const QUICK: &str = "\
flow: look-once
title: Look once
language: en
hands_off: true
outcomes: { seen: Seen }
start: look
steps:
  look: { tell: Go on, say: Look at the fan from the floor., then: over }
  over: { finish: seen, say: That is all. }
";

/// A server with two crews.
struct World {
    desk: Desk,
    clock: Arc<TestClock>,
    base: String,
    client: Client,
    /// The first supervisor of the crew that is looked at.
    sam: Actor,
    /// Of the other crew.
    olga: Actor,
    inputs: AtomicU64,
}

/// What came back.
struct Answer {
    status: StatusCode,
    headers: reqwest::header::HeaderMap,
    text: String,
}

impl Answer {
    async fn of(response: Response) -> Answer {
        Answer {
            status: response.status(),
            headers: response.headers().clone(),
            text: response.text().await.unwrap(),
        }
    }

    fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|error| panic!("{error}: {}", self.text))
    }

    fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().unwrap())
    }

    /// The kind of the problem that it is.
    fn problem(&self) -> String {
        assert_eq!(
            self.header("content-type"),
            "application/problem+json",
            "{}",
            self.text
        );
        let body = self.json();
        assert_eq!(body["status"], self.status.as_u16(), "{body}");
        let kind = body["type"].as_str().unwrap();
        kind.strip_prefix("/problems/").unwrap().to_owned()
    }
}

/// One request, to be filled in.
struct Ask<'a> {
    method: Method,
    path: &'a str,
    token: &'a str,
    headers: Vec<(&'a str, String)>,
    body: Option<Value>,
}

fn get<'a>(path: &'a str, token: &'a str) -> Ask<'a> {
    Ask {
        method: Method::GET,
        path,
        token,
        headers: Vec::new(),
        body: None,
    }
}

fn post<'a>(path: &'a str, token: &'a str, key: &str, body: Value) -> Ask<'a> {
    Ask {
        method: Method::POST,
        body: Some(body),
        ..get(path, token)
    }
    .with("idempotency-key", key)
}

impl<'a> Ask<'a> {
    fn with(mut self, name: &'a str, value: &str) -> Ask<'a> {
        self.headers.push((name, value.to_owned()));
        self
    }

    fn by(mut self, method: Method) -> Ask<'a> {
        self.method = method;
        self
    }
}

impl World {
    async fn new() -> World {
        World::with_store(Arc::new(Memory::new())).await
    }

    async fn with_store(store: Arc<dyn Store>) -> World {
        let now: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
        let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let mut sources = Sources::default();
        let files = [
            ("look-once.yaml", QUICK),
            ("look-at-the-fan.yaml", include_str!("../desk/small.yaml")),
        ];
        for (file, text) in files {
            sources.files.insert(file.to_owned(), text.to_owned());
        }
        let chance: Arc<dyn Chance> = Arc::new(Counted::default());
        let desk = Desk::new(Parts {
            store,
            clock: clock.clone(),
            chance,
            keys: keys(),
            library: Library::load(sources).unwrap(),
            goods: server::demo_goods(),
            rules: Rules {
                webhooks_to_private: true,
                ..Rules::default()
            },
        });
        desk.start().await.unwrap();
        let base = serve(&desk, &clock).await;
        let sam = founder(&desk, 1).await;
        let olga = founder(&desk, 2).await;
        World {
            desk,
            clock,
            base,
            client: Client::new(),
            sam,
            olga,
            inputs: AtomicU64::new(0),
        }
    }

    fn key(&self) -> InputKey {
        InputKey(format!(
            "test:{}",
            self.inputs.fetch_add(1, Ordering::SeqCst)
        ))
    }

    /// Lets time go by on both sides of the clock.
    fn after(&self, time: SignedDuration) {
        let mut clock = self.clock.0.lock().unwrap();
        clock.0 += time;
        clock.1 += Duration::try_from(time).unwrap();
    }

    async fn token_of(&self, actor: &Actor, scopes: &[Scope]) -> String {
        // What is made later stands later in lists.
        self.after(SignedDuration::from_secs(1));
        let new = NewToken {
            what_for: "a test".to_owned(),
            scopes: scopes.iter().copied().collect(),
            days: 30,
        };
        let (token, _) = self.desk.make_token(self.key(), actor, new).await.unwrap();
        token.reveal()
    }

    /// A token of the crew that is good for everything.
    async fn token(&self) -> String {
        self.token_of(&self.sam, &Scope::ALL).await
    }

    async fn ask(&self, ask: Ask<'_>) -> Answer {
        let mut request = self
            .client
            .request(ask.method, format!("{}{}", self.base, ask.path));
        if !ask.token.is_empty() {
            request = request.bearer_auth(ask.token);
        }
        for (name, value) in ask.headers {
            request = request.header(name, value);
        }
        if let Some(body) = ask.body {
            request = request.json(&body);
        }
        Answer::of(request.send().await.unwrap()).await
    }

    /// Somebody who joins the crew of this supervisor.
    async fn joins(&self, by: &Actor, user: i64, role: Role) -> Actor {
        let code = self.desk.invite(by, BTreeSet::from([role])).await.unwrap();
        let name = format!("Person {user}");
        let key = self.key();
        self.desk
            .join(key, &code.code, &name, &chat(user))
            .await
            .unwrap()
    }

    /// A job of this person, just begun.
    async fn begins(&self, actor: &Actor, flow: &str) -> JobId {
        self.after(SignedDuration::from_secs(1));
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: "EV-3".to_owned(),
            hangs: "meat cooler".to_owned(),
        };
        let evaporator = self.desk.add_evaporator(self.key(), actor, new).await;
        let new = NewJob {
            evaporator: evaporator.unwrap().id,
            flow: FlowName::from(flow),
            training: false,
        };
        let handled = self.desk.begin(self.key(), actor, new).await.unwrap();
        handled.screen.job
    }

    async fn does(&self, actor: &Actor, job: JobId, input: Input) {
        let handled = self.desk.handle(self.key(), actor, job, input).await;
        let outcome = handled.unwrap().outcome;
        assert_eq!(outcome, fanwright::desk::screen::Outcome::Advanced);
    }

    /// Presses a button of the screen as it stands.
    async fn presses(&self, actor: &Actor, job: JobId, key: &str) {
        let screen = self.desk.screen(actor, job).await.unwrap();
        let input = Input::Press {
            revision: screen.prompt.revision,
            key: ChoiceKey::from(key),
        };
        self.does(actor, job, input).await;
    }

    /// A job of the quick flow, handed in.
    async fn handed_in(&self, actor: &Actor) -> JobId {
        let job = self.begins(actor, "look-once").await;
        self.presses(actor, job, "go").await;
        self.does(actor, job, Input::HandIn).await;
        job
    }

    fn caller(&self) -> Webhooks {
        let clock = Arc::clone(&self.clock);
        Webhooks::new(self.desk.clone(), Arc::new(move || clock.now())).unwrap()
    }
}

fn chat(user: i64) -> ChannelAddress {
    ChannelAddress::Telegram { chat: user, user }
}

async fn founder(desk: &Desk, user: i64) -> Actor {
    let code = desk.invite_new_crew().await.unwrap().code;
    let key = InputKey(format!("founder:{user}"));
    desk.join(key, &code, &format!("Supervisor {user}"), &chat(user))
        .await
        .unwrap()
}

async fn serve(desk: &Desk, clock: &Arc<TestClock>) -> String {
    let clock = Arc::clone(clock);
    let api = Api::new(ApiParts {
        desk: desk.clone(),
        now: Arc::new(move || clock.now()),
    });
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let service = api
        .router()
        .into_make_service_with_connect_info::<SocketAddr>();
    tokio::spawn(async move { axum::serve(listener, service).await.unwrap() });
    base
}
