//! Files that people sent, fetched from the platform: no larger than they may be, and not for ever.

use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use teloxide::net::Download;
use teloxide::requests::Requester;
use teloxide::types::FileId;
use teloxide::{DownloadError, RequestError};
use tokio::io::AsyncWrite;

use super::talk::Talk;
use super::words;

/// How often fetching is tried.
const TRIES: u32 = 4;

/// How long one try may take.
const TRY_MAX: Duration = Duration::from_secs(40);

/// Why a file did not arrive.
pub(super) enum Missing {
    TooLarge,
    Lost,
}

impl Missing {
    /// What is said about a photo.
    pub(super) fn words(&self, bytes_max: usize) -> String {
        match self {
            Missing::TooLarge => words::too_large(bytes_max / (1024 * 1024)),
            Missing::Lost => words::PHOTO_LOST.to_owned(),
        }
    }
}

impl Talk {
    /// Fetches a file, of which the platform said how large it is.
    pub(super) async fn fetch(
        &self,
        (file, told_bytes): (&str, usize),
        bytes_max: usize,
    ) -> Result<Vec<u8>, Missing> {
        if told_bytes > bytes_max {
            return Err(Missing::TooLarge);
        }
        for attempt in 1..=TRIES {
            let once = self.fetch_once(file, bytes_max);
            let wait = match tokio::time::timeout(TRY_MAX, once).await {
                Ok(Ok(bytes)) => return Ok(bytes),
                Ok(Err(Failure::Missing(missing))) => return Err(missing),
                Ok(Err(Failure::Wait(wait))) => wait.min(TRY_MAX),
                Ok(Err(Failure::Again)) | Err(_) => Duration::from_millis(500) * attempt,
            };
            tracing::warn!(attempt, "a file did not arrive; again soon");
            tokio::time::sleep(wait).await;
        }
        Err(Missing::Lost)
    }

    async fn fetch_once(&self, file: &str, bytes_max: usize) -> Result<Vec<u8>, Failure> {
        let bot = self.line.bot();
        let get = bot.get_file(FileId(file.to_owned()));
        let file = self.line.send(get).await?;
        if file.size as usize > bytes_max {
            return Err(Failure::Missing(Missing::TooLarge));
        }
        let mut bytes = Bounded {
            bytes: Vec::new(),
            max: bytes_max,
        };
        match bot.download_file(&file.path, &mut bytes).await {
            Ok(()) => Ok(bytes.bytes),
            Err(DownloadError::Io(_)) => Err(Failure::Missing(Missing::TooLarge)),
            Err(DownloadError::Network(_)) => Err(Failure::Again),
        }
    }
}

/// Why one try failed.
enum Failure {
    Missing(Missing),
    Wait(Duration),
    Again,
}

impl From<RequestError> for Failure {
    fn from(error: RequestError) -> Failure {
        match error {
            RequestError::RetryAfter(seconds) => Failure::Wait(seconds.duration()),
            RequestError::Api(error) if error.to_string().contains("too big") => {
                Failure::Missing(Missing::TooLarge)
            }
            _ => Failure::Again,
        }
    }
}

/// Takes bytes in, but no more than so many.
struct Bounded {
    bytes: Vec<u8>,
    max: usize,
}

impl AsyncWrite for Bounded {
    fn poll_write(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<std::io::Result<usize>> {
        if self.bytes.len() + bytes.len() > self.max {
            return Poll::Ready(Err(std::io::Error::other("the file is too large")));
        }
        self.bytes.extend_from_slice(bytes);
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}
