//! Reading the journal at opening: is it whole, and where does it end?
//!
//! It is read from its begin, or from a frame on up to which everything is known to have been on
//! the disk; of the files before that only the headers are looked at.
//!
//! A frame that cannot be read is either an unfinished last write, which was never acknowledged
//! and may be cut off, or damage, which must be refused. A write is unfinished only if nothing
//! says that the frame was on the disk before: not a later frame (each names the last one known
//! to be on the disk), not a later file, and not what is known from elsewhere.

use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::frame::{ENVELOPE_BYTES, Sealed, payload_bytes};
use super::segment::{FORMAT, HEADER_BYTES, Header, Segments};
use crate::store::StoreError;
use crate::store::disk::DiskFile;
use crate::store::index::{Begins, Watermark};

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
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Scanned {
    /// The number of the last whole frame, 0 for an empty journal.
    pub(super) last_frame: u64,
    /// Its time, if it was read.
    pub(super) last_at: Option<Timestamp>,
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

/// A place in a journal, between two frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Start {
    segment: u32,
    offset: u64,
    /// The frame before it, 0 for none.
    pub(super) after: u64,
}

impl Start {
    /// The begin of a journal.
    pub(super) const BEGIN: Start = Start {
        segment: 1,
        offset: HEADER_BYTES as u64,
        after: 0,
    };

    /// The place after the last frame that an index holds; none if that frame is not where the
    /// index says, or not that frame.
    pub(super) fn behind(
        segments: &Segments,
        mark: &Watermark,
    ) -> Result<Option<Start>, StoreError> {
        let Some(Begins { segment, offset }) = mark.begins else {
            return Ok(None);
        };
        if !segments.numbers()?.contains(&segment) {
            return Ok(None);
        }
        let mut file = SegmentFile::open(segments, segment)?;
        let frame = file.frame(offset)?;
        let same = frame.filter(|found| (found.number, found.crc) == (mark.frame, mark.crc));
        Ok(same.map(|found| Start {
            segment,
            offset: offset + found.bytes() as u64,
            after: mark.frame,
        }))
    }
}

