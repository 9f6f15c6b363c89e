//! A receiver of calls that loses, delays and fails as it is told to.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

use axum::Router;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::post;
use tokio::net::TcpListener;

/// What the receiver does with the next call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mood {
    /// Takes it.
    Takes,
    /// Takes it, but says that it failed, as if its answer was lost.
    Loses,
    /// Answers with this.
    Answers(u16),
    /// Sends the caller elsewhere.
    Elsewhere,
}

/// A call as it came in.
#[derive(Clone, Debug)]
pub(super) struct Got {
    pub(super) id: String,
    pub(super) timestamp: i64,
    pub(super) signature: String,
    pub(super) body: String,
}

/// The receiver. What comes after its moods is taken.
#[derive(Clone, Default)]
pub(super) struct Receiver {
    moods: Arc<Mutex<VecDeque<Mood>>>,
    /// Everything that came in, taken or not.
    got: Arc<Mutex<Vec<Got>>>,
    pub(super) url: String,
}

impl Receiver {
    pub(super) async fn new() -> Receiver {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let receiver = Receiver {
            url: format!("http://{}/", listener.local_addr().unwrap()),
            ..Receiver::default()
        };
        let router = Router::new()
            .route("/", post(take))
            .with_state(receiver.clone());
        tokio::spawn(async move { axum::serve(listener, router).await.unwrap() });
        receiver
    }

    pub(super) fn will(&self, moods: &[Mood]) {
        self.moods.lock().unwrap().extend(moods);
    }

    pub(super) fn got(&self) -> Vec<Got> {
        self.got.lock().unwrap().clone()
    }
}

async fn take(State(receiver): State<Receiver>, headers: HeaderMap, body: String) -> Response {
    let header = |name: &str| headers[name].to_str().unwrap().to_owned();
    receiver.got.lock().unwrap().push(Got {
        id: header("webhook-id"),
        timestamp: header("webhook-timestamp").parse().unwrap(),
        signature: header("webhook-signature"),
        body,
    });
    let mood = receiver.moods.lock().unwrap().pop_front();
    match mood.unwrap_or(Mood::Takes) {
        Mood::Takes => StatusCode::NO_CONTENT.into_response(),
        Mood::Loses => StatusCode::BAD_GATEWAY.into_response(),
        Mood::Answers(status) => StatusCode::from_u16(status).unwrap().into_response(),
        Mood::Elsewhere => Redirect::temporary("/").into_response(),
    }
}
