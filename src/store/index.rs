//! What is looked up: a sorted map of bytes that is worked out from the frames and can be
//! worked out again at any time.

pub(super) mod blocks;
mod filter;
mod fold;
mod in_memory;
pub(super) mod inputs;
pub(super) mod keys;
mod layer;
mod overlay;
mod sheet;

use std::collections::BTreeMap;
use std::ops::Bound;
use std::sync::Arc;

pub(super) use fold::fold;
pub use in_memory::LooseIndex;
pub(super) use layer::Layer;
pub(super) use overlay::{Overlay, Taken};
pub(super) use sheet::Sheet;

use super::StoreError;

/// Changes of the map, in the order of their keys: `None` removes a key.
pub(super) type Changes = BTreeMap<Vec<u8>, Option<Vec<u8>>>;

/// A key with its value.
pub(super) type Pair = (Vec<u8>, Vec<u8>);

/// One change of the map.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) key: Vec<u8>,
    /// `None` removes the key.
    pub(super) value: Option<Vec<u8>>,
    /// Whether nothing lies under the key, as far as whoever puts it there knows.
    pub(super) is_new: bool,
}

/// Something that knows the value under a key.
pub(super) trait View {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError>;
}

/// How far an index follows the journal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Watermark {
    /// The last frame in the index, 0 for none.
    pub(super) frame: u64,
    /// That frame's checksum, which tells whether the index belongs to this journal.
    pub(super) crc: u32,
    /// Where that frame begins; an older program did not note it.
    pub(super) begins: Option<Begins>,
}

/// Where a frame begins: the journal's file, and the place in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Begins {
    pub(super) segment: u32,
    pub(super) offset: u64,
}

/// An index that is open. Nothing is ever acknowledged because of what is in it.
pub(super) trait Index: View + Send + Sync {
    fn watermark(&self) -> Result<Watermark, StoreError>;

    /// Makes changes, removes what is forgotten and moves the watermark, all in one step.
    fn apply(&self, sheet: &Sheet, forgotten: &[Vec<u8>]) -> Result<(), StoreError>;

    /// Up to `limit` pairs in a range that begin with a prefix and that `changes` leave alone,
    /// together with those that `changes` put there.
    fn range_under(
        &self,
        changes: Changes,
        prefix: &[u8],
        range: (Bound<&[u8]>, Bound<&[u8]>),
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError>;

    /// Up to `limit` keys from one on and before another.
    fn keys_between(
        &self,
        from: &[u8],
        to: &[u8],
        limit: usize,
    ) -> Result<Vec<Vec<u8>>, StoreError>;

    /// Writes everything out and lets go of the files.
    fn close(&self) -> Result<(), StoreError>;
}

/// Where an index lies while nobody has it open.
pub(super) trait IndexPlace {
    fn exists(&self) -> bool;

    /// Opens it, or makes it. One of another layout is an error like an unreadable one.
    fn open(&self) -> Result<Arc<dyn Index>, StoreError>;

    /// Removes it; the journal is not touched.
    fn remove(&self) -> Result<(), StoreError>;
}

/// Up to `limit` of the pairs found, which are in order and begin with the prefix as long as
/// they count, under the changes.
pub(super) fn merged(
    found: impl Iterator<Item = Result<(impl AsRef<[u8]>, impl AsRef<[u8]>), StoreError>>,
    changes: Changes,
    prefix: &[u8],
    limit: usize,
) -> Result<Vec<Pair>, StoreError> {
    let mut pairs = Vec::new();
    let mut above = changes.into_iter().peekable();
    for pair in found {
        let (key, value) = pair?;
        let (key, value) = (key.as_ref(), value.as_ref());
        if pairs.len() >= limit || !key.starts_with(prefix) {
            break;
        }
        while let Some((key, value)) = above.next_if(|(above, _)| above.as_slice() < key) {
            pairs.extend(value.map(|value| (key, value)));
        }
        match above.next_if(|(above, _)| above.as_slice() == key) {
            Some((key, value)) => pairs.extend(value.map(|value| (key, value))),
            None => pairs.push((key.to_vec(), value.to_vec())),
        }
    }
    pairs.extend(above.filter_map(|(key, value)| Some((key, value?))));
    pairs.truncate(limit);
    Ok(pairs)
}
