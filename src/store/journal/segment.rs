//! The journal's files: frames in a row, in files of limited length.
//!
//! A file begins with a header: eight letters, the format (4 bytes), the number of its first
//! frame (8 bytes) and a CRC-32 over these (4 bytes).

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::{Arc, PoisonError, RwLock};

use super::frame::read_entry;
use crate::record::chain::{Stored, entry_hash};
use crate::record::stream::{Seq, StreamId};
use crate::store::StoreError;
use crate::store::codec::{Reader, Writer};
use crate::store::disk::{DiskFile, Folder, Opening};

/// The format written, and the newest that can be read.
pub(super) const FORMAT: u32 = 1;

/// Bytes of a file's header.
pub(super) const HEADER_BYTES: usize = 24;

const LETTERS: [u8; 8] = *b"fanwjrnl";
const ENDING: &str = "journal";

/// What a file is called until it is the journal's next.
const PREPARED: &str = "next-file";

/// The header of a file whose first frame has this number.
pub(super) fn header(first_frame: u64) -> Vec<u8> {
    header_of_format(FORMAT, first_frame)
}

fn header_of_format(format: u32, first_frame: u64) -> Vec<u8> {
    let mut writer = Writer::default();
    writer.raw(&LETTERS);
    writer.small(format);
    writer.number(first_frame);
    writer.small(crc32fast::hash(&writer.bytes));
    writer.bytes
}

/// What a file's first bytes are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Header {
    /// A whole header of a format that can be read.
    Whole { first_frame: u64 },
    /// A whole header of a later format.
    Newer { format: u32 },
    /// Not a whole header.
    Broken,
}

impl Header {
    pub(super) fn at_begin_of(bytes: &[u8]) -> Header {
        let read = || {
            let mut reader = Reader::new(bytes);
            let letters: [u8; 8] = reader.array()?;
            let (format, first_frame) = (reader.small()?, reader.number()?);
            let covered = bytes.get(..reader.at())?;
            let whole = letters == LETTERS && reader.small()? == crc32fast::hash(covered);
            whole.then_some((format, first_frame))
        };
        match read() {
            Some((FORMAT, first_frame)) => Header::Whole { first_frame },
            Some((format, _)) => Header::Newer { format },
            None => Header::Broken,
        }
    }
}

/// Where an entry lies in the journal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::store) struct Place {
    pub(in crate::store) segment: u32,
    pub(in crate::store) offset: u64,
    pub(in crate::store) length: u32,
}

impl Place {
    /// The place of what lies in this range of a frame that begins at `offset`.
    pub(super) fn new(segment: u32, offset: u64, range: Range<usize>) -> Place {
        Place {
            segment,
            offset: offset + range.start as u64,
            // A frame is far shorter than 4 GiB.
            length: u32::try_from(range.len()).unwrap_or(u32::MAX),
        }
    }
}

/// All files of a journal, for reading entries while the last one grows.
pub(super) struct Segments {
    folder: Folder,
    open: RwLock<BTreeMap<u32, Arc<dyn DiskFile>>>,
}

impl Segments {
    pub(super) fn in_folder(folder: Folder) -> Segments {
        Segments {
            folder,
            open: RwLock::default(),
        }
    }

    pub(super) fn folder(&self) -> &Folder {
        &self.folder
    }

    pub(super) fn path(&self, segment: u32) -> PathBuf {
        self.folder.path().join(Segments::name(segment))
    }

    /// What a file is called.
    pub(super) fn name(segment: u32) -> String {
        format!("{segment:08}.{ENDING}")
    }

    /// The numbers of the files there are, in order.
    pub(super) fn numbers(&self) -> Result<Vec<u32>, StoreError> {
        let listing = |source| StoreError::io("list", self.folder.path())(source);
        let mut numbers = Vec::new();
        for path in self.folder.list().map_err(listing)? {
            if path.extension().is_none_or(|ending| ending != ENDING) {
                continue;
            }
            let stem = path.file_stem().and_then(|stem| stem.to_str());
            numbers.extend(stem.and_then(|stem| stem.parse::<u32>().ok()));
        }
        numbers.sort_unstable();
        Ok(numbers)
    }

