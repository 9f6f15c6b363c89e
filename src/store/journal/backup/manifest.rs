//! The list of what a snapshot is made of.

use std::path::Path;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::lock::damaged;
use crate::record::chain::Hash;
use crate::record::seal::PublicKey;
use crate::store::{DATA_FORMAT, StoreError};

/// The layout of a backup folder and its lists, raised when it changes. Lists of the first one do
/// not say for whom the pieces are encrypted.
pub(super) const LAYOUT: u16 = 2;

/// The first one, which is read too.
pub(super) const FIRST_LAYOUT: u16 = 1;

/// What a snapshot is made of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Manifest {
    /// The layout, [`LAYOUT`] when written.
    pub(super) fanwright_backup: u16,
    /// The format of the data folder that it was taken of.
    pub(super) data_format: u16,
    /// The version of the program that took it.
    pub(super) program: String,
    /// Its number.
    pub(super) snapshot: u32,
    /// When it was taken.
    pub(super) taken: Timestamp,
    /// How many frames its journal has.
    pub(super) frames: u64,
    /// When the last of them was handled.
    pub(super) until: Option<Timestamp>,
    /// The files of the journal, in order.
    pub(super) journal: Vec<FileOfJournal>,
    /// The names of people.
    pub(super) names: Piece,
    /// How many names.
    pub(super) people: usize,
    /// The photos and other large pieces, each list with those that the ones before it lack.
    pub(super) photos: Vec<PhotoList>,
    /// The key that seals records and this list.
    pub(super) key: PublicKey,
    /// The secret of that key, in an encrypted backup.
    pub(super) secret: Option<Piece>,
    /// For whom the pieces are encrypted; a list of the first layout does not say.
    #[serde(default)]
    pub(super) recipients: Option<Vec<String>>,
    /// Why the journal ends here, if it was damaged behind.
    pub(super) damaged: Option<String>,
}

/// Bytes that lie under their own hash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Piece {
    /// The hash of the bytes before they were encrypted.
    pub(super) piece: Hash,
    /// How many they are.
    pub(super) bytes: u64,
}

/// One file of the journal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileOfJournal {
    /// Its number.
    pub(super) file: u32,
    /// The last frame in it, or before it if it has none.
    pub(super) last_frame: u64,
    /// Its bytes, in order.
    pub(super) pieces: Vec<Piece>,
}

/// A list of photos that came with one snapshot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhotoList {
    /// The snapshot that it came with.
    pub(super) snapshot: u32,
    /// The hash of the list.
    pub(super) list: Hash,
    /// How many photos are on it.
    pub(super) photos: u64,
}

/// As much of a list as every layout has.
#[derive(Deserialize)]
struct AnyLayout {
    fanwright_backup: u16,
    data_format: u16,
}

impl Manifest {
    pub(super) fn to_text(&self) -> String {
        // Nothing in it has a key that is no text.
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }

    /// Reads the list that lies at `path`.
    pub(super) fn read(text: &str, path: &Path) -> Result<Manifest, StoreError> {
        let any: AnyLayout = serde_json::from_str(text).map_err(|_| damaged(path))?;
        for (found, known) in [
            (any.fanwright_backup, LAYOUT),
            (any.data_format, DATA_FORMAT),
        ] {
            if found > known {
                return Err(StoreError::Newer {
                    path: path.to_owned(),
                    found: found.into(),
                    known: known.into(),
                });
            }
        }
        serde_json::from_str(text).map_err(|_| damaged(path))
    }

    /// How many photos it has.
    pub(super) fn photos(&self) -> u64 {
        self.photos.iter().map(|list| list.photos).sum()
    }
}

/// The text of a list of photos.
pub(super) fn photo_list(photos: &[Piece]) -> String {
    let lines = photos
        .iter()
        .map(|photo| format!("{} {}\n", photo.piece, photo.bytes));
    lines.collect()
}

/// Reads a list of photos back.
pub(super) fn read_photo_list(text: &str) -> Option<Vec<Piece>> {
    let read = |line: &str| {
        let (hash, bytes) = line.split_once(' ')?;
        Some(Piece {
            piece: hash.parse().ok()?,
            bytes: bytes.parse().ok()?,
        })
    };
    text.lines().map(read).collect()
}
