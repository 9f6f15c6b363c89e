//! The index's files, kept by the `sled` crate.
//!
//! For each of its pages `sled` holds some hundred bytes in memory, and it puts no more than 16
//! keys into one, however short they are. So it gets blocks of rows, not rows.
//!
//! Nothing is ever acknowledged because of what is in here: it follows the journal and is
//! rebuilt from it whenever it is missing, distrusted or unreadable.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io;
use std::ops::Bound;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};

use ::sled::IVec;

use super::StoreError;
use super::codec::{Reader, Writer};
use super::disk::Folder;
use super::index::blocks::{self, Lying, Shelf};
use super::index::{
    Begins, Changes, Index, IndexPlace, Pair, Sheet, View, Watermark, keys, merged,
};

/// Memory for pages of the index, in bytes as `sled` counts them: 16 MiB.
///
/// What a step asks for is read from memory above the index, so pages matter to lists, searches
/// and the writing of changes. The index of a large crew is a few tens of megabytes, of which a
/// day's work touches a part; a page that is not there is mostly in the system's own cache.
pub const INDEX_CACHE_BYTES: u64 = 16 * 1024 * 1024;

/// The blocks' tree among those of `sled`; its first tree holds the layout.
const BLOCKS: &str = "blocks";

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
    open: RwLock<Option<Open>>,
}

#[derive(Clone)]
struct Open {
    db: ::sled::Db,
    blocks: ::sled::Tree,
}

impl Shelf for Open {
    type Bytes = IVec;

    fn first(&self, from: Bound<&[u8]>) -> Result<Option<Lying<IVec>>, StoreError> {
        // Only one step: an iterator of `sled` goes on over the page it came to as that was then.
        let mut blocks = self.blocks.range::<&[u8], _>((from, Bound::Unbounded));
        let found = blocks.next().transpose().map_err(failed)?;
        Ok(found.map(|(bound, block)| Lying { bound, block }))
    }
}

impl Open {
    /// Makes changes of rows, which come in the order of their keys, all in one step.
    fn make<'c>(
        &self,
        changes: impl Iterator<Item = (&'c [u8], Option<&'c [u8]>)>,
    ) -> Result<(), StoreError> {
        let mut batch = ::sled::Batch::default();
        for (bound, block) in blocks::changed(self, changes)? {
            match block {
                Some(block) => batch.insert(bound, block),
                None => batch.remove(bound),
            }
        }
        self.blocks.apply_batch(batch).map_err(failed)
    }
}

impl SledIndex {
    fn open(path: &Path) -> Result<SledIndex, StoreError> {
        let config = ::sled::Config::new()
            .path(path)
            .cache_capacity(INDEX_CACHE_BYTES);
        let open = guarded(|| {
            let db = config.open().map_err(failed)?;
            let layout = keys::LAYOUT.to_le_bytes();
            match db.get(keys::LAYOUT_KEY).map_err(failed)? {
                Some(found) if found == layout => {}
                None if db.is_empty() => {
                    db.insert(keys::LAYOUT_KEY, &layout).map_err(failed)?;
                }
                _ => {
                    let why = "it was written by another version".to_owned();
                    return Err(StoreError::Index(why));
                }
            }
            let blocks = db.open_tree(BLOCKS).map_err(failed)?;
            Ok(Open { db, blocks })
        })?;
        Ok(SledIndex {
            path: path.to_owned(),
            open: RwLock::new(Some(open)),
        })
    }

    fn with<T>(&self, work: impl FnOnce(&Open) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let open = self.open.read();
        let open = open.unwrap_or_else(PoisonError::into_inner).clone();
        let open = open.ok_or(StoreError::Closed)?;
        guarded(|| work(&open))
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
        let mut writer = Writer::default();
        let mark = sheet.mark();
        writer.number(mark.frame);
        writer.small(mark.crc);
        if let Some(begins) = mark.begins {
            writer.small(begins.segment);
            writer.number(begins.offset);
        }
        let mut changes: BTreeMap<&[u8], Option<&[u8]>> = sheet.iter().collect();
        changes.insert(keys::WATERMARK_KEY, Some(&writer.bytes));
        for key in forgotten {
            changes.entry(key).or_insert(None);
        }
        self.with(|open| open.make(changes.into_iter()))
    }

