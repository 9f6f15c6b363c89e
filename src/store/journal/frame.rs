//! One frame of the journal: what one handled input left behind.
//!
//! On disk a frame is its payload's length (4 bytes), a CRC-32 over length and payload
//! (4 bytes), and the payload. The payload begins with the frame's number and the number of the
//! last frame that was known to be on the disk when this one was written: that is what tells an
//! unfinished write from damage.

use std::ops::Range;

use jiff::Timestamp;

use crate::record::chain::{Hash, Stored};
use crate::record::stream::{Seq, StreamId};
use crate::store::batch::{IndexChange, InputKey, Table};
use crate::store::codec::{Reader, Writer};
use crate::store::notice::{Delivery, DeliveryMark, NewNotice, NoticeId};

/// Bytes before the payload: length and checksum.
pub(super) const ENVELOPE_BYTES: usize = 8;

/// The shortest payload: number, durable, time, no key and four empty lists.
const PAYLOAD_BYTES_MIN: usize = 8 + 8 + 16 + 1 + 4 * 4;

/// The longest payload taken for one; a batch is checked to be shorter.
const PAYLOAD_BYTES_MAX: usize = crate::store::BATCH_BYTES_MAX;

/// Bytes of an entry before its content: the hash before and its own.
const ENTRY_HASHES_BYTES: usize = 64;

/// A frame, with everything that the store decided when it took the batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::store) struct Frame {
    /// The first frame of a journal is 1.
    pub(in crate::store) number: u64,
    /// The last frame known to be on the disk when this one was written.
    pub(in crate::store) durable: u64,
    pub(in crate::store) at: Timestamp,
    pub(in crate::store) key: Option<InputKey>,
    pub(in crate::store) appends: Vec<(StreamId, Vec<Stored>)>,
    pub(in crate::store) notices: Vec<(NoticeId, NewNotice)>,
    pub(in crate::store) marks: Vec<DeliveryMark>,
    pub(in crate::store) index: Vec<IndexChange>,
}

impl Frame {
    /// Adds the frame to `out` as it goes to the disk. Gives where each entry lies, counted from
    /// the frame's begin, in the order of the appends.
    pub(super) fn write(&self, out: &mut Vec<u8>) -> Vec<Range<usize>> {
        let begin = out.len();
        let mut writer = Writer {
            bytes: std::mem::take(out),
        };
        writer.raw(&[0; ENVELOPE_BYTES]);
        writer.number(self.number);
        writer.number(self.durable);
        writer.time(self.at);
        writer.maybe(self.key.as_ref(), |writer, key| {
            writer.piece(key.0.as_bytes())
        });
        let entries = self.write_appends(&mut writer, begin);
        self.write_rest(&mut writer);
        *out = writer.bytes;
        let frame = &mut out[begin..];
        let length = u32::try_from(frame.len() - ENVELOPE_BYTES)
            .unwrap_or(u32::MAX)
            .to_le_bytes();
        let crc = checksum(length, &frame[ENVELOPE_BYTES..]);
        frame[..4].copy_from_slice(&length);
        frame[4..ENVELOPE_BYTES].copy_from_slice(&crc.to_le_bytes());
        entries
    }

    fn write_appends(&self, writer: &mut Writer, begin: usize) -> Vec<Range<usize>> {
        let mut places = Vec::new();
        writer.count(self.appends.len());
        for (stream, entries) in &self.appends {
            writer.raw(&stream.to_bytes());
            writer.number(entries.first().map_or(0, |entry| entry.seq.0));
            writer.count(entries.len());
            for entry in entries {
                writer.count(entry.bytes.len());
                let from = writer.bytes.len() - begin;
                writer.raw(&entry.previous.0);
                writer.raw(&entry.hash.0);
                writer.raw(&entry.bytes);
                places.push(from..writer.bytes.len() - begin);
            }
        }
        places
    }

    fn write_rest(&self, writer: &mut Writer) {
        writer.count(self.notices.len());
        for (id, notice) in &self.notices {
            writer.number(id.0);
            writer.piece(notice.address.as_bytes());
            writer.piece(&notice.payload);
            writer.time(notice.due);
        }
        writer.count(self.marks.len());
        for mark in &self.marks {
            writer.number(mark.notice.0);
            match mark.outcome {
                Delivery::Delivered => writer.byte(0),
                Delivery::Retry { due } => {
                    writer.byte(1);
                    writer.time(due);
                }
                Delivery::GivenUp => writer.byte(2),
            }
        }
        writer.count(self.index.len());
        for change in &self.index {
            writer.piece(change.table.0.as_bytes());
            writer.piece(&change.key);
            writer.maybe(change.value.as_deref(), Writer::piece);
        }
    }

