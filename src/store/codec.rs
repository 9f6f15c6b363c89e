//! Bytes in a row: how frames and index values are written and read back.
//!
//! Numbers are written least byte first, except in keys, where the greatest byte comes first so
//! that keys sort as the numbers do.

use jiff::Timestamp;

/// Writes values one after the other.
#[derive(Debug, Default)]
pub(super) struct Writer {
    pub(super) bytes: Vec<u8>,
}

impl Writer {
    pub(super) fn byte(&mut self, value: u8) {
        self.bytes.push(value);
    }

    pub(super) fn number(&mut self, value: u64) {
        self.bytes.extend(value.to_le_bytes());
    }

    pub(super) fn small(&mut self, value: u32) {
        self.bytes.extend(value.to_le_bytes());
    }

    /// A length or count. A batch is limited to far less than fits.
    pub(super) fn count(&mut self, value: usize) {
        self.small(u32::try_from(value).unwrap_or(u32::MAX));
    }

    pub(super) fn time(&mut self, at: Timestamp) {
        self.bytes.extend(time_bytes(at));
    }

    pub(super) fn raw(&mut self, bytes: &[u8]) {
        self.bytes.extend(bytes);
    }

    /// Bytes with their length before them.
    pub(super) fn piece(&mut self, bytes: &[u8]) {
        self.count(bytes.len());
        self.raw(bytes);
    }

    /// A value that may be absent, with a byte before it that tells.
    pub(super) fn maybe<T>(&mut self, value: Option<T>, write: impl FnOnce(&mut Writer, T)) {
        self.byte(u8::from(value.is_some()));
        if let Some(value) = value {
            write(self, value);
        }
    }
}

/// Reads back what a [`Writer`] wrote. `None` means that something else was written.
#[derive(Debug)]
pub(super) struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Reader<'a> {
        Reader { bytes, at: 0 }
    }

    /// How many bytes were read.
    pub(super) fn at(&self) -> usize {
        self.at
    }

    pub(super) fn raw(&mut self, length: usize) -> Option<&'a [u8]> {
        let end = self.at.checked_add(length)?;
        let bytes = self.bytes.get(self.at..end)?;
        self.at = end;
        Some(bytes)
    }

    pub(super) fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.raw(N)?.try_into().ok()
    }

    pub(super) fn byte(&mut self) -> Option<u8> {
        self.array::<1>().map(|[byte]| byte)
    }

    pub(super) fn number(&mut self) -> Option<u64> {
        self.array().map(u64::from_le_bytes)
    }

    pub(super) fn small(&mut self) -> Option<u32> {
        self.array().map(u32::from_le_bytes)
    }

    pub(super) fn count(&mut self) -> Option<usize> {
        usize::try_from(self.small()?).ok()
    }

    pub(super) fn time(&mut self) -> Option<Timestamp> {
        time_from(self.array()?)
    }

    pub(super) fn piece(&mut self) -> Option<&'a [u8]> {
        let length = self.count()?;
        self.raw(length)
    }

    pub(super) fn text(&mut self) -> Option<String> {
        String::from_utf8(self.piece()?.to_vec()).ok()
    }

    pub(super) fn maybe<T>(
        &mut self,
        read: impl FnOnce(&mut Reader<'a>) -> Option<T>,
    ) -> Option<Option<T>> {
        match self.byte()? {
            0 => Some(None),
            1 => read(self).map(Some),
            _ => None,
        }
    }

    /// A count and then that many items.
    pub(super) fn list<T>(
        &mut self,
        mut read: impl FnMut(&mut Reader<'a>) -> Option<T>,
    ) -> Option<Vec<T>> {
        // The count is not trusted with memory: a wrong one runs out of bytes soon.
        let count = self.count()?;
        (0..count).map(|_| read(self)).collect()
    }

    /// The value, if nothing is left unread.
    pub(super) fn end<T>(&self, value: T) -> Option<T> {
        (self.at == self.bytes.len()).then_some(value)
    }
}

/// A time in 16 bytes that sort as the times do.
pub(super) fn time_bytes(at: Timestamp) -> [u8; 16] {
    // Turning the sign bit puts the times before 1970 in front of those after.
    (at.as_nanosecond() ^ i128::MIN).to_be_bytes()
}

/// Reads [`time_bytes`] back.
pub(super) fn time_from(bytes: [u8; 16]) -> Option<Timestamp> {
    Timestamp::from_nanosecond(i128::from_be_bytes(bytes) ^ i128::MIN).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_sort_as_their_bytes_and_read_back() {
        let times = [Timestamp::MIN, Timestamp::UNIX_EPOCH, Timestamp::MAX];
        let between = [-1_500_000_000_i128, 1].map(|at| Timestamp::from_nanosecond(at).unwrap());
        let in_order = [times[0], between[0], times[1], between[1], times[2]];
        assert!(
            in_order
                .windows(2)
                .all(|pair| time_bytes(pair[0]) < time_bytes(pair[1]))
        );
        assert!(
            in_order
                .iter()
                .all(|at| time_from(time_bytes(*at)) == Some(*at))
        );
        assert_eq!(time_from([0xff; 16]), None);
    }

    #[test]
    fn a_wrong_count_runs_out_of_bytes() {
        let mut writer = Writer::default();
        writer.count(usize::MAX);
        assert_eq!(Reader::new(&writer.bytes).list(Reader::byte), None);
        assert_eq!(Reader::new(&writer.bytes).piece(), None);
    }
}
