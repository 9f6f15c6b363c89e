//! Connections to the HTTP server: how many there may be, and how slow they may be.

use std::collections::HashMap;
use std::convert::Infallible;
use std::future::Future;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{ConnectInfo, Request};
use axum::response::Response;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutStream;
use tower::{Service, ServiceExt};
use tower_http::timeout::TimeoutBody;

use crate::channel::caller::household;

/// How many connections there may be, and how slow they may be.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// So many at once in all.
    pub in_all: usize,
    /// So many at once from one place; a proxy on this machine speaks for many and has no such
    /// bound.
    pub from_a_place: usize,
    /// How long the head of a request may take, also the next one on a line that is kept.
    pub head: Duration,
    /// How long nothing may come of a body that was begun.
    pub body: Duration,
    /// How long nothing may be taken of an answer.
    pub answer: Duration,
}

/// Enough for the open pages of a large crew: two thousand wait for news. A phone on a thin line
/// pauses for seconds, not for half a minute.
impl Default for Bounds {
    fn default() -> Self {
        Bounds {
            in_all: 4_096,
            from_a_place: 256,
            head: Duration::from_secs(30),
            body: Duration::from_secs(30),
            answer: Duration::from_secs(60),
        }
    }
}

/// The most bytes of the head of a request: an address and a few cookies need one tenth of it.
const HEAD_BYTES_MAX: usize = 64 * 1024;

/// The most headers of a request.
const HEADERS_MAX: usize = 100;

/// After the machine had no room for another connection so long is waited.
const AFTER_FAILURE: Duration = Duration::from_secs(1);

/// So many are told at once that there is no room; others are cut off without a word.
const TOLD_AT_ONCE: usize = 64;

/// How long it may take to tell somebody.
const TELLING_MAX: Duration = Duration::from_secs(2);

/// What somebody is told for whom there is no room.
const NO_ROOM: &str = "HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain; \
    charset=utf-8\r\nRetry-After: 10\r\nConnection: close\r\n\r\nToo many connections are open. \
    Close some pages, or wait 10 s, then open this one again.\n";

/// Serves until told to stop, then ends what runs.
pub async fn serve(
    listener: TcpListener,
    router: Router,
    bounds: Bounds,
    stop: impl Future<Output = ()>,
) {
    let rooms = Arc::new(Rooms::default());
    let told = Arc::new(Semaphore::new(TOLD_AT_ONCE));
    let running = GracefulShutdown::new();
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new())
        .header_read_timeout(bounds.head)
        .max_buf_size(HEAD_BYTES_MAX)
        .max_headers(HEADERS_MAX);
    let mut stop = pin!(stop);
    loop {
        let (stream, from) = tokio::select! {
            accepted = accept(&listener) => accepted,
            () = &mut stop => break,
        };
        let Some(room) = rooms.take(from.ip(), &bounds) else {
            if let Ok(turn) = Arc::clone(&told).try_acquire_owned() {
                tokio::spawn(async move {
                    drop(tokio::time::timeout(TELLING_MAX, tell(stream)).await);
                    drop(turn);
                });
            }
            continue;
        };
        let mut stream = TimeoutStream::new(stream);
        stream.set_write_timeout(Some(bounds.answer));
        let service = service(router.clone(), from, bounds.body);
        let service = TowerToHyperService::new(service);
        let connection = http.serve_connection(TokioIo::new(Box::pin(stream)), service);
        let connection = running.watch(connection);
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, %from, "a connection ended");
            }
            drop(room);
        });
    }
    drop(listener);
    running.shutdown().await;
}

/// Tells somebody that there is no room, and hears them out, so that they can read it.
async fn tell(mut stream: TcpStream) -> io::Result<()> {
    stream.write_all(NO_ROOM.as_bytes()).await?;
    stream.shutdown().await?;
    let mut heard = [0; 1024];
    while stream.read(&mut heard).await? > 0 {}
    Ok(())
}

async fn accept(listener: &TcpListener) -> (TcpStream, SocketAddr) {
    loop {
        match listener.accept().await {
            Ok(accepted) => return accepted,
            // They went away before their turn.
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::ConnectionAborted
                        | io::ErrorKind::ConnectionReset
                        | io::ErrorKind::ConnectionRefused
                ) => {}
            Err(error) => {
                tracing::error!(%error, "no connection can be taken; again soon");
                tokio::time::sleep(AFTER_FAILURE).await;
            }
        }
    }
}

/// A request as it comes from the line.
type Came = Request<Incoming>;

/// What answers on one connection: it knows where it comes from, and how long to wait for a body.
fn service(
    router: Router,
    from: SocketAddr,
    body_wait: Duration,
) -> impl Service<Came, Response = Response, Error = Infallible, Future: Send + 'static>
+ Clone
+ Send
+ 'static {
    router.map_request(move |request: Came| {
        let mut request = request.map(|body| Body::new(TimeoutBody::new(body_wait, body)));
        request.extensions_mut().insert(ConnectInfo(from));
        request
    })
}

/// The connections that there are, by the place that they come from.
#[derive(Default)]
struct Rooms(Mutex<HashMap<IpAddr, usize>>);

/// A connection that is counted until it is dropped.
struct Room {
    rooms: Arc<Rooms>,
    place: IpAddr,
}

impl Rooms {
    fn take(self: &Arc<Self>, from: IpAddr, bounds: &Bounds) -> Option<Room> {
        let place = household(from);
        // Nothing that touches the map can panic half-way.
        let mut rooms = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let in_all: usize = rooms.values().sum();
        let here = rooms.get(&place).copied().unwrap_or_default();
        if in_all >= bounds.in_all || (here >= bounds.from_a_place && !from.is_loopback()) {
            tracing::warn!(%from, in_all, here, "there is no room for a connection");
            return None;
        }
        rooms.insert(place, here + 1);
        Some(Room {
            rooms: Arc::clone(self),
            place,
        })
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        let mut rooms = self.rooms.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(here) = rooms.get_mut(&self.place) {
            *here -= 1;
            if *here == 0 {
                rooms.remove(&self.place);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_has_only_so_many_and_a_proxy_here_as_many_as_there_are() {
        let bounds = Bounds {
            in_all: 6,
            from_a_place: 2,
            ..Bounds::default()
        };
        let rooms = Arc::new(Rooms::default());
        let take = |from: &str| rooms.take(from.parse().unwrap(), &bounds);
        let held = [take("192.0.2.1"), take("192.0.2.1")];
        assert!(held.iter().all(Option::is_some));
        assert!(take("192.0.2.1").is_none(), "two are there");
        // A household has a whole /64 of IPv6 addresses (RFC 6177, section 2).
        let one = [take("2001:db8::1"), take("2001:db8::2")];
        assert!(one.iter().all(Option::is_some));
        assert!(take("2001:db8::3").is_none());
        drop(one);
        let proxy: Vec<_> = (0..4).map(|_| take("127.0.0.1")).collect();
        assert!(proxy.iter().all(Option::is_some));
        assert!(take("127.0.0.1").is_none(), "six are there in all");
        drop(held);
        assert!(take("192.0.2.1").is_some());
        drop(proxy);
        assert!(rooms.0.lock().unwrap().is_empty(), "nothing is left over");
    }
}