    /// Reads a payload whose checksum was right, and where each entry lies, counted from the
    /// frame's begin. `None` means that it was written by another program.
    pub(super) fn read(payload: &[u8]) -> Option<(Frame, Vec<Range<usize>>)> {
        let mut reader = Reader::new(payload);
        let mut entries = Vec::new();
        let frame = Frame {
            number: reader.number()?,
            durable: reader.number()?,
            at: reader.time()?,
            key: reader.maybe(|reader| reader.text().map(InputKey))?,
            appends: reader.list(|reader| read_append(reader, &mut entries))?,
            notices: reader.list(read_notice)?,
            marks: reader.list(read_mark)?,
            index: reader.list(read_index)?,
        };
        reader.end((frame, entries))
    }
}

fn read_append(
    reader: &mut Reader<'_>,
    places: &mut Vec<Range<usize>>,
) -> Option<(StreamId, Vec<Stored>)> {
    let stream = StreamId::from_bytes(&reader.array()?)?;
    let mut seq = Seq(reader.number()?);
    let entries = reader.list(|reader| {
        let length = reader.count()?;
        let from = ENVELOPE_BYTES + reader.at();
        let bytes = reader.raw(length.checked_add(ENTRY_HASHES_BYTES)?)?;
        places.push(from..ENVELOPE_BYTES + reader.at());
        let stored = read_entry(seq, bytes)?;
        seq = seq.next();
        Some(stored)
    })?;
    Some((stream, entries))
}

/// Reads an entry from the bytes at its place.
pub(super) fn read_entry(seq: Seq, bytes: &[u8]) -> Option<Stored> {
    let mut reader = Reader::new(bytes);
    let previous = Hash(reader.array()?);
    let hash = Hash(reader.array()?);
    let bytes = reader.raw(bytes.len() - ENTRY_HASHES_BYTES)?.to_vec();
    Some(Stored {
        seq,
        previous,
        hash,
        bytes,
    })
}

fn read_notice(reader: &mut Reader<'_>) -> Option<(NoticeId, NewNotice)> {
    let id = NoticeId(reader.number()?);
    let address = reader.text()?;
    let payload = reader.piece()?.to_vec();
    Some((
        id,
        NewNotice {
            address,
            payload,
            due: reader.time()?,
        },
    ))
}

fn read_mark(reader: &mut Reader<'_>) -> Option<DeliveryMark> {
    let notice = NoticeId(reader.number()?);
    let outcome = match reader.byte()? {
        0 => Delivery::Delivered,
        1 => Delivery::Retry {
            due: reader.time()?,
        },
        2 => Delivery::GivenUp,
        _ => return None,
    };
    Some(DeliveryMark { notice, outcome })
}

fn read_index(reader: &mut Reader<'_>) -> Option<IndexChange> {
    Some(IndexChange {
        table: Table(reader.text()?.into()),
        key: reader.piece()?.to_vec(),
        value: reader.maybe(|reader| reader.piece().map(<[u8]>::to_vec))?,
        // That matters only before it is written.
        is_new: false,
    })
}

/// A frame as it lies on the disk, its checksum being right.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sealed<'a> {
    pub(super) number: u64,
    pub(super) durable: u64,
    pub(super) crc: u32,
    pub(super) payload: &'a [u8],
    /// All of it, as it lies there.
    pub(super) raw: &'a [u8],
}

