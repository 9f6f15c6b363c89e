//! Frames read one after the other from anything that can be read: a file, or pieces of a backup.

use std::io::{self, Read};

use super::frame::{ENVELOPE_BYTES, Sealed, payload_bytes};
use super::segment::{HEADER_BYTES, Header, Segments};
use crate::store::StoreError;
use crate::store::disk::DiskFile;

/// A file of the journal, read in order from a place on.
pub(super) struct FileReader {
    file: Box<dyn DiskFile>,
    at: u64,
    end: u64,
}

impl FileReader {
    /// Reads a file from here up to there, or to its end if that comes first.
    pub(super) fn open(
        segments: &Segments,
        segment: u32,
        at: u64,
        end: u64,
    ) -> Result<FileReader, StoreError> {
        let file = segments.open_to_read(segment)?;
        let length = file.length();
        let length = length.map_err(StoreError::io("read", segments.path(segment)))?;
        let end = end.min(length);
        Ok(FileReader { file, at, end })
    }

    /// Where it ends.
    pub(super) fn end(&self) -> u64 {
        self.end
    }

    /// Reads on from another place.
    pub(super) fn go_to(&mut self, at: u64) {
        self.at = at;
    }
}

impl Read for FileReader {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let left = usize::try_from(self.end.saturating_sub(self.at)).unwrap_or(usize::MAX);
        let count = left.min(into.len());
        self.file.read_at(&mut into[..count], self.at)?;
        self.at += count as u64;
        Ok(count)
    }
}

/// Reads what a file of the journal holds, from its begin or from some frame on.
#[derive(Debug)]
pub(super) struct Frames<R> {
    source: R,
    /// What was read last, as it lies there.
    raw: Vec<u8>,
    /// Where the next frame begins.
    at: u64,
}

/// What comes next.
#[derive(Debug)]
pub(super) enum Next<'a> {
    /// A whole frame.
    Frame(Sealed<'a>),
    /// Nothing more.
    End,
    /// Something that is no whole frame.
    Broken,
}

impl<R: Read> Frames<R> {
    /// Reads on from a source that stands at this place of the file.
    pub(super) fn from(source: R, at: u64) -> Frames<R> {
        Frames {
            source,
            raw: Vec::new(),
            at,
        }
    }

    /// What it reads from.
    pub(super) fn source(&mut self) -> &mut R {
        &mut self.source
    }

    /// Where the next frame begins.
    pub(super) fn at(&self) -> u64 {
        self.at
    }

    /// The bytes of what was read last.
    pub(super) fn raw(&self) -> &[u8] {
        &self.raw
    }

    /// Reads the header.
    pub(super) fn header(&mut self) -> io::Result<Header> {
        self.raw.clear();
        self.fill(HEADER_BYTES)?;
        self.at += self.raw.len() as u64;
        Ok(Header::at_begin_of(&self.raw))
    }

    /// Reads the next frame. After [`Next::Broken`] nothing more can be read.
    pub(super) fn next(&mut self) -> io::Result<Next<'_>> {
        self.raw.clear();
        if self.fill(ENVELOPE_BYTES)? == 0 {
            return Ok(Next::End);
        }
        let length = self.raw.first_chunk().copied().and_then(payload_bytes);
        let Some(length) = length.filter(|_| self.raw.len() == ENVELOPE_BYTES) else {
            return Ok(Next::Broken);
        };
        self.fill(length)?;
        Ok(match Sealed::at_begin_of(&self.raw) {
            Some(sealed) => {
                self.at += self.raw.len() as u64;
                Next::Frame(sealed)
            }
            None => Next::Broken,
        })
    }

    /// Reads so many bytes more, or as many as there are.
    fn fill(&mut self, bytes: usize) -> io::Result<usize> {
        self.source
            .by_ref()
            .take(bytes as u64)
            .read_to_end(&mut self.raw)
    }
}
