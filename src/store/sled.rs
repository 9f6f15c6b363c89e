//! The index's files, kept by the `sled` crate.
//!
//! Nothing is ever acknowledged because of what is in here: it follows the journal and is
//! rebuilt from it whenever it is missing, distrusted or unreadable.

use std::fs::{self, File};
use std::io;
use std::ops::Bound;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};

use super::StoreError;
use super::codec::{Reader, Writer};
use super::disk::Folder;
use super::index::{
    Begins, Changes, Index, IndexPlace, Pair, Sheet, View, Watermark, keys, merged,
};

/// Memory for pages of the index, in bytes as `sled` counts them: 16 MiB.
///
/// What a step asks for is read from memory above the index, so pages matter to lists, searches
/// and the writing of changes. The index of a large crew is a few tens of megabytes, of which a
/// day's work touches a part; a page that is not there is mostly in the system's own cache.
pub const INDEX_CACHE_BYTES: u64 = 16 * 1024 * 1024;

/// The folder of the index's files.
pub(super) struct SledPlace(pub(super) PathBuf);

impl IndexPlace for SledPlace {
    fn exists(&self) -> bool {
        self.0.exists()
    }

    fn open(&self) -> Result<Arc<dyn Index>, StoreError> {
        Ok(Arc::new(SledIndex::open(&self.0)?))
    }

    fn remove(&self) -> Result<(), StoreError> {
        match fs::remove_dir_all(&self.0) {
            Err(problem) if problem.kind() != io::ErrorKind::NotFound => {
                Err(StoreError::io("remove", &self.0)(problem))
            }
            _ => Ok(()),
        }
    }
}

/// The index's files. After [`SledIndex::close`] every call answers `Closed`.
struct SledIndex {
    path: PathBuf,
    db: RwLock<Option<::sled::Db>>,
}

impl SledIndex {
    fn open(path: &Path) -> Result<SledIndex, StoreError> {
        let config = ::sled::Config::new()
            .path(path)
            .cache_capacity(INDEX_CACHE_BYTES);
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

impl Index for SledIndex {
    fn watermark(&self) -> Result<Watermark, StoreError> {
        let Some(value) = self.get(keys::WATERMARK_KEY)? else {
            return Ok(Watermark::default());
        };
        let mut reader = Reader::new(&value);
        let watermark = (|| {
            let (frame, crc) = (reader.number()?, reader.small()?);
            let begins = (|| {
                Some(Begins {
                    segment: reader.small()?,
                    offset: reader.number()?,
                })
            })();
            Some(Watermark { frame, crc, begins })
        })();
        watermark.ok_or_else(keys::wrong_value)
    }

    fn apply(&self, sheet: &Sheet, forgotten: &[Vec<u8>]) -> Result<(), StoreError> {
        let mut batch = ::sled::Batch::default();
        for key in forgotten {
            batch.remove(key.as_slice());
        }
        for (key, value) in sheet.iter() {
            match value {
                Some(value) => batch.insert(key, value),
                None => batch.remove(key),
            }
        }
        let mut writer = Writer::default();
        let mark = sheet.mark();
        writer.number(mark.frame);
        writer.small(mark.crc);
        if let Some(begins) = mark.begins {
            writer.small(begins.segment);
            writer.number(begins.offset);
        }
        batch.insert(keys::WATERMARK_KEY, writer.bytes);
        self.with(|db| db.apply_batch(batch))
    }

    fn range_under(
        &self,
        changes: Changes,
        prefix: &[u8],
        range: (Bound<&[u8]>, Bound<&[u8]>),
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        self.with(|db| {
            let found = db.range::<&[u8], _>(range);
            merged(found, changes, prefix, limit)
        })
    }

    fn keys_between(
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

    fn close(&self) -> Result<(), StoreError> {
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
    Folder::here(path.to_owned()).sync()
}
