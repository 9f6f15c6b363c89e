//! How the index is laid out: one sorted map, a first byte for each part of it.

use jiff::Timestamp;

use super::inputs::Day;
use crate::record::chain::{Hash, Head};
use crate::record::stream::{Seq, StreamId, StreamKind};
use crate::store::StoreError;
use crate::store::batch::Table;
use crate::store::codec::{Reader, Writer, time_bytes};
use crate::store::journal::Place;
use crate::store::notice::{NoticeId, PendingNotice};

/// Changed whenever keys or values change their meaning; an index of another layout is rebuilt.
pub(in crate::store) const LAYOUT: u32 = 4;

/// The layout an index was written with.
pub(in crate::store) const LAYOUT_KEY: &[u8] = b"\x00layout";
/// How far the journal is in the index: the last frame's number and checksum.
pub(in crate::store) const WATERMARK_KEY: &[u8] = b"\x00watermark";
/// The last notice id given.
pub(in crate::store) const NOTICES_GIVEN_KEY: &[u8] = b"\x00notices given";

const HEADS: u8 = 1;
const ENTRIES: u8 = 2;
const INPUTS: u8 = 3;
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

/// So many places of entries lie under one key.
pub(in crate::store) const PLACES_A_KEY: u64 = 32;

/// Under it: the places of [`PLACES_A_KEY`] entries in a row, this one among them.
pub(in crate::store) fn places(stream: StreamId, seq: Seq) -> Vec<u8> {
    let row = seq.0.saturating_sub(1) / PLACES_A_KEY;
    key(ENTRIES, &[&stream.to_bytes(), &row.to_be_bytes()])
}

/// The entry whose place is the first under a [`places`] key.
pub(in crate::store) fn first_of_places(key: &[u8]) -> Option<Seq> {
    let row = u64::from_be_bytes(*key.last_chunk()?);
    Some(Seq(row.checked_mul(PLACES_A_KEY)?.checked_add(1)?))
}

/// All entries of a stream.
pub(in crate::store) fn entries(stream: StreamId) -> Vec<u8> {
    key(ENTRIES, &[&stream.to_bytes()])
}

/// Under it: a block of the inputs of a day and part. The number of the frame that closed the
/// block tells it from others; the open one has none and comes last.
pub(in crate::store) fn inputs(day: Day, part: u8, closed: Option<u64>) -> Vec<u8> {
    let number = closed.unwrap_or(u64::MAX);
    key(INPUTS, &[&day.to_bytes(), &[part], &number.to_be_bytes()])
}

/// All blocks of the inputs of a day and part.
pub(in crate::store) fn inputs_of_part(day: Day, part: u8) -> Vec<u8> {
    key(INPUTS, &[&day.to_bytes(), &[part]])
}

/// Sorts before every block of this day and later, and after all earlier ones.
pub(in crate::store) fn inputs_from(day: Day) -> Vec<u8> {
    key(INPUTS, &[&day.to_bytes()])
}

/// All inputs.
pub(in crate::store) fn all_inputs() -> Vec<u8> {
    key(INPUTS, &[])
}

/// Sorts after all inputs.
pub(in crate::store) fn after_inputs() -> Vec<u8> {
    key(NOTICES, &[])
}

/// The day that a key of inputs speaks of; none for every other key.
pub(in crate::store) fn day_of_inputs(key: &[u8]) -> Option<Day> {
    let (part, rest) = key.split_first()?;
    rest.first_chunk()
        .filter(|_| *part == INPUTS)
        .map(|bytes| Day::from_bytes(*bytes))
}

/// Whether a frame may ask for what an earlier one put under this key.
pub(in crate::store) fn is_asked_for(key: &[u8]) -> bool {
    matches!(key.first(), Some(&(HEADS | ENTRIES | INPUTS | NOTICES)))
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

/// Bytes of a place.
const PLACE_BYTES: usize = 4 + 8 + 4;

/// Adds the place of an entry to what lies under its [`places`] key.
pub(in crate::store) fn add_place(
    value: &mut Vec<u8>,
    seq: Seq,
    place: Place,
) -> Result<(), StoreError> {
    let before = seq.0.saturating_sub(1) % PLACES_A_KEY;
    let before = usize::try_from(before).unwrap_or(usize::MAX);
    if value.len() != before * PLACE_BYTES {
        return Err(wrong_value());
    }
    value.extend(place.segment.to_le_bytes());
    value.extend(place.offset.to_le_bytes());
    value.extend(place.length.to_le_bytes());
    Ok(())
}

/// Reads what lies under a [`places`] key.
pub(in crate::store) fn read_places(value: &[u8]) -> Result<Vec<Place>, StoreError> {
    let places = value.chunks(PLACE_BYTES).map(|place| {
        let mut reader = Reader::new(place);
        let mut read = || {
            let (segment, offset, length) = (reader.small()?, reader.number()?, reader.small()?);
            Some(Place {
                segment,
                offset,
                length,
            })
        };
        read().ok_or_else(wrong_value)
    });
    places.collect()
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
