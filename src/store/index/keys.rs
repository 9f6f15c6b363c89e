//! How the index is laid out: one sorted map, a first byte for each part of it.

use jiff::Timestamp;

use crate::record::chain::{Hash, Head};
use crate::record::stream::{Seq, StreamId, StreamKind};
use crate::store::StoreError;
use crate::store::batch::{InputKey, Table};
use crate::store::codec::{Reader, Writer, time_bytes};
use crate::store::journal::Place;
use crate::store::notice::{NoticeId, PendingNotice};

/// Changed whenever keys or values change their meaning; an index of another layout is rebuilt.
pub(in crate::store) const LAYOUT: u32 = 1;

/// The layout an index was written with.
pub(in crate::store) const LAYOUT_KEY: &[u8] = b"\x00layout";
/// How far the journal is in the index: the last frame's number and checksum.
pub(in crate::store) const WATERMARK_KEY: &[u8] = b"\x00watermark";
/// The last notice id given.
pub(in crate::store) const NOTICES_GIVEN_KEY: &[u8] = b"\x00notices given";

const HEADS: u8 = 1;
const ENTRIES: u8 = 2;
const INPUTS: u8 = 3;
const INPUTS_BY_TIME: u8 = 4;
const NOTICES: u8 = 5;
const DUE: u8 = 6;
const ROWS: u8 = 7;

fn key(part: u8, pieces: &[&[u8]]) -> Vec<u8> {
    let mut key = vec![part];
    pieces.iter().for_each(|piece| key.extend(*piece));
    key
}

/// Under it: the head of a stream.
pub(in crate::store) fn head(stream: StreamId) -> Vec<u8> {
    key(HEADS, &[&stream.to_bytes()])
}

/// All heads of a kind.
pub(in crate::store) fn heads(kind: StreamKind) -> Vec<u8> {
    key(HEADS, &[&[kind.code()]])
}

/// Under it: the place of an entry.
pub(in crate::store) fn entry(stream: StreamId, seq: Seq) -> Vec<u8> {
    key(ENTRIES, &[&stream.to_bytes(), &seq.0.to_be_bytes()])
}

/// All entries of a stream.
pub(in crate::store) fn entries(stream: StreamId) -> Vec<u8> {
    key(ENTRIES, &[&stream.to_bytes()])
}

/// Under it: when an input was handled.
pub(in crate::store) fn input(input: &InputKey) -> Vec<u8> {
    key(INPUTS, &[input.0.as_bytes()])
}

/// Under it: nothing; tells which input was handled at a time.
pub(in crate::store) fn input_by_time(at: Timestamp, input: &InputKey) -> Vec<u8> {
    key(INPUTS_BY_TIME, &[&time_bytes(at), input.0.as_bytes()])
}

/// Sorts before every input handled at this time or later, and after all earlier ones.
pub(in crate::store) fn inputs_from(at: Timestamp) -> Vec<u8> {
    key(INPUTS_BY_TIME, &[&time_bytes(at)])
}

/// All inputs by their time.
pub(in crate::store) fn inputs_by_time() -> Vec<u8> {
    key(INPUTS_BY_TIME, &[])
}

/// The [`input`] key and the time bytes that an [`input_by_time`] key speaks of.
pub(in crate::store) fn input_of_time(by_time: &[u8]) -> Option<(Vec<u8>, [u8; 16])> {
    let (at, input) = by_time.get(1..)?.split_first_chunk()?;
    Some((key(INPUTS, &[input]), *at))
}

/// All pending notices; sorts after every input.
pub(in crate::store) fn notices() -> Vec<u8> {
    key(NOTICES, &[])
}

/// Under it: a pending notice.
pub(in crate::store) fn notice(id: NoticeId) -> Vec<u8> {
    key(NOTICES, &[&id.0.to_be_bytes()])
}

/// Under it: nothing; tells which notice is due when.
pub(in crate::store) fn due(due: Timestamp, id: NoticeId) -> Vec<u8> {
    key(DUE, &[&time_bytes(due), &id.0.to_be_bytes()])
}

/// All notices by their due time.
pub(in crate::store) fn dues() -> Vec<u8> {
    key(DUE, &[])
}

/// The due time's bytes and the notice that a [`due`] key speaks of.
pub(in crate::store) fn notice_of_due(key: &[u8]) -> Option<([u8; 16], NoticeId)> {
    let (due, id) = key.get(1..)?.split_first_chunk()?;
    Some((*due, NoticeId(u64::from_be_bytes(id.try_into().ok()?))))
}

/// Under it: the value of a row of a lookup table. Also: all rows whose keys begin with `row`.
pub(in crate::store) fn row(table: &Table, row: &[u8]) -> Vec<u8> {
    // A table's name is checked to be far shorter than 256 bytes.
    let length = u8::try_from(table.0.len()).unwrap_or(u8::MAX);
    key(ROWS, &[&[length], table.0.as_bytes(), row])
}

/// Writes a head.
pub(in crate::store) fn head_value(head: Head) -> Vec<u8> {
    let mut writer = Writer::default();
    writer.number(head.seq.0);
    writer.raw(&head.hash.0);
    writer.bytes
}

/// Reads a head.
pub(in crate::store) fn read_head(value: &[u8]) -> Result<Head, StoreError> {
    let mut reader = Reader::new(value);
    let head = (|| {
        Some(Head {
            seq: Seq(reader.number()?),
            hash: Hash(reader.array()?),
        })
    })();
    head.ok_or_else(wrong_value)
}

/// Writes a place.
pub(in crate::store) fn place_value(place: Place) -> Vec<u8> {
    let mut writer = Writer::default();
    writer.small(place.segment);
    writer.number(place.offset);
    writer.small(place.length);
    writer.bytes
}

/// Reads a place.
pub(in crate::store) fn read_place(value: &[u8]) -> Result<Place, StoreError> {
    let mut reader = Reader::new(value);
    let mut read = || {
        let (segment, offset, length) = (reader.small()?, reader.number()?, reader.small()?);
        Some(Place {
            segment,
            offset,
            length,
        })
    };
    read().ok_or_else(wrong_value)
}

/// Writes a pending notice; its id is in the key.
pub(in crate::store) fn notice_value(notice: &PendingNotice) -> Vec<u8> {
    let mut writer = Writer::default();
    writer.time(notice.due);
    writer.small(notice.attempts);
    writer.piece(notice.address.as_bytes());
    writer.piece(&notice.payload);
    writer.bytes
}

/// Reads a pending notice.
pub(in crate::store) fn read_notice(
    id: NoticeId,
    value: &[u8],
) -> Result<PendingNotice, StoreError> {
    let mut reader = Reader::new(value);
    let mut read = || {
        let (due, attempts) = (reader.time()?, reader.small()?);
        let (address, payload) = (reader.text()?, reader.piece()?.to_vec());
        Some(PendingNotice {
            id,
            address,
            payload,
            due,
            attempts,
        })
    };
    read().ok_or_else(wrong_value)
}

/// A value that this layout does not write.
pub(in crate::store) fn wrong_value() -> StoreError {
    StoreError::Index("it holds a value that this program did not write".to_owned())
}
