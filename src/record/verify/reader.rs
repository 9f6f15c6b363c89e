//! The lines of a file that is checked.

use crate::record::export::List;

/// The lines of a file, read one after the other. Line numbers begin with 1.
pub(super) struct Lines<'a> {
    whole: &'a [u8],
    /// Where the next line begins.
    from: usize,
    /// The number of the next line.
    at: usize,
}

impl<'a> Lines<'a> {
    pub(super) fn of(whole: &'a [u8]) -> Lines<'a> {
        Lines {
            whole,
            from: 0,
            at: 1,
        }
    }

    pub(super) fn whole(&self) -> &'a [u8] {
        self.whole
    }

    /// The line of this number from the beginning, if it is text.
    pub(super) fn text(&self, number: usize) -> Option<&'a str> {
        let line = self.whole.split(|byte| *byte == b'\n').nth(number - 1)?;
        str::from_utf8(line).ok()
    }

    /// The number of the next line.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    /// Everything before the next line.
    pub(super) fn before(&self) -> &'a [u8] {
        &self.whole[..self.from]
    }

    /// How many bytes are left, if any.
    pub(super) fn left(&self) -> Option<usize> {
        Some(self.whole.len() - self.from).filter(|left| *left > 0)
    }

    /// The next line without its line break; a last line that has none is no line.
    pub(super) fn peek(&self) -> Option<&'a [u8]> {
        let rest = &self.whole[self.from..];
        let end = rest.iter().position(|byte| *byte == b'\n')?;
        Some(&rest[..end])
    }

    pub(super) fn next(&mut self) -> Option<&'a [u8]> {
        let line = self.peek()?;
        self.from += line.len() + 1;
        self.at += 1;
        Some(line)
    }

    /// Whether the next line begins what comes after `list`.
    pub(super) fn begins_another(&self, list: List) -> bool {
        let Some(line) = self.peek() else {
            return false;
        };
        let mut others = List::ALL.into_iter().filter(|other| *other != list);
        line.starts_with(b"\"seal\": ") || others.any(|other| line == other.opener().as_bytes())
    }
}
