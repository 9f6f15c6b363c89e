//! What is looked up: a sorted map of bytes that is worked out from the frames and can be
//! worked out again at any time.

mod fold;
pub(super) mod keys;
mod overlay;

use std::collections::BTreeMap;

pub(super) use fold::fold;
pub(super) use overlay::Overlay;

use super::StoreError;

/// Changes of the map: `None` removes a key.
pub(super) type Changes = BTreeMap<Vec<u8>, Option<Vec<u8>>>;

/// A key with its value.
pub(super) type Pair = (Vec<u8>, Vec<u8>);

/// Something that knows the value under a key.
pub(super) trait View {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError>;
}

/// Changes on top of a view, seen as if they were made already.
pub(super) struct Layer<'a> {
    below: &'a dyn View,
    changes: Changes,
}

impl<'a> Layer<'a> {
    pub(super) fn over(below: &'a dyn View) -> Layer<'a> {
        Layer {
            below,
            changes: Changes::new(),
        }
    }

    /// Goes on with changes made before.
    pub(super) fn with(below: &'a dyn View, changes: Changes) -> Layer<'a> {
        Layer { below, changes }
    }

    pub(super) fn put(&mut self, key: Vec<u8>, value: Vec<u8>) {
        self.changes.insert(key, Some(value));
    }

    pub(super) fn remove(&mut self, key: Vec<u8>) {
        self.changes.insert(key, None);
    }

    pub(super) fn absorb(&mut self, later: Changes) {
        self.changes.extend(later);
    }

    pub(super) fn into_changes(self) -> Changes {
        self.changes
    }
}

impl View for Layer<'_> {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        match self.changes.get(key) {
            Some(value) => Ok(value.clone()),
            None => self.below.get(key),
        }
    }
}
