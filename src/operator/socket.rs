//! The socket in the data folder, over which subcommands talk to the running server: plain HTTP,
//! for whoever may open the folder's files as their owner.

use std::fs::{self, Permissions};
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use axum::body::{Body, to_bytes};
use axum::extract::State;
use axum::http::header::{CONTENT_TYPE, HOST};
use axum::http::{Request, StatusCode};
use axum::routing::post;
use axum::{Json, Router};
use hyper::client::conn::http1;
use hyper_util::rt::TokioIo;
use tokio::net::{UnixListener, UnixStream};
use tokio_util::sync::CancellationToken;

use super::{Question, answer};
use crate::desk::Desk;

/// The socket in the data folder.
const FILE: &str = "fanwright.socket";

/// The server's end of the socket; its file goes with it.
pub struct Socket {
    file: PathBuf,
    listener: UnixListener,
}

impl Socket {
    /// Opens the socket of a data folder. The folder's lock must be held: whatever stands in its
    /// place is then of a server that ended.
    ///
    /// # Errors
    /// A sentence for the operator. The server can go on without it.
    pub fn open(data: &Path) -> Result<Socket, String> {
        let file = data.join(FILE);
        let open = || {
            match fs::remove_file(&file) {
                Err(problem) if problem.kind() != io::ErrorKind::NotFound => return Err(problem),
                _ => {}
            }
            let listener = UnixListener::bind(&file)?;
            fs::set_permissions(&file, Permissions::from_mode(0o600))?;
            Ok(listener)
        };
        let listener = open().map_err(|problem: io::Error| {
            format!(
                "Commands like `fanwright record` must wait until this server stops: {} cannot \
                 be opened ({problem}).",
                file.display()
            )
        })?;
        Ok(Socket { file, listener })
    }

    /// Answers questions until told to stop.
    pub async fn serve(self, desk: Desk, stop: CancellationToken) {
        let router = Router::new().route("/ask", post(asked)).with_state(desk);
        let served =
            axum::serve(self.listener, router).with_graceful_shutdown(stop.cancelled_owned());
        if let Err(error) = served.await {
            tracing::error!(%error, "the socket for commands ended");
        }
        // A file that stays is taken away at the next start.
        drop(fs::remove_file(&self.file));
    }
}

async fn asked(State(desk): State<Desk>, Json(question): Json<Question>) -> (StatusCode, Vec<u8>) {
    match answer(&desk, &question).await {
        Ok(told) => (StatusCode::OK, told),
        Err(told) => (StatusCode::UNPROCESSABLE_ENTITY, told.into_bytes()),
    }
}

/// Asks the server that runs over a data folder; nothing if none does.
pub(super) async fn call(
    data: &Path,
    question: &Question,
) -> Result<Option<Result<Vec<u8>, String>>, String> {
    let file = data.join(FILE);
    let line = match UnixStream::connect(&file).await {
        Ok(line) => line,
        Err(problem)
            if matches!(
                problem.kind(),
                // Without a file, or with the file of a server that was killed.
                io::ErrorKind::NotFound | io::ErrorKind::ConnectionRefused
            ) =>
        {
            return Ok(None);
        }
        Err(problem) => {
            return Err(format!(
                "The server that runs over {} cannot be asked: {problem}. Run this as the user \
                 who runs the server.",
                data.display()
            ));
        }
    };
    let broke = |error: &dyn std::fmt::Display| {
        format!("The server broke off in the middle of its answer: {error}. Try again.")
    };
    let asked = serde_json::to_string(question).map_err(|error| broke(&error))?;
    let request = Request::post("/ask")
        .header(HOST, "fanwright")
        .header(CONTENT_TYPE, "application/json")
        .body(Body::from(asked))
        .map_err(|error| broke(&error))?;
    let (mut sender, connection) = http1::handshake(TokioIo::new(line))
        .await
        .map_err(|error| broke(&error))?;
    let carried = tokio::spawn(connection);
    let response = sender.send_request(request).await;
    let response = response.map_err(|error| broke(&error))?;
    let status = response.status();
    let told = to_bytes(Body::new(response.into_body()), usize::MAX).await;
    let told = told.map_err(|error| broke(&error))?;
    carried.abort();
    Ok(Some(match status {
        StatusCode::OK => Ok(told.to_vec()),
        _ => Err(String::from_utf8(told.to_vec()).map_err(|error| broke(&error))?),
    }))
}
