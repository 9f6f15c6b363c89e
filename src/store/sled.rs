//! The index's files, kept by the `sled` crate.
//!
//! Nothing is ever acknowledged because of what is in here: it follows the journal and is
//! rebuilt from it whenever it is missing, distrusted or unreadable.

use std::fs::{self, File};
use std::io;
use std::ops::Bound;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{PoisonError, RwLock};

use super::StoreError;
use super::codec::{Reader, Writer};
use super::index::{Changes, Pair, View, keys};

/// Memory for pages; the index of a large crew is a few tens of megabytes.
const CACHE_BYTES: u64 = 16 * 1024 * 1024;

/// How far the index follows the journal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Watermark {
    /// The last frame in the index, 0 for none.
    pub(super) frame: u64,
    /// That frame's checksum, which tells whether the index belongs to this journal.
    pub(super) crc: u32,
}

/// The index's files. After [`SledIndex::close`] every call answers `Closed`.
pub(super) struct SledIndex {
    path: PathBuf,
    db: RwLock<Option<::sled::Db>>,
}

impl SledIndex {
    /// Opens the index in a folder of its own, or makes it. An index of another layout is an
    /// error like an unreadable one.
    pub(super) fn open(path: &Path) -> Result<SledIndex, StoreError> {
        let config = ::sled::Config::new().path(path).cache_capacity(CACHE_BYTES);
        let db = guarded(|| config.open())?;
        let index = SledIndex {
            path: path.to_owned(),
            db: RwLock::new(Some(db)),
        };
        let layout = keys::LAYOUT.to_le_bytes();
        match index.get(keys::LAYOUT_KEY)? {
            Some(found) if found == layout => Ok(index),
            None if index.with(|db| Ok(db.is_empty()))? => {
                index.with(|db| db.insert(keys::LAYOUT_KEY, &layout))?;
                Ok(index)
            }
            _ => Err(StoreError::Index(
                "it was written by another version".to_owned(),
            )),
        }
    }

    /// Removes the index; the journal is not touched.
    pub(super) fn remove(path: &Path) -> Result<(), StoreError> {
        match fs::remove_dir_all(path) {
            Err(problem) if problem.kind() != io::ErrorKind::NotFound => {
                Err(StoreError::io("remove", path)(problem))
            }
            _ => Ok(()),
        }
    }

    pub(super) fn watermark(&self) -> Result<Watermark, StoreError> {
        let Some(value) = self.get(keys::WATERMARK_KEY)? else {
            return Ok(Watermark::default());
        };
        let mut reader = Reader::new(&value);
        let watermark = (|| {
            Some(Watermark {
                frame: reader.number()?,
                crc: reader.small()?,
            })
        })();
        watermark.ok_or_else(keys::wrong_value)
    }

    /// Makes changes and moves the watermark, all in one step.
    pub(super) fn apply(&self, changes: &Changes, mark: Watermark) -> Result<(), StoreError> {
        let mut batch = ::sled::Batch::default();
        for (key, value) in changes {
            match value {
                Some(value) => batch.insert(key.as_slice(), value.as_slice()),
                None => batch.remove(key.as_slice()),
            }
        }
        let mut writer = Writer::default();
        writer.number(mark.frame);
        writer.small(mark.crc);
        batch.insert(keys::WATERMARK_KEY, writer.bytes);
        self.with(|db| db.apply_batch(batch))
    }

    /// Up to `limit` pairs from a key on that begin with a prefix and that `changes` leave
    /// alone, together with those that `changes` put there.
    pub(super) fn range_under(
        &self,
        changes: Changes,
        prefix: &[u8],
        from: Bound<&[u8]>,
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        self.with(|db| {
            let mut found = Vec::new();
            let mut above = changes.into_iter().peekable();
            for pair in db.range::<&[u8], _>((from, Bound::Unbounded)) {
                let (key, value) = pair?;
                if found.len() >= limit || !key.starts_with(prefix) {
                    break;
                }
                while let Some((key, value)) = above.next_if(|(above, _)| **above < *key) {
                    found.extend(value.map(|value| (key, value)));
                }
                match above.next_if(|(above, _)| **above == *key) {
                    Some((key, value)) => found.extend(value.map(|value| (key, value))),
                    None => found.push((key.to_vec(), value.to_vec())),
                }
            }
            found.extend(above.filter_map(|(key, value)| Some((key, value?))));
            found.truncate(limit);
            Ok(found)
        })
    }

    /// Up to `limit` keys from one on and before another.
    pub(super) fn keys_between(
        &self,
        from: &[u8],
        to: &[u8],
        limit: usize,
    ) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(|db| {
            let keys = db.range(from..to).keys().take(limit);
            keys.map(|key| key.map(|key| key.to_vec())).collect()
        })
    }

    /// Writes everything out and lets go of the files.
    pub(super) fn close(&self) -> Result<(), StoreError> {
        let Some(db) = self
            .db
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
        else {
            return Ok(());
        };
        guarded(|| db.flush())?;
        drop(db);
        // sled asks the system to begin writing, not to finish; a clean stop waits for it.
        sync_all_below(&self.path)
    }

    fn with<T>(
        &self,
        work: impl FnOnce(&::sled::Db) -> ::sled::Result<T>,
    ) -> Result<T, StoreError> {
        let db = self
            .db
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        let db = db.ok_or(StoreError::Closed)?;
        guarded(|| work(&db))
    }
}

impl View for SledIndex {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        self.with(|db| Ok(db.get(key)?.map(|value| value.to_vec())))
    }
}

/// Runs something that may fail or, with damaged files, even panic.
fn guarded<T>(work: impl FnOnce() -> ::sled::Result<T>) -> Result<T, StoreError> {
    match catch_unwind(AssertUnwindSafe(work)) {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(problem)) => Err(StoreError::Index(problem.to_string())),
        Err(_) => Err(StoreError::Index("it broke off unexpectedly".to_owned())),
    }
}

fn sync_all_below(path: &Path) -> Result<(), StoreError> {
    let listing = |source| StoreError::io("list", path)(source);
    for file in fs::read_dir(path).map_err(listing)? {
        let file = file.map_err(listing)?;
        if file.file_type().map_err(listing)?.is_dir() {
            sync_all_below(&file.path())?;
        } else {
            let synced = File::open(file.path()).and_then(|file| file.sync_all());
            synced.map_err(StoreError::io("write", file.path()))?;
        }
    }
    super::journal::sync_folder(path)
}
