//! What a frame changes in the index.

use super::inputs::{Day, InputHash, add_input};
use super::{Change, Layer, Pair, View, keys};
use crate::record::chain::Stored;
use crate::record::stream::StreamId;
use crate::store::StoreError;
use crate::store::journal::{Frame, Place};
use crate::store::notice::{Delivery, DeliveryMark, PendingNotice};

/// Makes a frame's changes. `places` tells where each of its entries lies, in their order.
pub(in crate::store) fn fold(
    frame: Frame,
    places: impl IntoIterator<Item = Place>,
    index: &mut Layer<'_>,
) -> Result<(), StoreError> {
    if let Some(key) = &frame.key {
        remember(InputHash::of(key), &frame, index)?;
    }
    let mut places = places.into_iter();
    for (stream, entries) in &frame.appends {
        index_entries(*stream, entries, &mut places, index)?;
    }
    for (id, notice) in frame.notices {
        let notice = PendingNotice {
            id,
            address: notice.address,
            payload: notice.payload,
            due: notice.due,
            attempts: 0,
        };
        put_out(&notice, index);
        index.put(
            keys::NOTICES_GIVEN_KEY.to_vec(),
            id.0.to_le_bytes().to_vec(),
        );
    }
    frame
        .marks
        .iter()
        .try_for_each(|mark| make_mark(mark, index))?;
    for change in frame.index {
        index.make(Change {
            key: keys::row(&change.table, &change.key),
            value: change.value,
            is_new: change.is_new,
        });
    }
    Ok(())
}

fn index_entries(
    stream: StreamId,
    entries: &[Stored],
    places: &mut impl Iterator<Item = Place>,
    index: &mut Layer<'_>,
) -> Result<(), StoreError> {
    let mut known: Option<Pair> = None;
    for (entry, place) in entries.iter().zip(places) {
        let key = keys::places(stream, entry.seq);
        let mut value = match known.take() {
            Some((before, value)) if before == key => value,
            before => {
                if let Some((key, value)) = before {
                    index.put(key, value);
                }
                index.get(&key)?.unwrap_or_default()
            }
        };
        keys::add_place(&mut value, entry.seq, place)?;
        known = Some((key, value));
    }
    if let Some((key, value)) = known {
        index.put(key, value);
    }
    if let Some(head) = entries.last().map(Stored::head) {
        index.put(keys::head(stream), keys::head_value(head));
    }
    Ok(())
}

fn remember(input: InputHash, frame: &Frame, index: &mut Layer<'_>) -> Result<(), StoreError> {
    let (day, part) = (Day::of(frame.at), input.part());
    let open = keys::inputs(day, part, None);
    let mut block = index.get(&open)?.unwrap_or_default();
    if add_input(&mut block, input, frame.at) {
        index.put(keys::inputs(day, part, Some(frame.number)), block);
        index.remove(open);
    } else {
        index.put(open, block);
    }
    Ok(())
}

fn put_out(notice: &PendingNotice, index: &mut Layer<'_>) {
    index.put(keys::notice(notice.id), keys::notice_value(notice));
    index.put(keys::due(notice.due, notice.id), Vec::new());
}

fn make_mark(mark: &DeliveryMark, index: &mut Layer<'_>) -> Result<(), StoreError> {
    let key = keys::notice(mark.notice);
    let Some(value) = index.get(&key)? else {
        return Ok(());
    };
    let notice = keys::read_notice(mark.notice, &value)?;
    index.remove(keys::due(notice.due, notice.id));
    match mark.outcome {
        Delivery::Delivered | Delivery::GivenUp => index.remove(key),
        Delivery::Retry { due } => {
            let attempts = notice.attempts.saturating_add(1);
            put_out(
                &PendingNotice {
                    due,
                    attempts,
                    ..notice
                },
                index,
            );
        }
    }
    Ok(())
}
