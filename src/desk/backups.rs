//! What the operator asks of the whole store: a snapshot into a backup, and whether all is whole.

use std::path::PathBuf;

use super::Desk;
use super::error::DeskError;
use crate::store::{BackUp, BackedUp, Checked, LookedOver};

impl Desk {
    /// Takes a snapshot of everything into a backup folder, sealed with the key that seals
    /// records. The secret of that key goes along only into an encrypted backup.
    ///
    /// # Errors
    /// When the store or the backup cannot be read or written.
    pub async fn back_up(&self, to: PathBuf) -> Result<BackedUp, DeskError> {
        // A key that is to seal is made known first, so that it is in the snapshot, too.
        let key = self.key_in_use().await?;
        let order = BackUp {
            to,
            at: self.now(),
            key,
            secret: self.inner.parts.keys.secret()?,
        };
        Ok(self.store().back_up(order).await?)
    }

    /// How far the store has come with reading back what it trusted when it was opened, and what
    /// it found damaged.
    pub fn looked_over(&self) -> LookedOver {
        self.store().looked_over()
    }

    /// Reads everything that is kept back and says what it was, if all of it is whole.
    ///
    /// # Errors
    /// When something is not as it was written, or cannot be read.
    pub async fn check_store(&self) -> Result<Checked, DeskError> {
        Ok(self.store().check().await?)
    }
}
