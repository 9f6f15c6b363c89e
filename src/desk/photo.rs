//! Photos: checked, stripped of everything but the picture, kept by hash.

use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use super::{Desk, todo_body};
use crate::record::chain::Hash;
use crate::record::entry::PhotoRef;

/// The most bytes of a photo as sent: 20 MiB, which is what chats let through.
pub const PHOTO_BYTES_MAX: usize = 20 * 1024 * 1024;

impl Desk {
    /// Checks a photo, reads when it was taken, keeps the picture alone and says under which
    /// hashes. Hand the answer to [`Desk::handle`] as `Input::Photo`.
    ///
    /// # Errors
    /// When it is too large or not a photo that can be read.
    pub async fn take_photo(&self, _bytes: Vec<u8>) -> Result<PhotoRef, DeskError> {
        todo_body()
    }

    /// The stored JPEG of a photo that belongs to the job.
    ///
    /// # Errors
    /// When the crew has no such job, or the job no such photo.
    pub async fn photo(
        &self,
        _actor: &Actor,
        _job: JobId,
        _stored: Hash,
    ) -> Result<Vec<u8>, DeskError> {
        todo_body()
    }
}