impl<'a> Sealed<'a> {
    /// The frame at the begin of these bytes; `None` if there is no whole one.
    pub(super) fn at_begin_of(bytes: &'a [u8]) -> Option<Sealed<'a>> {
        let mut reader = Reader::new(bytes);
        let length = reader.array()?;
        let crc = reader.small()?;
        let payload = payload_bytes(length).and_then(|bytes| reader.raw(bytes))?;
        let mut head = Reader::new(payload);
        let (number, durable) = (head.number()?, head.number()?);
        (checksum(length, payload) == crc).then_some(Sealed {
            number,
            durable,
            crc,
            payload,
            raw: &bytes[..ENVELOPE_BYTES + payload.len()],
        })
    }

    /// When the batch in it was handled.
    pub(super) fn at(&self) -> Option<Timestamp> {
        let mut head = Reader::new(self.payload);
        let (_, _) = (head.number()?, head.number()?);
        head.time()
    }

    /// The whole frame's bytes on the disk.
    pub(super) fn bytes(&self) -> usize {
        ENVELOPE_BYTES + self.payload.len()
    }
}

/// The length that an envelope names, if a payload can have it.
pub(super) fn payload_bytes(length: [u8; 4]) -> Option<usize> {
    let length = usize::try_from(u32::from_le_bytes(length)).ok()?;
    (PAYLOAD_BYTES_MIN..=PAYLOAD_BYTES_MAX)
        .contains(&length)
        .then_some(length)
}

fn checksum(length: [u8; 4], payload: &[u8]) -> u32 {
    let mut hasher = crc32fast::Hasher::new();
    hasher.update(&length);
    hasher.update(payload);
    hasher.finalize()
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::record::chain::Head;
    use crate::record::stream::StreamKind;

    fn full_frame() -> Frame {
        let job = StreamId::new(StreamKind::Job, Uuid::from_u128(5));
        let first = Stored::after(job, Head::NONE, b"begun".to_vec());
        let second = Stored::after(job, first.head(), Vec::new());
        let other = Stored::after(StreamId::SERVER, Head::NONE, b"noted".to_vec());
        let mark = |id, outcome| DeliveryMark {
            notice: NoticeId(id),
            outcome,
        };
        let notice = NewNotice {
            address: "page:7".to_owned(),
            payload: b"Come in".to_vec(),
            due: Timestamp::UNIX_EPOCH,
        };
        Frame {
            number: 9,
            durable: 7,
            at: Timestamp::UNIX_EPOCH,
            key: Some(InputKey("page:1".to_owned())),
            appends: vec![(job, vec![first, second]), (StreamId::SERVER, vec![other])],
            notices: vec![(NoticeId(3), notice)],
            marks: vec![
                mark(1, Delivery::Delivered),
                mark(
                    2,
                    Delivery::Retry {
                        due: Timestamp::UNIX_EPOCH,
                    },
                ),
                mark(3, Delivery::GivenUp),
            ],
            index: vec![
                IndexChange::put(Table::named("jobs"), *b"a", *b"b"),
                IndexChange::remove(Table::named("jobs"), *b"c"),
            ],
        }
    }

    #[test]
    fn a_frame_reads_back_with_the_same_places() {
        let frame = full_frame();
        let mut bytes = b"before".to_vec();
        let places = frame.write(&mut bytes);
        let bytes = &bytes[6..];
        let sealed = Sealed::at_begin_of(bytes).unwrap();
        assert_eq!(
            (sealed.number, sealed.durable, sealed.bytes()),
            (9, 7, bytes.len())
        );
        let (read, read_places) = Frame::read(sealed.payload).unwrap();
        assert_eq!((&read, &read_places), (&frame, &places));
        let entries = frame.appends.iter().flat_map(|(_, entries)| entries);
        for (entry, place) in entries.zip(places) {
            assert_eq!(read_entry(entry.seq, &bytes[place]).as_ref(), Some(entry));
        }
    }

    #[test]
    fn the_emptiest_frame_is_as_short_as_assumed() {
        let frame = Frame {
            key: None,
            appends: Vec::new(),
            notices: Vec::new(),
            marks: Vec::new(),
            index: Vec::new(),
            ..full_frame()
        };
        let mut bytes = Vec::new();
        frame.write(&mut bytes);
        assert_eq!(bytes.len(), ENVELOPE_BYTES + PAYLOAD_BYTES_MIN);
        assert!(Sealed::at_begin_of(&bytes).is_some());
    }

    #[test]
    fn every_flipped_bit_and_every_cut_is_noticed() {
        let mut bytes = Vec::new();
        full_frame().write(&mut bytes);
        for bit in 0..bytes.len() * 8 {
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert!(Sealed::at_begin_of(&flipped).is_none(), "bit {bit}");
        }
        for length in 0..bytes.len() {
            assert!(
                Sealed::at_begin_of(&bytes[..length]).is_none(),
                "length {length}"
            );
        }
        assert!(Sealed::at_begin_of(&[0; 4096]).is_none());
    }
}