/// Reads every frame from `start` on in order and shows it to `visit`. Frames up to
/// `known_durable` are known from elsewhere to have been on the disk.
pub(super) fn scan(
    segments: &Segments,
    start: Start,
    known_durable: u64,
    visit: &mut dyn FnMut(Found<'_>) -> Result<(), StoreError>,
) -> Result<Scanned, StoreError> {
    let numbers = segments.numbers()?;
    let mut scanned = Scanned {
        last_frame: 0,
        last_at: None,
        tail: None,
        torn: None,
    };
    let mut last_first = 0;
    for (at, number) in numbers.iter().copied().enumerate() {
        let expected = u32::try_from(at + 1).unwrap_or(u32::MAX);
        if number != expected {
            let missing = segments.path(expected);
            let what = format!("The journal's file {} is missing.", missing.display());
            return Err(StoreError::damaged(what));
        }
        let mut file = SegmentFile::open(segments, number)?;
        let is_last = at + 1 == numbers.len();
        let mut from = HEADER_BYTES as u64;
        if start.after > 0 && number <= start.segment {
            last_first = file.trusted_header(last_first, start.after)?;
            if number < start.segment {
                continue;
            }
            (scanned.last_frame, from) = (start.after, start.offset);
        } else if !file.header(&mut scanned, is_last.then_some(known_durable))? {
            break;
        }
        file.scan(&mut scanned, from, is_last.then_some(known_durable), visit)?;
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

    /// Reads this file's frames from a place on. `known_durable` is given for the last file only:
    /// whatever a file holds was on the disk before the next one was begun.
    fn scan(
        mut self,
        scanned: &mut Scanned,
        mut offset: u64,
        known_durable: Option<u64>,
        visit: &mut dyn FnMut(Found<'_>) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        while offset < self.length {
            let segment = self.number;
            let next = scanned.last_frame + 1;
            let out_of_order = self.damaged(scanned, offset);
            let Some(sealed) = self.frame(offset)? else {
                break;
            };
            if sealed.number != next {
                return Err(out_of_order);
            }
            let (bytes, at) = (sealed.bytes() as u64, sealed.at());
            visit(Found {
                segment,
                offset,
                sealed,
            })?;
            (scanned.last_frame, scanned.last_at) = (next, at);
            offset += bytes;
        }
        scanned.tail = Some((self.number, offset));
        if offset < self.length {
            scanned.torn = Some(self.torn(scanned, offset, known_durable)?);
        }
        Ok(())
    }

    /// Reads the header of a file whose frames are not read, after one that began with frame
    /// `before`; gives with which frame this one begins.
    fn trusted_header(&mut self, before: u64, up_to: u64) -> Result<u64, StoreError> {
        match Header::at_begin_of(self.bytes(0, HEADER_BYTES)?) {
            Header::Whole { first_frame } if (before + 1..=up_to + 1).contains(&first_frame) => {
                Ok(first_frame)
            }
            Header::Newer { format } => Err(self.newer(format)),
            Header::Whole { .. } | Header::Broken => Err(StoreError::damaged(format!(
                "The journal is damaged: the begin of {} is not what was safely written there.",
                self.path.display()
            ))),
        }
    }

    fn newer(&self, found: u32) -> StoreError {
        StoreError::Newer {
            path: self.path.clone(),
            found,
            known: FORMAT,
        }
    }

    /// Reads the header; `false` for an unfinished one.
    fn header(
        &mut self,
        scanned: &mut Scanned,
        known_durable: Option<u64>,
    ) -> Result<bool, StoreError> {
        let damaged = self.damaged(scanned, 0);
        match Header::at_begin_of(self.bytes(0, HEADER_BYTES)?) {
            Header::Newer { format } => Err(self.newer(format)),
            Header::Whole { first_frame } if first_frame == scanned.last_frame + 1 => Ok(true),
            // The header is on the disk before the first frame is written after it.
            Header::Broken if known_durable.is_some() && self.length <= HEADER_BYTES as u64 => {
                let torn = Torn {
                    segment: self.number,
                    offset: 0,
                    bytes: self.length,
                };
                scanned.torn = Some(torn);
                Ok(false)
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

    /// Decides whether the next frame, which cannot be read, is an unfinished write or damage.
    fn torn(
        &self,
        scanned: &Scanned,
        offset: u64,
        known_durable: Option<u64>,
    ) -> Result<Torn, StoreError> {
        let number = scanned.last_frame + 1;
        let Some(known_durable) = known_durable else {
            return Err(self.damaged(scanned, offset));
        };
        let bytes = self.length - offset;
        let mut rest = vec![0; usize::try_from(bytes).unwrap_or(usize::MAX)];
        let read = self.file.read_at(&mut rest, offset);
        read.map_err(StoreError::io("read", &self.path))?;
        if known_durable.max(durable_according_to(&rest, number)) >= number {
            return Err(self.damaged(scanned, offset));
        }
        Ok(Torn {
            segment: self.number,
            offset,
            bytes,
        })
    }

    fn damaged(&self, scanned: &Scanned, offset: u64) -> StoreError {
        damaged(scanned, offset, &self.path)
    }
}

/// The next frame is not there: where, and how much before it can be read.
pub(super) fn damaged(scanned: &Scanned, offset: u64, path: &Path) -> StoreError {
    let Scanned {
        last_frame,
        last_at,
        ..
    } = scanned;
    let readable = match (last_frame, last_at) {
        (0, _) => "nothing before it can be read".to_owned(),
        (1, Some(at)) => format!("the one frame before it, of {at}, can be read"),
        (frames, Some(at)) => format!("the {frames} frames before it, up to {at}, can be read"),
        (frames, None) => format!("the {frames} frames before it are another matter"),
    };
    StoreError::damaged(format!(
        "The journal is damaged: frame {}, at byte {offset} of {}, is not what was safely written \
         there; {readable}.",
        last_frame + 1,
        path.display()
    ))
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
