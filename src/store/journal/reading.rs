//! Answers to questions: first from what is in memory, then from the index's files.

use std::ops::Bound;

use jiff::Timestamp;

use super::Shared;
use super::round::head_of;
use crate::record::chain::{Head, Stored};
use crate::record::stream::{Seq, StreamId, StreamKind};
use crate::store::batch::{IndexRow, InputKey, Table};
use crate::store::codec::time_bytes;
use crate::store::common::{Common, Ends, common};
use crate::store::index::inputs::{InputHash, inputs_in};
use crate::store::index::{Pair, View, keys};
use crate::store::notice::PendingNotice;
use crate::store::page::{Cursor, Page};
use crate::store::{StoreError, remembered};

/// So many changes in memory are looked at beyond those that fill a page: some of them are
/// removals.
const CHANGES_MORE: usize = 64;

impl View for Shared {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        // A change leaves the overlay only once the index has it, so none is missed between.
        match self.overlay.get(key) {
            Some(value) => Ok(value),
            None => self.index.get(key),
        }
    }
}

impl Shared {
    fn range(
        &self,
        prefix: &[u8],
        from: Bound<&[u8]>,
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        let mut found = Vec::new();
        let mut from = from.map(<[u8]>::to_vec);
        loop {
            let lower = from.as_ref().map(Vec::as_slice);
            let missing = limit.saturating_sub(found.len());
            let at_once = missing.saturating_add(CHANGES_MORE);
            let (changes, known_up_to) = self.overlay.range(prefix, lower, at_once);
            let upper = known_up_to.as_deref();
            let upper = upper.map_or(Bound::Unbounded, Bound::Included);
            let pairs = self
                .index
                .range_under(changes, prefix, (lower, upper), missing)?;
            found.extend(pairs);
            match known_up_to {
                Some(last) if found.len() < limit => from = Bound::Excluded(last),
                _ => return Ok(found),
            }
        }
    }

    /// One pair more than a page holds, from after the cursor on.
    fn page(
        &self,
        prefix: &[u8],
        within: &[u8],
        after: Option<&Cursor>,
        limit: usize,
    ) -> Result<Vec<Pair>, StoreError> {
        let one_more = limit.max(1).saturating_add(1);
        let Some(cursor) = after else {
            return self.range(prefix, Bound::Included(prefix), one_more);
        };
        // A cursor holds what comes after the part of the key that callers do not see.
        let mut last = prefix[..prefix.len() - within.len()].to_vec();
        last.extend(cursor.key_within(within)?);
        self.range(prefix, Bound::Excluded(&last), one_more)
    }

    pub(super) fn head(&self, stream: StreamId) -> Result<Head, StoreError> {
        head_of(self, stream)
    }

    pub(super) fn read(
        &self,
        stream: StreamId,
        from: Seq,
        limit: usize,
    ) -> Result<Vec<Stored>, StoreError> {
        let limit = limit.max(1);
        let prefix = keys::entries(stream);
        let first = keys::places(stream, from);
        // One key more, because the first one may begin before `from`.
        let keys_max = (limit as u64 / keys::PLACES_A_KEY).saturating_add(2);
        let keys_max = usize::try_from(keys_max).unwrap_or(usize::MAX);
        let mut entries = Vec::new();
        for (key, value) in self.range(&prefix, Bound::Included(&first), keys_max)? {
            let first = keys::first_of_places(&key).ok_or_else(keys::wrong_value)?;
            let seqs = (first.0..).map(Seq);
            for (seq, place) in seqs.zip(keys::read_places(&value)?) {
                if seq >= from && entries.len() < limit {
                    entries.push(self.segments.entry(stream, seq, place)?);
                }
            }
        }
        Ok(entries)
    }

    pub(super) fn streams(
        &self,
        kind: StreamKind,
        after: Option<&Cursor>,
        limit: usize,
    ) -> Result<Page<(StreamId, Head)>, StoreError> {
        let found = self.page(&keys::heads(kind), &[kind.code()], after, limit)?;
        let keyed = found.into_iter().map(|(key, value)| {
            let stream = key[1..].first_chunk().and_then(StreamId::from_bytes);
            let stream = stream.ok_or_else(keys::wrong_value)?;
            Ok((key[1..].to_vec(), (stream, keys::read_head(&value)?)))
        });
        Ok(Page::of(keyed.collect::<Result<_, _>>()?, limit))
    }

    pub(super) fn handled(&self, key: &InputKey, now: Timestamp) -> Result<bool, StoreError> {
        let at = self.handled_at(InputHash::of(key), now)?;
        Ok(at.is_some_and(|at| remembered(at, now)))
    }

    /// When an input was handled last, if it may still be remembered now.
    pub(super) fn handled_at(
        &self,
        input: InputHash,
        now: Timestamp,
    ) -> Result<Option<Timestamp>, StoreError> {
        let mut latest = None;
        for day in self.inputs.days_of(input, now) {
            let blocks = keys::inputs_of_part(day, input.part());
            for (_, block) in self.range(&blocks, Bound::Included(&blocks), usize::MAX)? {
                for kept in inputs_in(&block) {
                    let (kept, at) = kept.ok_or_else(keys::wrong_value)?;
                    latest = latest.max((kept == input).then_some(at));
                }
            }
        }
        Ok(latest)
    }

    pub(super) fn notices_pending(
        &self,
        due_by: Timestamp,
        after: Option<&Cursor>,
        limit: usize,
    ) -> Result<Page<PendingNotice>, StoreError> {
        let found = self.page(&keys::dues(), &[], after, limit)?;
        let due_by = time_bytes(due_by);
        let mut keyed = Vec::new();
        for (key, _) in found {
            let (due, id) = keys::notice_of_due(&key).ok_or_else(keys::wrong_value)?;
            if due > due_by {
                break;
            }
            let notice = self.get(&keys::notice(id))?;
            let notice = notice
                .map(|value| keys::read_notice(id, &value))
                .transpose()?;
            keyed.push((key[1..].to_vec(), notice));
        }
        let Page { items, next } = Page::of(keyed, limit);
        // One that was delivered between the two looks is no longer pending.
        Ok(Page {
            items: items.into_iter().flatten().collect(),
            next,
        })
    }

    pub(super) fn row(&self, table: &Table, key: &[u8]) -> Result<Option<Vec<u8>>, StoreError> {
        self.get(&keys::row(table, key))
    }

    pub(super) fn scan(
        &self,
        table: &Table,
        prefix: &[u8],
        after: Option<&Cursor>,
        limit: usize,
    ) -> Result<Page<IndexRow>, StoreError> {
        let table_key = keys::row(table, &[]);
        let found = self.page(&keys::row(table, prefix), prefix, after, limit)?;
        let keyed = found.into_iter().map(|(key, value)| {
            let key = key[table_key.len()..].to_vec();
            (key.clone(), IndexRow { key, value })
        });
        Ok(Page::of(keyed.collect(), limit))
    }

    pub(super) fn common(&self, ask: &Common) -> Result<Ends, StoreError> {
        common(ask, &mut |list, from| {
            let prefix = keys::row(&list.table, &list.prefix);
            let from = [&prefix, from].concat();
            let mut found = self.range(&prefix, Bound::Included(&from), 1)?;
            Ok(found.pop().map(|(key, _)| key[prefix.len()..].to_vec()))
        })
    }
}
