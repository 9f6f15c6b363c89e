//! What can go wrong with a store, in sentences for people.

use std::io;
use std::path::PathBuf;
use std::sync::Arc;

use super::batch::InputKey;
use crate::record::stream::{Seq, StreamId};

/// Why a batch was not kept.
#[derive(Clone, Debug, thiserror::Error)]
pub enum AppendError {
    /// Somebody else was first: read the stream again and decide again.
    #[error("{stream} has moved on: it ends with entry {actual}, not with entry {expected}.")]
    Conflict {
        /// The first stream of the batch that has moved on.
        stream: StreamId,
        /// The end that the caller knew.
        expected: Seq,
        /// The end there is.
        actual: Seq,
    },
    /// The input was handled before; this delivery has no effect.
    #[error("The input {key} was handled before.")]
    AlreadyHandled {
        /// The input's key.
        key: InputKey,
    },
    /// A batch names a stream twice, which leaves open which expectation counts.
    #[error("One batch names {stream} twice. Put all its entries into one append.")]
    StreamNamedTwice {
        /// The stream.
        stream: StreamId,
    },
    /// Some part is longer than a store takes.
    #[error("{what} takes {bytes} bytes, and at most {limit} are taken.")]
    TooLong {
        /// What is too long, as the subject of the sentence.
        what: &'static str,
        /// How long it is.
        bytes: usize,
        /// How long it may be.
        limit: usize,
    },
    /// The store could not do it; nothing was kept, and trying again later may help.
    #[error(transparent)]
    Failed(StoreError),
    /// The store failed at a point where the batch may have been kept or not. After a restart,
    /// `handled` tells.
    #[error("It is not known whether the last input was kept. {0}")]
    Unsure(StoreError),
}

/// Why a store could not be opened, read or written.
#[derive(Clone, Debug, thiserror::Error)]
pub enum StoreError {
    /// The file system refused something.
    #[error("Could not {doing} {}: {source}.", path.display())]
    Io {
        /// What was tried, as a verb: `write`.
        doing: &'static str,
        /// On which file or folder.
        path: PathBuf,
        /// What the system said.
        source: Arc<io::Error>,
    },
    /// What was read is not what was written.
    #[error(
        "{what} Bring back the last backup with `fanwright restore`, and find out what changed it."
    )]
    Damaged {
        /// What is damaged and where, as one or more sentences.
        what: String,
    },
    /// Written by a later version of the program.
    #[error(
        "{} has format {found}, and this program reads formats up to {known}. \
         Start the newer program that wrote it.", path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: u32,
        /// The newest format known.
        known: u32,
    },
    /// Another process works with the data folder.
    #[error(
        "The data folder {} is in use by another process{}. Stop that one first, \
         or give this one another folder.", path.display(), holder
    )]
    InUse {
        /// The folder.
        path: PathBuf,
        /// Which process, with a space before it, as far as it is known: ` (number 4711)`.
        holder: String,
    },
    /// A folder that was to be filled holds something.
    #[error("The folder {} is not empty. Name one that is empty or not there yet.", path.display())]
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// A backup cannot be taken or read as asked: a whole sentence.
    #[error("{0}")]
    Backup(String),
    /// A backup is not what was written.
    #[error(
        "The backup is damaged: {what}. Keep the folder, make a new backup into another one, and \
         find out what changed it."
    )]
    BackupDamaged {
        /// What is damaged and where, without a full stop.
        what: String,
    },
    /// A store without a data folder was asked to copy it.
    #[error("This store keeps nothing in files, so there is nothing to copy.")]
    NoFolder,
    /// A cursor that this list did not give.
    #[error("This page address does not belong to this list. Begin again with the first page.")]
    ForeignCursor,
    /// The index did not answer; the truth in the journal is not touched.
    #[error("The index could not be used: {0}. Restart the server; it rebuilds the index.")]
    Index(String),
    /// The store was closed or stopped after a failure that leaves its end unknown.
    #[error("The store has stopped. Restart the server; nothing acknowledged is lost.")]
    Closed,
    /// A failure asked for by a test.
    #[error("This failure was asked for by a test.")]
    Arranged,
}

impl StoreError {
    /// Turns what the system said into an error about one path: `.map_err(StoreError::io(…))`.
    pub(super) fn io(
        doing: &'static str,
        path: impl Into<PathBuf>,
    ) -> impl FnOnce(io::Error) -> StoreError {
        let path = path.into();
        move |source| StoreError::Io {
            doing,
            path,
            source: Arc::new(source),
        }
    }

    /// Whether there is no room on the disk: it goes on once there is.
    pub fn is_no_room(&self) -> bool {
        let kinds = [
            io::ErrorKind::StorageFull,
            io::ErrorKind::QuotaExceeded,
            io::ErrorKind::FileTooLarge,
        ];
        matches!(self, StoreError::Io { source, .. } if kinds.contains(&source.kind()))
    }

    /// Whether nothing is kept any more before a restart.
    pub fn is_stopped(&self) -> bool {
        matches!(self, StoreError::Closed | StoreError::Index(_))
    }

    /// Damage, described by full sentences.
    pub(super) fn damaged(what: impl Into<String>) -> StoreError {
        StoreError::Damaged { what: what.into() }
    }
}
