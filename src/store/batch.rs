//! What handling one input leaves behind.

use std::borrow::Cow;
use std::fmt;

use jiff::Timestamp;

use super::notice::{DeliveryMark, NewNotice, NoticeId};
use super::{AppendError, BATCH_BYTES_MAX};
use crate::record::chain::Head;
use crate::record::stream::{Seq, StreamId};

/// Longest name of a lookup table, in bytes.
pub const TABLE_BYTES_MAX: usize = 64;

/// Longest key of a lookup table and longest input key, in bytes.
pub const KEY_BYTES_MAX: usize = 1024;

/// What tells one input from every other: the channel and its own id of the input.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct InputKey(pub String);

impl fmt::Display for InputKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// Everything that one handled input leaves behind, kept whole or not at all.
///
/// A refusal is a batch with a key and without entries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    /// When the input was handled.
    pub at: Timestamp,
    /// The input's key; a batch whose key is remembered is refused. `None` for what the server
    /// does of itself, such as marking deliveries.
    pub key: Option<InputKey>,
    /// Entries for one or several streams, each stream named once.
    pub appends: Vec<StreamAppend>,
    /// Messages to send.
    pub notices: Vec<NewNotice>,
    /// What became of messages sent. A mark for a notice no longer pending changes nothing.
    pub marks: Vec<DeliveryMark>,
    /// Changes of the lookup tables, the later one winning.
    pub index: Vec<IndexChange>,
}

impl Batch {
    /// An empty batch of this time.
    pub fn new(at: Timestamp) -> Batch {
        Batch {
            at,
            key: None,
            appends: Vec::new(),
            notices: Vec::new(),
            marks: Vec::new(),
            index: Vec::new(),
        }
    }

    /// An empty batch for the input with this key.
    pub fn handling(key: InputKey, at: Timestamp) -> Batch {
        Batch {
            key: Some(key),
            ..Batch::new(at)
        }
    }

    /// Whether it holds anything whose loss would matter: all but delivery marks.
    pub fn must_outlast_power(&self) -> bool {
        self.key.is_some()
            || !self.appends.is_empty()
            || !self.notices.is_empty()
            || !self.index.is_empty()
    }

    /// Refuses a batch that no store takes, whatever it holds already.
    pub(super) fn check(&self) -> Result<(), AppendError> {
        for (at, append) in self.appends.iter().enumerate() {
            let before = &self.appends[..at];
            if before.iter().any(|earlier| earlier.stream == append.stream) {
                return Err(AppendError::StreamNamedTwice {
                    stream: append.stream,
                });
            }
        }
        let longest = |what, bytes: usize, limit| {
            if bytes > limit {
                Err(AppendError::TooLong { what, bytes, limit })
            } else {
                Ok(())
            }
        };
        let input_key = self.key.as_ref().map_or(0, |key| key.0.len());
        longest("the key of an input", input_key, KEY_BYTES_MAX)?;
        for change in &self.index {
            longest(
                "the name of a lookup table",
                change.table.0.len(),
                TABLE_BYTES_MAX,
            )?;
            longest("the key in a lookup table", change.key.len(), KEY_BYTES_MAX)?;
        }
        longest(
            "everything one input leaves behind",
            self.bytes(),
            BATCH_BYTES_MAX,
        )
    }

    /// What it takes written out, rounded up.
    fn bytes(&self) -> usize {
        const ROOM: usize = 128;
        let entries = self.appends.iter().flat_map(|append| &append.entries);
        let index = self.index.iter();
        let key = self.key.as_ref().map_or(0, |key| key.0.len());
        ROOM * (1 + self.appends.len() + self.marks.len())
            + key
            + entries.map(|entry| ROOM + entry.len()).sum::<usize>()
            + self.notices.iter().map(NewNotice::bytes).sum::<usize>()
            + index
                .map(|change| {
                    let value = change.value.as_ref().map_or(0, Vec::len);
                    ROOM + change.table.0.len() + change.key.len() + value
                })
                .sum::<usize>()
    }
}

/// Entries to add to the end of one stream.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StreamAppend {
    /// The stream.
    pub stream: StreamId,
    /// The place of its last entry as far as the caller knows, [`Seq::NONE`] for a new stream.
    /// The whole batch is refused if the stream has moved on.
    pub expected: Seq,
    /// The entries; none at all only makes sure that the stream has not moved on.
    pub entries: Vec<Vec<u8>>,
}

/// The name of a lookup table.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Table(pub Cow<'static, str>);

impl Table {
    /// The table of this name.
    pub const fn named(name: &'static str) -> Table {
        Table(Cow::Borrowed(name))
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// One change of a lookup table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IndexChange {
    /// The table.
    pub table: Table,
    /// The key, at most [`KEY_BYTES_MAX`] bytes.
    pub key: Vec<u8>,
    /// The new value, `None` to remove the key.
    pub value: Option<Vec<u8>>,
    /// Whether the caller knows that nothing lies under the key. Then a store need not look, and
    /// if it is removed soon again it may never have been there.
    pub is_new: bool,
}

impl IndexChange {
    /// Puts a value under a key.
    pub fn put(table: Table, key: impl Into<Vec<u8>>, value: impl Into<Vec<u8>>) -> IndexChange {
        IndexChange {
            table,
            key: key.into(),
            value: Some(value.into()),
            is_new: false,
        }
    }

    /// Puts a value under a key under which nothing lies.
    pub fn add(table: Table, key: impl Into<Vec<u8>>, value: impl Into<Vec<u8>>) -> IndexChange {
        IndexChange {
            is_new: true,
            ..IndexChange::put(table, key, value)
        }
    }

    /// Removes a key.
    pub fn remove(table: Table, key: impl Into<Vec<u8>>) -> IndexChange {
        IndexChange {
            table,
            key: key.into(),
            value: None,
            is_new: false,
        }
    }
}

/// A key of a lookup table with its value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IndexRow {
    /// The key.
    pub key: Vec<u8>,
    /// The value under it.
    pub value: Vec<u8>,
}

/// What became of a batch that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Committed {
    /// The new end of every stream named, in the order of the batch.
    pub heads: Vec<(StreamId, Head)>,
    /// The ids given to the batch's notices, in its order. Ids only ever grow.
    pub notices: Vec<NoticeId>,
}
