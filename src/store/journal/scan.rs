//! Reading the whole journal at opening: is it whole, and where does it end?
//!
//! A frame that cannot be read is either an unfinished last write, which was never acknowledged
//! and may be cut off, or damage, which must be refused. A write is unfinished only if nothing
//! says that the frame was on the disk before: not a later frame (each names the last one known
//! to be on the disk), not a later file, and not what is known from elsewhere.

use std::path::PathBuf;

use super::frame::{ENVELOPE_BYTES, Sealed, payload_bytes};
use super::segment::{FORMAT, HEADER_BYTES, Header, Segments};
use crate::store::StoreError;
use crate::store::disk::DiskFile;

/// How much of a file is read at once, unless a frame is longer.
const WINDOW_BYTES: usize = 1024 * 1024;

/// A whole frame and where it lies.
#[derive(Debug)]
pub(super) struct Found<'a> {
    pub(super) segment: u32,
    pub(super) offset: u64,
    pub(super) sealed: Sealed<'a>,
}

/// Where the journal ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Scanned {
    /// The number of the last whole frame, 0 for an empty journal.
    pub(super) last_frame: u64,
    /// The last file and where its last whole frame ends; `None` where there is no file.
    pub(super) tail: Option<(u32, u64)>,
    /// The unfinished write after that.
    pub(super) torn: Option<Torn>,
}

/// An unfinished write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Torn {
    pub(super) segment: u32,
    /// Where it begins; 0 if the file's header is unfinished.
    pub(super) offset: u64,
    pub(super) bytes: u64,
}

