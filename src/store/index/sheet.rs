//! Changes in the order of their keys, the latest of each.

use std::collections::BTreeMap;
use std::ops::Bound;

use super::inputs::Day;
use super::{Change, Watermark, keys};

/// About what a row takes besides the bytes of its key and value.
const ROW_BYTES: usize = 96;

/// Changes with the last frame that they come from.
#[derive(Debug, Default)]
pub(in crate::store) struct Sheet {
    rows: BTreeMap<Vec<u8>, Row>,
    bytes: usize,
    mark: Watermark,
}

#[derive(Debug)]
struct Row {
    value: Option<Vec<u8>>,
    /// Nothing lies under its key below this sheet.
    is_new: bool,
}

impl Sheet {
    /// A sheet of these changes, the later one winning.
    pub(in crate::store) fn of(changes: Vec<Change>, mark: Watermark) -> Sheet {
        let mut sheet = Sheet::default();
        changes.into_iter().for_each(|change| sheet.make(change));
        sheet.mark = mark;
        sheet
    }

    /// Makes one more change.
    pub(super) fn make(&mut self, change: Change) {
        let Change { key, value, is_new } = change;
        let weight = |value: &Option<Vec<u8>>| value.as_ref().map_or(0, Vec::len);
        let bytes = key.len() + ROW_BYTES + weight(&value);
        let Some(row) = self.rows.get_mut(&key) else {
            self.bytes += bytes;
            self.rows.insert(key, Row { value, is_new });
            return;
        };
        self.bytes -= key.len() + ROW_BYTES + weight(&row.value);
        if value.is_none() && row.is_new {
            // It came and went within this sheet: nobody below ever has to know of it.
            self.rows.remove(&key);
        } else {
            self.bytes += bytes;
            row.value = value;
        }
    }

    /// Notes the last frame.
    pub(super) fn up_to(&mut self, mark: Watermark) {
        self.mark = mark;
    }

    /// The last frame.
    pub(in crate::store) fn mark(&self) -> Watermark {
        self.mark
    }

    /// About the memory that it takes.
    pub(super) fn bytes(&self) -> usize {
        self.bytes
    }

    /// The change of a key: `Some(None)` if it was removed.
    pub(super) fn get(&self, key: &[u8]) -> Option<Option<&[u8]>> {
        self.rows.get(key).map(|row| row.value.as_deref())
    }

    /// All changes: `None` removes a key.
    pub(in crate::store) fn iter(&self) -> impl Iterator<Item = (&[u8], Option<&[u8]>)> {
        let rows = self.rows.iter();
        rows.map(|(key, row)| (key.as_slice(), row.value.as_deref()))
    }

    /// The changes from a key on that begin with a prefix.
    pub(super) fn range<'t>(
        &'t self,
        prefix: &'t [u8],
        from: Bound<&[u8]>,
    ) -> impl Iterator<Item = (&'t [u8], Option<&'t [u8]>)> {
        let rows = self.rows.range::<[u8], _>((from, Bound::Unbounded));
        let rows = rows.take_while(move |(key, _)| key.starts_with(prefix));
        rows.map(|(key, row)| (key.as_slice(), row.value.as_deref()))
    }

    /// The latest day of which it has inputs.
    pub(in crate::store) fn newest_inputs(&self) -> Option<Day> {
        let all = keys::all_inputs();
        let after = keys::after_inputs();
        let mut inputs = self.rows.range(all..after);
        keys::day_of_inputs(inputs.next_back()?.0)
    }
}
