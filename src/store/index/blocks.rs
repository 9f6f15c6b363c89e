//! Rows packed into blocks, for an index that keeps few big values better than many small ones.
//!
//! A block holds rows in their order and lies under its *bound*, a key that none of its rows is
//! beyond. Rows only ever move to a later bound than they have, or to one that lies between their
//! own and the bound before; so a reader who goes forward, block after block, misses none while
//! blocks change, but may meet some again.

use std::ops::{Bound, Range};

use super::{Changes, Pair, keys};
use crate::store::StoreError;
use crate::store::codec::{Reader, Writer};

/// A longer block is cut, unless it is a single row. Longer ones would take less memory, but a row
/// that changes is written with its whole block.
const LONGEST: usize = 1_024;

/// About so long are the blocks that a long one is cut into.
const CUT: usize = LONGEST * 2 / 3;

/// The rows of a shorter block go into the next one.
const SHORTEST: usize = LONGEST / 4;

/// The bound of the last block: no key of the index begins with this byte.
const LAST: &[u8] = &[0xff];

/// Where blocks lie, in the order of their bounds.
pub(in crate::store) trait Shelf {
    /// Bytes that lie there.
    type Bytes: AsRef<[u8]>;

    /// The first block whose bound counts.
    fn first(&self, from: Bound<&[u8]>) -> Result<Option<Lying<Self::Bytes>>, StoreError>;
}

/// A block as it lies on a shelf.
pub(in crate::store) struct Lying<B> {
    pub(in crate::store) bound: B,
    pub(in crate::store) block: B,
}

/// The value of a row.
pub(in crate::store) fn get(shelf: &impl Shelf, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
    let Some(found) = shelf.first(Bound::Included(key))? else {
        return Ok(None);
    };
    let mut rows = Rows::of(found.block);
    while let Some(value) = rows.next()? {
        if rows.key.as_slice() >= key {
            return Ok((rows.key == key).then(|| rows.bytes(value).to_vec()));
        }
    }
    Ok(None)
}

/// The rows from a key on, each once and in order.
///
/// Each block is looked up when its turn comes. A walk over blocks that were found together would
/// miss rows that have moved in between to a block beside them.
pub(in crate::store) fn rows_from<'s, S: Shelf>(
    shelf: &'s S,
    from: Bound<&[u8]>,
) -> RowsFrom<'s, S> {
    RowsFrom {
        shelf,
        from: from.map(<[u8]>::to_vec),
        next: from.map(<[u8]>::to_vec),
        read: None,
    }
}

/// See [`rows_from`].
pub(in crate::store) struct RowsFrom<'s, S: Shelf> {
    shelf: &'s S,
    /// From here on rows count.
    from: Bound<Vec<u8>>,
    /// From here on the bound of the next block counts.
    next: Bound<Vec<u8>>,
    read: Option<Rows<S::Bytes>>,
}

impl<S: Shelf> Iterator for RowsFrom<'_, S> {
    type Item = Result<Pair, StoreError>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let Some(rows) = &mut self.read else {
                let found = self.shelf.first(self.next.as_ref().map(Vec::as_slice));
                match found.transpose()? {
                    Ok(Lying { bound, block }) => {
                        self.next = Bound::Excluded(bound.as_ref().to_vec());
                        self.read = Some(Rows::of(block));
                    }
                    Err(problem) => return Some(Err(problem)),
                }
                continue;
            };
            match rows.next() {
                Ok(Some(value)) if counts(&self.from, &rows.key) => {
                    self.from = Bound::Excluded(rows.key.clone());
                    return Some(Ok((rows.key.clone(), rows.bytes(value).to_vec())));
                }
                Ok(Some(_)) => {}
                Ok(None) => self.read = None,
                Err(problem) => {
                    self.read = None;
                    return Some(Err(problem));
                }
            }
        }
    }
}

fn counts(from: &Bound<Vec<u8>>, key: &[u8]) -> bool {
    match from {
        Bound::Included(from) => key >= from.as_slice(),
        Bound::Excluded(from) => key > from.as_slice(),
        Bound::Unbounded => true,
    }
}

