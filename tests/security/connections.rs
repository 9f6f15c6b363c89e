//! Slow clients, and too many of them.

use std::future::pending;
use std::net::SocketAddr;
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::routing::{get, post};
use fanwright::serve::connections::{Bounds, serve};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Notify;

/// How long a test waits before it says that something never came.
const PATIENCE: Duration = Duration::from_secs(60);

/// Bounds that are reached at once.
fn short() -> Bounds {
    let short = Duration::from_millis(50);
    Bounds {
        head: short,
        body: short,
        answer: short,
        ..Bounds::default()
    }
}

async fn serving(router: Router, bounds: Bounds) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(serve(listener, router, bounds, pending()));
    address
}

/// What a server with bounds that are reached at once says to this, until it closes the line. It
/// begins to serve when all of it was sent, so that a busy machine makes nobody slow.
async fn told_in_short(router: Router, sent: &str) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let mut line = TcpStream::connect(listener.local_addr().unwrap())
        .await
        .unwrap();
    line.write_all(sent.as_bytes()).await.unwrap();
    tokio::spawn(serve(listener, router, short(), pending()));
    until_closed(&mut line).await
}

/// Sends this, and reads until the server closes the line.
async fn told(address: SocketAddr, sent: &str) -> String {
    let mut line = TcpStream::connect(address).await.unwrap();
    line.write_all(sent.as_bytes()).await.unwrap();
    until_closed(&mut line).await
}

async fn until_closed(line: &mut TcpStream) -> String {
    let mut heard = Vec::new();
    let read = tokio::time::timeout(PATIENCE, line.read_to_end(&mut heard)).await;
    // A line that is torn off is closed too.
    drop(read.expect("the server never closes the line"));
    String::from_utf8_lossy(&heard).into_owned()
}

fn ok() -> Router {
    Router::new().route("/", get(async || "served")).route(
        "/",
        post(async |body: Bytes| format!("{} bytes", body.len())),
    )
}

#[tokio::test]
async fn a_head_that_never_ends_and_a_line_that_says_nothing_are_cut_off() {
    let began = told_in_short(ok(), "GET / HTTP/1.1\r\nHost: a\r\nX-Slow: ").await;
    assert!(!began.contains("served"), "{began}");
    assert_eq!(told_in_short(ok(), "").await, "");
    let kept = told_in_short(ok(), "GET / HTTP/1.1\r\nHost: a\r\n\r\n").await;
    assert!(
        kept.ends_with("served"),
        "answered, then closed as idle: {kept}"
    );
}

#[tokio::test]
async fn a_body_that_stops_is_given_up() {
    let head = "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 100\r\n\r\nabc";
    let answer = told_in_short(ok(), head).await;
    assert!(answer.starts_with("HTTP/1.1 400"), "{answer}");
}

/// Says when it is dropped.
struct Told(Arc<Notify>);

impl Drop for Told {
    fn drop(&mut self) {
        self.0.notify_one();
    }
}

#[tokio::test]
async fn whoever_takes_nothing_of_an_answer_is_cut_off() {
    let ended = Arc::new(Notify::new());
    let hears = Arc::clone(&ended);
    let endless = async move || {
        let told = Told(hears);
        let piece = Bytes::from(vec![b'x'; 64 * 1024]);
        Body::from_stream(futures_util::stream::poll_fn(move |_| {
            let _kept = &told;
            Poll::Ready(Some(Ok::<_, std::io::Error>(piece.clone())))
        }))
    };
    let address = serving(Router::new().route("/", get(endless)), short()).await;
    let mut line = TcpStream::connect(address).await.unwrap();
    line.write_all(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
        .await
        .unwrap();
    let dropped = tokio::time::timeout(PATIENCE, ended.notified()).await;
    dropped.expect("an answer that nobody takes is held for ever");
}

#[tokio::test]
async fn a_head_that_is_too_large_is_refused() {
    let address = serving(ok(), Bounds::default()).await;
    let many: String = (0..200).map(|at| format!("X-{at}: a\r\n")).collect();
    let long = format!("X-Long: {}\r\n", "a".repeat(256 * 1024));
    for headers in [many, long] {
        let answer = told(
            address,
            &format!("GET / HTTP/1.1\r\nHost: a\r\n{headers}\r\n"),
        )
        .await;
        assert!(!answer.contains("served"), "{answer}");
    }
}

#[tokio::test]
async fn lengths_that_contradict_each_other_are_refused() {
    let address = serving(ok(), Bounds::default()).await;
    let both = "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd";
    let answer = told(address, both).await;
    assert!(answer.starts_with("HTTP/1.1 400"), "{answer}");
    // RFC 9112, section 6.1: with both, the coding counts and the line is closed, or it is refused.
    let smuggled = "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\
                    \r\n\r\n0\r\n\r\nGET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
    let answer = told(address, smuggled).await;
    let count = answer.matches("HTTP/1.1 ").count();
    assert!(!answer.contains("4 bytes") && count <= 2, "{answer}");
}

#[tokio::test]
async fn with_no_room_one_sentence_says_so_and_a_freed_place_is_used() {
    let bounds = Bounds {
        in_all: 2,
        ..Bounds::default()
    };
    let address = serving(ok(), bounds).await;
    let ask = "GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
    let mut held = Vec::new();
    for _ in 0..2 {
        let mut line = TcpStream::connect(address).await.unwrap();
        // Only a line that was answered once is surely counted.
        line.write_all(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
            .await
            .unwrap();
        let mut first = [0; 8];
        line.read_exact(&mut first).await.unwrap();
        held.push(line);
    }
    let answer = told(address, ask).await;
    assert!(answer.starts_with("HTTP/1.1 503"), "{answer}");
    assert!(answer.contains("Close some pages"), "{answer}");
    drop(held);
    let freed = async {
        while !told(address, ask).await.ends_with("served") {
            tokio::task::yield_now().await;
        }
    };
    let freed = tokio::time::timeout(PATIENCE, freed).await;
    freed.expect("a place that was freed is not used again");
}

#[tokio::test]
async fn slow_clients_hold_up_nobody_else() {
    let bounds = Bounds {
        in_all: 1_000,
        ..Bounds::default()
    };
    let address = serving(ok(), bounds).await;
    let mut slow = Vec::new();
    for _ in 0..200 {
        let mut line = TcpStream::connect(address).await.unwrap();
        line.write_all(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Le")
            .await
            .unwrap();
        slow.push(line);
    }
    let ask = "GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
    assert!(told(address, ask).await.ends_with("served"));
}
