//! Lists read piece by piece.

use std::fmt;
use std::str::FromStr;

use super::StoreError;

/// Where a list goes on. It means nothing outside the store that gave it, and only together
/// with the same question; entries added in the meantime do not shift it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cursor(Vec<u8>);

impl Cursor {
    /// The cursor after the item with this key.
    pub(super) fn after(key: &[u8]) -> Cursor {
        Cursor(key.to_vec())
    }

    /// The key of the item it stands after, if it belongs to a list whose keys all begin so.
    pub(super) fn key_within(&self, prefix: &[u8]) -> Result<&[u8], StoreError> {
        if self.0.starts_with(prefix) {
            Ok(&self.0)
        } else {
            Err(StoreError::ForeignCursor)
        }
    }
}

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for Cursor {
    type Err = StoreError;

    fn from_str(text: &str) -> Result<Cursor, StoreError> {
        if !text.len().is_multiple_of(2) || !text.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(StoreError::ForeignCursor);
        }
        let pairs = text.as_bytes().chunks_exact(2);
        let byte = |pair: &[u8]| {
            let pair = std::str::from_utf8(pair).map_err(|_| StoreError::ForeignCursor)?;
            u8::from_str_radix(pair, 16).map_err(|_| StoreError::ForeignCursor)
        };
        pairs.map(byte).collect::<Result<_, _>>().map(Cursor)
    }
}

/// One piece of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page<T> {
    /// The items, in order.
    pub items: Vec<T>,
    /// Where the list goes on, `None` at its end.
    pub next: Option<Cursor>,
}

impl<T> Page<T> {
    /// A page of items that come with their keys: the first `limit`, with a cursor if there is
    /// one more. The items must be the list's first `limit + 1` or all of it.
    pub(super) fn of(mut keyed: Vec<(Vec<u8>, T)>, limit: usize) -> Page<T> {
        let limit = limit.max(1);
        let more = keyed.len() > limit;
        keyed.truncate(limit);
        let last = keyed.last().filter(|_| more);
        let next = last.map(|(key, _)| Cursor::after(key));
        Page {
            items: keyed.into_iter().map(|(_, item)| item).collect(),
            next,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cursor_survives_an_address_line() {
        let cursor = Cursor::after(b"\x00job\xff");
        assert_eq!(cursor.to_string(), "006a6f62ff");
        assert_eq!(cursor.to_string().parse::<Cursor>().unwrap(), cursor);
        for text in ["0", "zz", "+1", "é"] {
            assert!(text.parse::<Cursor>().is_err(), "{text}");
        }
    }

    #[test]
    fn only_a_page_with_more_to_come_has_a_cursor() {
        let keyed = || vec![(vec![1], 'a'), (vec![2], 'b')];
        assert_eq!(Page::of(keyed(), 1).next, Some(Cursor::after(&[1])));
        assert_eq!(Page::of(keyed(), 2).next, None);
        assert_eq!(Page::of(keyed(), 0).items, ['a']);
    }
}