    /// Makes a file with its header on the disk, under a name that is none of the journal's: one
    /// that fails half-way must not be taken for the journal's end.
    pub(super) fn prepare(&self, first_frame: u64) -> Result<Box<dyn DiskFile>, StoreError> {
        let making = |source| StoreError::io("make", self.folder.path().join(PREPARED))(source);
        let opened = self.folder.open(PREPARED, Opening::Emptied);
        let file = opened.map_err(making)?;
        file.write_at(&header(first_frame), 0).map_err(making)?;
        file.sync().map_err(making)?;
        Ok(file)
    }

    /// Gives what was prepared its name, which is on the disk before this returns. After an error
    /// nobody knows whether it has it.
    pub(super) fn put_in_place(&self, segment: u32) -> Result<(), StoreError> {
        let renamed = self.folder.rename(PREPARED, &Segments::name(segment));
        renamed.map_err(StoreError::io("make", self.path(segment)))?;
        self.folder.sync()
    }

    /// The file, opened for reading and writing.
    pub(super) fn open(&self, segment: u32) -> Result<Box<dyn DiskFile>, StoreError> {
        let opened = self
            .folder
            .open(&Segments::name(segment), Opening::ToChange);
        opened.map_err(StoreError::io("open", self.path(segment)))
    }

    /// The file, opened for reading only, as a disk that takes no more writes allows it.
    pub(super) fn open_to_read(&self, segment: u32) -> Result<Box<dyn DiskFile>, StoreError> {
        let opened = self.folder.open(&Segments::name(segment), Opening::ToRead);
        opened.map_err(StoreError::io("open", self.path(segment)))
    }

    /// Waits until everything that the files hold is on the disk. A process that was killed may
    /// have left something that was written and not waited for: it is read like everything else,
    /// so it must not be lost any more.
    pub(super) fn sync(&self) -> Result<(), StoreError> {
        if let Some(last) = self.numbers()?.last() {
            let synced = self.open(*last)?.sync();
            synced.map_err(StoreError::io("write", self.path(*last)))?;
        }
        self.folder.sync()
    }

    /// The entry at a place, checked against its hash.
    pub(super) fn entry(
        &self,
        stream: StreamId,
        seq: Seq,
        place: Place,
    ) -> Result<Stored, StoreError> {
        let file = self.reading(place.segment)?;
        let mut bytes = vec![0; usize::try_from(place.length).unwrap_or(usize::MAX)];
        let read = file.read_at(&mut bytes, place.offset);
        read.map_err(|source| StoreError::io("read", self.path(place.segment))(source))?;
        let entry = read_entry(seq, &bytes)
            .filter(|entry| entry.hash == entry_hash(stream, seq, entry.previous, &entry.bytes));
        entry.ok_or_else(|| {
            StoreError::damaged(format!(
                "Entry {seq} of {stream} does not match its hash: {} was changed at byte {}.",
                self.path(place.segment).display(),
                place.offset
            ))
        })
    }

    fn reading(&self, segment: u32) -> Result<Arc<dyn DiskFile>, StoreError> {
        let open = self.open.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(file) = open.get(&segment) {
            return Ok(Arc::clone(file));
        }
        drop(open);
        let opened = self.folder.open(&Segments::name(segment), Opening::ToRead);
        let opened = opened.map_err(StoreError::io("open", self.path(segment)))?;
        let mut open = self.open.write().unwrap_or_else(PoisonError::into_inner);
        Ok(Arc::clone(open.entry(segment).or_insert(opened.into())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_reads_back_and_every_flipped_bit_is_noticed() {
        let whole = header(7);
        assert_eq!(whole.len(), HEADER_BYTES);
        assert_eq!(
            Header::at_begin_of(&whole),
            Header::Whole { first_frame: 7 }
        );
        for bit in 0..whole.len() * 8 {
            let mut flipped = whole.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(Header::at_begin_of(&flipped), Header::Broken, "bit {bit}");
        }
    }

    #[test]
    fn a_later_format_is_told_from_damage() {
        let newer = header_of_format(FORMAT + 1, 7);
        assert_eq!(
            Header::at_begin_of(&newer),
            Header::Newer { format: FORMAT + 1 }
        );
    }
}
