//! Backups: snapshots of a data folder in a folder of their own.
//!
//! A snapshot is a prefix of the journal at a committed place, then the names, then the photos.
//! Photos come last, because a photo is kept before the entry that names it: every photo that the
//! entries of the snapshot name is in it. What the index holds is worked out anew.
//!
//! The folder holds `fanwright-backup` (what it is, and for whom it is encrypted), `snapshots/`
//! (a list of what each is made of, with a seal) and `pieces/` (the bytes, each piece under its
//! own hash). A piece is written once and never changed, so a later snapshot adds only what is new
//! and takes nothing away from an older one.

mod folder;
mod joined;
mod lock;
mod manifest;
mod pieces;
mod restore;
mod take;
mod verify;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;

use super::segment::Segments;
use crate::record::seal::SigningKey;
use crate::store::StoreError;
use crate::store::blobs::Blobs;
use crate::store::disk::Folder;
use crate::store::names::Names;

pub use folder::BackupFolder;
pub use lock::{For, Opener};
pub use restore::{Restored, Restoring, UpTo, restore};
pub use take::back_up_readable;
pub use verify::{Checked, verify};

pub(super) use verify::check_folder;

/// A snapshot to take.
#[derive(Clone, Debug)]
pub struct BackUp {
    /// The folder of the backup; made, unencrypted, if it is not there.
    pub to: PathBuf,
    /// The present time.
    pub at: Timestamp,
    /// Seals the snapshot's list.
    pub key: Arc<SigningKey>,
    /// The secret of that key, as its file holds it; kept only where the folder is encrypted.
    pub secret: Option<Vec<u8>>,
}

/// What a snapshot holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackedUp {
    /// Its number, from 1.
    pub snapshot: u32,
    /// Frames of the journal.
    pub frames: u64,
    /// When the last of them was handled; none for none.
    pub until: Option<Timestamp>,
    /// Names of people.
    pub names: usize,
    /// Photos and other large pieces.
    pub photos: u64,
    /// So many bytes were not in the folder before.
    pub new_bytes: u64,
    /// Whether the secret of the key that seals records is in it.
    pub secret: bool,
    /// Why it ends before the journal does, if it does.
    pub damaged: Option<String>,
}

/// Where the copied prefix of a journal ends.
#[derive(Clone, Copy, Debug)]
pub(super) struct End {
    pub(super) frame: u64,
    pub(super) segment: u32,
    pub(super) length: u64,
}

/// What a snapshot is made from.
pub(super) struct Source<'a> {
    pub(super) segments: &'a Segments,
    pub(super) names: &'a Names,
    pub(super) blobs: &'a Blobs,
}

/// The folder of this machine that something lies in; a backup is always on the machine's disk.
fn around(path: &Path) -> Folder {
    let folder = path.parent().filter(|it| !it.as_os_str().is_empty());
    Folder::here(folder.unwrap_or(Path::new(".")).to_owned())
}

/// Puts a file in place of any before, such that after a power cut one of them is there whole.
fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    let name = path.file_name().and_then(|name| name.to_str());
    around(path).replace(name.unwrap_or_default(), bytes)
}
