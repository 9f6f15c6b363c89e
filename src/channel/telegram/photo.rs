//! Photos: fetched from the platform, taken in by the desk, then an answer like any other.

use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use teloxide::net::Download;
use teloxide::requests::Requester;
use teloxide::types::FileId;
use teloxide::{DownloadError, RequestError};
use tokio::io::AsyncWrite;

use super::decode::Photo;
use super::press::stale_press;
use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::desk::photo::PHOTO_BYTES_MAX;
use crate::desk::screen::Outcome;
use crate::walk::input::Input;
use crate::walk::prompt::Ask;

/// How often fetching is tried.
const TRIES: u32 = 4;

/// How long one try may take.
const TRY_MAX: Duration = Duration::from_secs(40);

/// Why a photo did not arrive.
enum Missing {
    TooLarge,
    Lost,
}

impl Turn<'_> {
    pub(super) async fn photo(&self, photo: Photo) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        let Some(job) = desk.job_at_hand(&actor).await? else {
            self.say(words::NO_JOB);
            return Ok(());
        };
        let shown = desk.screen(&actor, job).await?;
        if !matches!(shown.prompt.ask, Ask::Photo { .. }) {
            // The desk remembers it, so that it is told once.
            let key = self.key.clone();
            let handled = desk.handle(key, &actor, job, stale_press()).await?;
            if handled.outcome != Outcome::AlreadyHandled {
                let sentence = Some(words::NO_PHOTO_WANTED);
                self.show(&actor, &handled.screen, sentence).await;
            }
            return Ok(());
        }
        let bytes = match self.fetch(&photo).await {
            Ok(bytes) => bytes,
            Err(missing) => {
                let sentence = match missing {
                    Missing::TooLarge => words::too_large(PHOTO_BYTES_MAX / (1024 * 1024)),
                    Missing::Lost => words::PHOTO_LOST.to_owned(),
                };
                self.show(&actor, &shown, Some(&sentence)).await;
                return Ok(());
            }
        };
        match desk.take_photo(bytes).await {
            Ok(kept) => {
                let refused = self.bring(&actor, job, Input::Photo(kept)).await?;
                if photo.has_caption && refused.is_none() {
                    self.say(words::CAPTION);
                }
            }
            Err(error) if error.is_fault() => return Err(error),
            Err(error) => self.show(&actor, &shown, Some(&error.to_string())).await,
        }
        Ok(())
    }

    async fn fetch(&self, photo: &Photo) -> Result<Vec<u8>, Missing> {
        if photo.bytes as usize > PHOTO_BYTES_MAX {
            return Err(Missing::TooLarge);
        }
        for attempt in 1..=TRIES {
            let wait = match tokio::time::timeout(TRY_MAX, self.fetch_once(photo)).await {
                Ok(Ok(bytes)) => return Ok(bytes),
                Ok(Err(Failure::Missing(missing))) => return Err(missing),
                Ok(Err(Failure::Wait(wait))) => wait.min(TRY_MAX),
                Ok(Err(Failure::Again)) | Err(_) => Duration::from_millis(500) * attempt,
            };
            tracing::warn!(attempt, "a photo did not arrive; again soon");
            tokio::time::sleep(wait).await;
        }
        Err(Missing::Lost)
    }

    async fn fetch_once(&self, photo: &Photo) -> Result<Vec<u8>, Failure> {
        let bot = &self.talk.bot;
        let file = bot.get_file(FileId(photo.file.clone())).await?;
        if file.size as usize > PHOTO_BYTES_MAX {
            return Err(Failure::Missing(Missing::TooLarge));
        }
        let mut bytes = Bounded(Vec::new());
        match bot.download_file(&file.path, &mut bytes).await {
            Ok(()) => Ok(bytes.0),
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

/// Takes bytes in, but no more than a photo may have.
struct Bounded(Vec<u8>);

impl AsyncWrite for Bounded {
    fn poll_write(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<std::io::Result<usize>> {
        if self.0.len() + bytes.len() > PHOTO_BYTES_MAX {
            return Poll::Ready(Err(std::io::Error::other("the photo is too large")));
        }
        self.0.extend_from_slice(bytes);
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}