    fn range_under(
        &self,
        changes: Changes,
        prefix: &[u8],
        range: (Bound<&[u8]>, Bound<&[u8]>),
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        self.with(|open| merged(rows_within(open, range), changes, prefix, limit))
    }

    fn keys_between(
        &self,
        from: &[u8],
        to: &[u8],
        limit: usize,
    ) -> Result<Vec<Vec<u8>>, StoreError> {
        self.with(|open| {
            let rows = rows_within(open, (Bound::Included(from), Bound::Excluded(to)));
            let keys = rows.map(|row| row.map(|(key, _)| key));
            keys.take(limit).collect()
        })
    }

    fn close(&self) -> Result<(), StoreError> {
        let mut open = self.open.write().unwrap_or_else(PoisonError::into_inner);
        let Some(open) = open.take() else {
            return Ok(());
        };
        guarded(|| open.db.flush().map_err(failed))?;
        drop(open);
        // sled asks the system to begin writing, not to finish; a clean stop waits for it.
        sync_all_below(&self.path)
    }
}

impl View for SledIndex {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        self.with(|open| blocks::get(open, key))
    }
}

/// The rows between two bounds, each once and in order.
fn rows_within<'o>(
    open: &'o Open,
    (from, to): (Bound<&[u8]>, Bound<&'o [u8]>),
) -> impl Iterator<Item = Result<Pair, StoreError>> {
    let counts = move |key: &[u8]| match to {
        Bound::Included(to) => key <= to,
        Bound::Excluded(to) => key < to,
        Bound::Unbounded => true,
    };
    let rows = blocks::rows_from(open, from);
    // What could not be read is no end; whoever reads on is told of it.
    rows.take_while(move |row| row.as_ref().map_or(true, |(key, _)| counts(key)))
}

/// Runs something that may fail or, with damaged files, even panic.
fn guarded<T>(work: impl FnOnce() -> Result<T, StoreError>) -> Result<T, StoreError> {
    let broke_off = |_| Err(StoreError::Index("it broke off unexpectedly".to_owned()));
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(broke_off)
}

fn failed(problem: ::sled::Error) -> StoreError {
    StoreError::Index(problem.to_string())
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

#[cfg(test)]
mod tests {
    use super::*;

    fn key(number: u32) -> Vec<u8> {
        number.to_be_bytes().to_vec()
    }

    fn put(open: &Open, numbers: impl Iterator<Item = u32>) {
        let value = [7; 60];
        let keys: Vec<Vec<u8>> = numbers.map(key).collect();
        let changes = keys.iter().map(|key| (key.as_slice(), Some(&value[..])));
        open.make(changes).unwrap();
    }

    #[test]
    fn a_reader_on_the_way_misses_no_row_while_blocks_are_cut() {
        const EACH: u32 = 10;
        let folder = tempfile::tempdir().unwrap();
        let index = SledIndex::open(folder.path()).unwrap();
        let open = index.open.read().unwrap().clone().unwrap();
        let before = || (0..20_000).step_by(EACH as usize);
        put(&open, before());
        let mut rows = blocks::rows_from(&open, Bound::Unbounded);
        let mut met = vec![rows.next().unwrap().unwrap().0];
        put(&open, (0..20_000).filter(|number| number % EACH != 0));
        met.extend(rows.map(|row| row.unwrap().0));
        let met: std::collections::BTreeSet<Vec<u8>> = met.into_iter().collect();
        let missed: Vec<u32> = before()
            .filter(|number| !met.contains(&key(*number)))
            .collect();
        assert_eq!(missed, Vec::<u32>::new());
    }
}
