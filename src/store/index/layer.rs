//! Changes on top of a view, made frame by frame and seen as if they were made already.

use std::collections::HashMap;

use super::{Change, View, keys};
use crate::store::StoreError;

/// Changes in the order in which they are made.
pub(in crate::store) struct Layer<'a> {
    below: &'a dyn View,
    changes: Vec<Change>,
    /// Where the changes of the frame under way begin.
    begun: usize,
    /// Where the latest change is of every key that a later frame may ask for.
    latest: HashMap<Vec<u8>, usize>,
}

impl<'a> Layer<'a> {
    pub(in crate::store) fn over(below: &'a dyn View) -> Layer<'a> {
        Layer {
            below,
            changes: Vec::new(),
            begun: 0,
            latest: HashMap::new(),
        }
    }

    pub(in crate::store) fn make(&mut self, change: Change) {
        self.changes.push(change);
    }

    pub(in crate::store) fn put(&mut self, key: Vec<u8>, value: Vec<u8>) {
        self.make(Change {
            key,
            value: Some(value),
            is_new: false,
        });
    }

    pub(in crate::store) fn remove(&mut self, key: Vec<u8>) {
        self.make(Change {
            key,
            value: None,
            is_new: false,
        });
    }

    /// The frame under way is whole; the next one begins.
    pub(in crate::store) fn keep_frame(&mut self) {
        let changes = self.changes.iter().enumerate().skip(self.begun);
        for (at, change) in changes.filter(|(_, change)| keys::is_asked_for(&change.key)) {
            match self.latest.get_mut(&change.key) {
                Some(latest) => *latest = at,
                None => drop(self.latest.insert(change.key.clone(), at)),
            }
        }
        self.begun = self.changes.len();
    }

    /// The frame under way is taken back.
    pub(in crate::store) fn drop_frame(&mut self) {
        self.changes.truncate(self.begun);
    }

    /// How many changes there are.
    pub(in crate::store) fn len(&self) -> usize {
        self.changes.len()
    }

    /// All changes, which are no longer on top then.
    pub(in crate::store) fn take(&mut self) -> Vec<Change> {
        self.begun = 0;
        self.latest.clear();
        std::mem::take(&mut self.changes)
    }
}

impl View for Layer<'_> {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        let mut under_way = self.changes[self.begun..].iter().rev();
        if let Some(change) = under_way.find(|change| change.key == key) {
            return Ok(change.value.clone());
        }
        match self.latest.get(key) {
            Some(at) => Ok(self.changes[*at].value.clone()),
            None => self.below.get(key),
        }
    }
}
