//! Changes that are on the disk in the journal, but not yet in the index's own files.

use std::collections::BTreeMap;
use std::ops::Bound;
use std::sync::{PoisonError, RwLock};

use super::Changes;

/// A sorted map of changes, each with the number of the frame that made it.
#[derive(Debug, Default)]
pub(in crate::store) struct Overlay {
    changes: RwLock<BTreeMap<Vec<u8>, Change>>,
}

#[derive(Debug)]
struct Change {
    frame: u64,
    value: Option<Vec<u8>>,
}

impl Overlay {
    /// Shows changes to readers; `frame` is the last frame that they come from.
    pub(in crate::store) fn publish(&self, frame: u64, changes: &Changes) {
        let mut shown = self.changes.write().unwrap_or_else(PoisonError::into_inner);
        for (key, value) in changes {
            shown.insert(
                key.clone(),
                Change {
                    frame,
                    value: value.clone(),
                },
            );
        }
    }

    /// Forgets changes of frames up to this one, once readers find them below.
    pub(in crate::store) fn retire(&self, frame: u64, changes: &Changes) {
        let mut shown = self.changes.write().unwrap_or_else(PoisonError::into_inner);
        for key in changes.keys() {
            if shown.get(key).is_some_and(|change| change.frame <= frame) {
                shown.remove(key);
            }
        }
    }

    /// The change of this key: `Some(None)` if it was removed, `None` if nothing is known of it
    /// here.
    pub(in crate::store) fn get(&self, key: &[u8]) -> Option<Option<Vec<u8>>> {
        let shown = self.changes.read().unwrap_or_else(PoisonError::into_inner);
        shown.get(key).map(|change| change.value.clone())
    }

    /// The changes from a key on that begin with a prefix.
    pub(in crate::store) fn range(&self, prefix: &[u8], from: Bound<&[u8]>) -> Changes {
        let shown = self.changes.read().unwrap_or_else(PoisonError::into_inner);
        let range = shown.range::<[u8], _>((from, Bound::Unbounded));
        let range = range.take_while(|(key, _)| key.starts_with(prefix));
        range
            .map(|(key, change)| (key.clone(), change.value.clone()))
            .collect()
    }
}