/// Makes changes of rows, which come in the order of their keys; gives the changes of blocks, by
/// their bounds.
pub(in crate::store) fn changed<'c>(
    shelf: &impl Shelf,
    changes: impl Iterator<Item = (&'c [u8], Option<&'c [u8]>)>,
) -> Result<Changes, StoreError> {
    let mut changes = changes.peekable();
    let mut written = Changes::new();
    // Rows of a block that became short.
    let mut left: Vec<Pair> = Vec::new();
    let mut behind: Vec<u8> = Vec::new();
    loop {
        let from = match (left.is_empty(), changes.peek()) {
            (true, None) => return Ok(written),
            (true, Some((key, _))) => Bound::Included(*key),
            (false, _) => Bound::Excluded(behind.as_slice()),
        };
        let found = shelf.first(from)?;
        let (bound, block) = match &found {
            Some(Lying { bound, block }) => (bound.as_ref(), block.as_ref()),
            None => (LAST, [].as_slice()),
        };
        let mut rows = std::mem::take(&mut left);
        rows.reserve(block.len() / 32);
        let mut there = Rows::of(block);
        while let Some(value) = there.next()? {
            take_before(&mut changes, &mut rows, |key| key < there.key.as_slice());
            match changes.next_if(|(key, _)| *key == there.key) {
                Some((key, value)) => {
                    rows.extend(value.map(|value| (key.to_vec(), value.to_vec())))
                }
                None => rows.push((there.key.clone(), there.bytes(value).to_vec())),
            }
        }
        take_before(&mut changes, &mut rows, |key| key <= bound);
        behind = bound.to_vec();
        let is_short = rows.iter().map(weight).sum::<usize>() < SHORTEST;
        if rows.is_empty() || (is_short && bound != LAST) {
            written.insert(behind.clone(), None);
            left = rows;
        } else {
            cut(&rows, bound, &mut written);
        }
    }
}

/// Takes the changes whose keys come before something.
fn take_before<'c>(
    changes: &mut std::iter::Peekable<impl Iterator<Item = (&'c [u8], Option<&'c [u8]>)>>,
    rows: &mut Vec<Pair>,
    is_before: impl Fn(&[u8]) -> bool,
) {
    while let Some((key, value)) = changes.next_if(|(key, _)| is_before(key)) {
        rows.extend(value.map(|value| (key.to_vec(), value.to_vec())));
    }
}

/// What a row takes at most.
fn weight((key, value): &Pair) -> usize {
    1 + 4 + key.len() + 4 + value.len()
}

/// Writes rows into one block, or into several if it would be long.
fn cut(rows: &[Pair], bound: &[u8], written: &mut Changes) {
    let whole = Block::of(rows).writer.bytes;
    if whole.len() <= LONGEST {
        written.insert(bound.to_vec(), Some(whole));
        return;
    }
    let each = whole.len().div_ceil(whole.len().div_ceil(CUT));
    let mut block = Block::default();
    for (key, value) in rows {
        if block.writer.bytes.len() >= each {
            let block = std::mem::take(&mut block);
            written.insert(block.last, Some(block.writer.bytes));
        }
        block.add(key, value);
    }
    written.insert(bound.to_vec(), Some(block.writer.bytes));
}

/// A block under way. Of each key only what differs from the one before it is written.
#[derive(Default)]
struct Block {
    writer: Writer,
    last: Vec<u8>,
}

impl Block {
    fn of(rows: &[Pair]) -> Block {
        let mut block = Block::default();
        rows.iter().for_each(|(key, value)| block.add(key, value));
        block
    }

    fn add(&mut self, key: &[u8], value: &[u8]) {
        let alike = key.iter().zip(&self.last).take_while(|(a, b)| a == b);
        let alike = u8::try_from(alike.count()).unwrap_or(u8::MAX);
        self.writer.byte(alike);
        self.writer.piece(&key[usize::from(alike)..]);
        self.writer.piece(value);
        key.clone_into(&mut self.last);
    }
}

/// Reads a block's rows one after the other.
struct Rows<B> {
    block: B,
    at: usize,
    /// The key of the row read last.
    key: Vec<u8>,
}

impl<B: AsRef<[u8]>> Rows<B> {
    fn of(block: B) -> Rows<B> {
        Rows {
            block,
            at: 0,
            key: Vec::new(),
        }
    }

    /// Where the value of the next row is; its key stands in `key` then.
    fn next(&mut self) -> Result<Option<Range<usize>>, StoreError> {
        let rest = &self.block.as_ref()[self.at..];
        if rest.is_empty() {
            return Ok(None);
        }
        let mut reader = Reader::new(rest);
        let value = (|| {
            let alike = usize::from(reader.byte()?);
            let other = reader.piece()?;
            if alike > self.key.len() {
                return None;
            }
            self.key.truncate(alike);
            self.key.extend(other);
            reader.piece().map(<[u8]>::len)
        })();
        let length = value.ok_or_else(keys::wrong_value)?;
        self.at += reader.at();
        Ok(Some(self.at - length..self.at))
    }

    fn bytes(&self, at: Range<usize>) -> &[u8] {
        &self.block.as_ref()[at]
    }
}

#[cfg(test)]
mod tests;
