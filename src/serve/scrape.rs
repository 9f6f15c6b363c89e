//! What the operator's monitoring asks: `/metrics`, at an address of its own.
//!
//! It is apart from the pages, so that no proxy that lets people in lets them in here.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use axum::Router;
use axum::extract::{MatchedPath, Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use tokio::net::TcpListener;

use crate::desk::Desk;
use crate::metrics::{self, Standing, Stopwatch, metrics};

/// What is asked.
#[derive(Clone)]
struct Asked {
    desk: Desk,
    data: PathBuf,
}

/// Where monitoring may ask.
pub(super) struct Scrape {
    listener: TcpListener,
    /// The address, with its port.
    pub(super) address: SocketAddr,
}

impl Scrape {
    /// Listens there.
    ///
    /// # Errors
    /// A sentence for the operator, when the address cannot be used.
    pub(super) async fn at(address: SocketAddr) -> Result<Scrape, String> {
        let cannot = |error: std::io::Error| {
            format!(
                "The address {address} cannot be used: {error}. Choose another one with \
                 --metrics-listen."
            )
        };
        let listener = TcpListener::bind(address).await.map_err(cannot)?;
        let address = listener.local_addr().map_err(cannot)?;
        Ok(Scrape { listener, address })
    }

    /// Answers for as long as it is polled.
    pub(super) async fn serve(self, desk: Desk, data: &Path) {
        let asked = Asked {
            desk,
            data: data.to_owned(),
        };
        let router = Router::new().route("/metrics", get(show)).with_state(asked);
        if let Err(error) = axum::serve(self.listener, router).await {
            tracing::error!(%error, "monitoring is not answered any more");
        }
    }
}

async fn show(State(asked): State<Asked>) -> Response {
    let standing = match asked.desk.how_things_stand().await {
        Ok(standing) => standing,
        Err(error) => {
            tracing::error!(error = error.for_the_log(), "the store cannot be read");
            let told = "The store cannot be read.\n";
            return (StatusCode::SERVICE_UNAVAILABLE, told).into_response();
        }
    };
    let standing = Standing {
        disk_free: free(&asked.data),
        ..standing
    };
    let text = metrics().text(&standing);
    ([(CONTENT_TYPE, metrics::CONTENT_TYPE)], text).into_response()
}

/// The bytes that a folder may still take.
fn free(folder: &Path) -> Option<u64> {
    let disk = rustix::fs::statvfs(folder).ok()?;
    disk.f_bavail.checked_mul(disk.f_frsize)
}

/// Measures a request: by the template of its address, so that no number of a job is in it.
pub(super) async fn measured(request: Request, next: Next) -> Response {
    let began = Stopwatch::started();
    let method = match *request.method() {
        Method::GET => "GET",
        Method::HEAD => "HEAD",
        Method::POST => "POST",
        Method::PUT => "PUT",
        Method::PATCH => "PATCH",
        Method::DELETE => "DELETE",
        _ => "other",
    };
    let route = request.extensions().get::<MatchedPath>().cloned();
    let response = next.run(request).await;
    let route = route.as_ref().map_or("other", MatchedPath::as_str);
    let status = response.status().as_u16();
    metrics().request_answered(method, (route, status), began);
    tracing::debug!(method, route, status, "a request was answered");
    response
}
