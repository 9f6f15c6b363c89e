//! An index without files, for simulations.

use std::collections::BTreeMap;
use std::ops::Bound;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::{Changes, Index, IndexPlace, Pair, Sheet, View, Watermark, merged};
use crate::store::StoreError;

/// An index without files. Clones share what it holds, and it outlasts whoever has it open, as
/// files do.
#[derive(Clone, Debug, Default)]
pub struct LooseIndex {
    held: Arc<Mutex<Option<Held>>>,
}

#[derive(Debug, Default)]
struct Held {
    map: BTreeMap<Vec<u8>, Vec<u8>>,
    mark: Watermark,
    /// Whether its rows cannot be read any more.
    is_spoilt: bool,
}

impl Held {
    fn rows(&self) -> Result<&BTreeMap<Vec<u8>, Vec<u8>>, StoreError> {
        match self.is_spoilt {
            true => Err(StoreError::Index("its rows are spoilt".to_owned())),
            false => Ok(&self.map),
        }
    }
}

impl LooseIndex {
    fn held(&self) -> MutexGuard<'_, Option<Held>> {
        // No change of it can panic half-way.
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// None of its rows can be read from now on, until it is removed. Its mark can.
    pub fn spoil(&self) {
        self.with(|held| held.is_spoilt = true);
    }

    /// The power fails: its mark stays, and every second row is gone. Files may come to that.
    pub fn cut_power(&self) {
        let mut stays = false;
        if let Some(held) = self.held().as_mut() {
            held.map.retain(|_, _| {
                stays = !stays;
                stays
            });
        }
    }

    fn with<T>(&self, work: impl FnOnce(&mut Held) -> T) -> T {
        work(self.held().get_or_insert_default())
    }
}

impl View for LooseIndex {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        self.with(|held| Ok(held.rows()?.get(key).cloned()))
    }
}

impl Index for LooseIndex {
    fn watermark(&self) -> Result<Watermark, StoreError> {
        Ok(self.with(|held| held.mark))
    }

    fn apply(&self, sheet: &Sheet, forgotten: &[Vec<u8>]) -> Result<(), StoreError> {
        self.with(|held| {
            for key in forgotten {
                held.map.remove(key);
            }
            for (key, value) in sheet.iter() {
                match value {
                    Some(value) => held.map.insert(key.to_vec(), value.to_vec()),
                    None => held.map.remove(key),
                };
            }
            held.mark = sheet.mark();
        });
        Ok(())
    }

    fn range_under(
        &self,
        changes: Changes,
        prefix: &[u8],
        range: (Bound<&[u8]>, Bound<&[u8]>),
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        self.with(|held| {
            let pairs = held.rows()?.range::<[u8], _>(range);
            merged(pairs.map(Ok), changes, prefix, limit)
        })
    }

    fn keys_between(
        &self,
        from: &[u8],
        to: &[u8],
        limit: usize,
    ) -> Result<Vec<Vec<u8>>, StoreError> {
        let range = (Bound::Included(from), Bound::Excluded(to));
        self.with(|held| {
            let keys = held.rows()?.range::<[u8], _>(range).take(limit);
            Ok(keys.map(|(key, _)| key.clone()).collect())
        })
    }

    fn close(&self) -> Result<(), StoreError> {
        Ok(())
    }
}

impl IndexPlace for LooseIndex {
    fn exists(&self) -> bool {
        self.held().is_some()
    }

    fn open(&self) -> Result<Arc<dyn Index>, StoreError> {
        Ok(Arc::new(self.clone()))
    }

    fn remove(&self) -> Result<(), StoreError> {
        *self.held() = None;
        Ok(())
    }
}
