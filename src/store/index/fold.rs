//! What a frame changes in the index.

use super::{Layer, View, keys};
use crate::record::chain::Stored;
use crate::store::StoreError;
use crate::store::batch::InputKey;
use crate::store::codec::{time_bytes, time_from};
use crate::store::journal::{Frame, Place};
use crate::store::notice::{Delivery, DeliveryMark, PendingNotice};

/// Makes a frame's changes. `places` tells where each of its entries lies, in their order.
pub(in crate::store) fn fold(
    frame: &Frame,
    places: impl IntoIterator<Item = Place>,
    index: &mut Layer<'_>,
) -> Result<(), StoreError> {
    if let Some(key) = &frame.key {
        remember(key, frame, index)?;
    }
    let mut places = places.into_iter();
    for (stream, entries) in &frame.appends {
        for (entry, place) in entries.iter().zip(&mut places) {
            index.put(keys::entry(*stream, entry.seq), keys::place_value(place));
        }
        if let Some(head) = entries.last().map(Stored::head) {
            index.put(keys::head(*stream), keys::head_value(head));
        }
    }
    for (id, notice) in &frame.notices {
        let notice = PendingNotice {
            id: *id,
            address: notice.address.clone(),
            payload: notice.payload.clone(),
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
    for change in &frame.index {
        let key = keys::row(&change.table, &change.key);
        match &change.value {
            Some(value) => index.put(key, value.clone()),
            None => index.remove(key),
        }
    }
    Ok(())
}

fn remember(key: &InputKey, frame: &Frame, index: &mut Layer<'_>) -> Result<(), StoreError> {
    let input = keys::input(key);
    // A key used again after it was forgotten leaves no trace of its first time.
    if let Some(before) = index.get(&input)? {
        let before = before
            .try_into()
            .ok()
            .and_then(time_from)
            .ok_or_else(keys::wrong_value)?;
        index.remove(keys::input_by_time(before, key));
    }
    index.put(input, time_bytes(frame.at).to_vec());
    index.put(keys::input_by_time(frame.at, key), Vec::new());
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