/// Reads every frame in order and shows it to `visit`. Frames up to `known_durable` are known
/// from elsewhere to have been on the disk.
pub(super) fn scan(
    segments: &Segments,
    known_durable: u64,
    visit: &mut dyn FnMut(Found<'_>) -> Result<(), StoreError>,
) -> Result<Scanned, StoreError> {
    let numbers = segments.numbers()?;
    let mut scanned = Scanned {
        last_frame: 0,
        tail: None,
        torn: None,
    };
    for (at, number) in numbers.iter().copied().enumerate() {
        let expected = u32::try_from(at + 1).unwrap_or(u32::MAX);
        if number != expected {
            let missing = segments.path(expected);
            let what = format!("The journal's file {} is missing.", missing.display());
            return Err(StoreError::damaged(what));
        }
        let file = SegmentFile::open(segments, number)?;
        let is_last = at + 1 == numbers.len();
        file.scan(&mut scanned, is_last.then_some(known_durable), visit)?;
    }
    if scanned.last_frame < known_durable {
        return Err(StoreError::damaged(format!(
            "The journal in {} ends with frame {}, but frame {known_durable} was safely kept.",
            segments.folder().path().display(),
            scanned.last_frame
        )));
    }
    Ok(scanned)
}

struct SegmentFile {
    number: u32,
    path: PathBuf,
    file: Box<dyn DiskFile>,
    length: u64,
    window: Vec<u8>,
    window_at: u64,
}

impl SegmentFile {
    fn open(segments: &Segments, number: u32) -> Result<SegmentFile, StoreError> {
        let path = segments.path(number);
        let file = segments.open(number)?;
        let length = file.length().map_err(StoreError::io("read", &path))?;
        Ok(SegmentFile {
            number,
            path,
            file,
            length,
            window: Vec::new(),
            window_at: 0,
        })
    }

    /// Reads this file's frames. `known_durable` is given for the last file only: whatever a
    /// file holds was on the disk before the next one was begun.
    fn scan(
        mut self,
        scanned: &mut Scanned,
        known_durable: Option<u64>,
        visit: &mut dyn FnMut(Found<'_>) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let Some(mut offset) = self.header(scanned, known_durable)? else {
            return Ok(());
        };
        while offset < self.length {
            let segment = self.number;
            let next = scanned.last_frame + 1;
            let out_of_order = self.damaged(next, offset);
            let Some(sealed) = self.frame(offset)? else {
                break;
            };
            if sealed.number != next {
                return Err(out_of_order);
            }
            let bytes = sealed.bytes() as u64;
            visit(Found {
                segment,
                offset,
                sealed,
            })?;
            scanned.last_frame = next;
            offset += bytes;
        }
        scanned.tail = Some((self.number, offset));
        if offset < self.length {
            scanned.torn = Some(self.torn(scanned.last_frame + 1, offset, known_durable)?);
        }
        Ok(())
    }

    /// Reads the header and gives where the frames begin, or `None` for an unfinished header.
    fn header(
        &mut self,
        scanned: &mut Scanned,
        known_durable: Option<u64>,
    ) -> Result<Option<u64>, StoreError> {
        let damaged = self.damaged(scanned.last_frame + 1, 0);
        match Header::at_begin_of(self.bytes(0, HEADER_BYTES)?) {
            Header::Newer { format: found } => Err(StoreError::Newer {
                path: self.path.clone(),
                found,
                known: FORMAT,
            }),
            Header::Whole { first_frame } if first_frame == scanned.last_frame + 1 => {
                Ok(Some(HEADER_BYTES as u64))
            }
            // The header is on the disk before the first frame is written after it.
            Header::Broken if known_durable.is_some() && self.length <= HEADER_BYTES as u64 => {
                let torn = Torn {
                    segment: self.number,
                    offset: 0,
                    bytes: self.length,
                };
                scanned.torn = Some(torn);
                Ok(None)
            }
            Header::Whole { .. } | Header::Broken => Err(damaged),
        }
    }

    /// The frame at this place, if it is whole.
    fn frame(&mut self, offset: u64) -> Result<Option<Sealed<'_>>, StoreError> {
        let envelope = self.bytes(offset, ENVELOPE_BYTES)?;
        let length = envelope.first_chunk().copied().and_then(payload_bytes);
        let Some(length) = length else {
            return Ok(None);
        };
        Ok(Sealed::at_begin_of(
            self.bytes(offset, ENVELOPE_BYTES + length)?,
        ))
    }

    /// Up to `count` bytes from a place, fewer at the end of the file.
    fn bytes(&mut self, offset: u64, count: usize) -> Result<&[u8], StoreError> {
        let left = usize::try_from(self.length.saturating_sub(offset)).unwrap_or(usize::MAX);
        let count = count.min(left);
        let inside = offset
            .checked_sub(self.window_at)
            .and_then(|at| usize::try_from(at).ok());
        let covered = inside.filter(|at| at + count <= self.window.len());
        let at = match covered {
            Some(at) => at,
            None => {
                self.window.resize(count.max(WINDOW_BYTES).min(left), 0);
                self.window_at = offset;
                let read = self.file.read_at(&mut self.window, offset);
                read.map_err(StoreError::io("read", &self.path))?;
                0
            }
        };
        Ok(&self.window[at..at + count])
    }

    /// Decides whether frame `number`, which cannot be read, is an unfinished write or damage.
    fn torn(
        &self,
        number: u64,
        offset: u64,
        known_durable: Option<u64>,
    ) -> Result<Torn, StoreError> {
        let Some(known_durable) = known_durable else {
            return Err(self.damaged(number, offset));
        };
        let bytes = self.length - offset;
        let mut rest = vec![0; usize::try_from(bytes).unwrap_or(usize::MAX)];
        let read = self.file.read_at(&mut rest, offset);
        read.map_err(StoreError::io("read", &self.path))?;
        if known_durable.max(durable_according_to(&rest, number)) >= number {
            return Err(self.damaged(number, offset));
        }
        Ok(Torn {
            segment: self.number,
            offset,
            bytes,
        })
    }

    fn damaged(&self, number: u64, offset: u64) -> StoreError {
        StoreError::damaged(format!(
            "The journal is damaged: frame {number}, at byte {offset} of {}, is not what was \
             safely written there.",
            self.path.display()
        ))
    }
}

/// The highest frame that whole frames somewhere in these bytes say was on the disk. The bytes
/// begin where frame `number` should.
fn durable_according_to(bytes: &[u8], number: u64) -> u64 {
    let later = number..=number.saturating_add(bytes.len() as u64);
    let plausible = |at: &usize| {
        let named = bytes
            .get(at + ENVELOPE_BYTES..)
            .and_then(|payload| payload.first_chunk());
        named.is_some_and(|named| later.contains(&u64::from_le_bytes(*named)))
    };
    let places = (0..bytes.len()).filter(plausible);
    let frames = places.filter_map(|at| Sealed::at_begin_of(&bytes[at..]));
    frames.map(|frame| frame.durable).max().unwrap_or(0)
}

#[cfg(test)]
mod tests;
