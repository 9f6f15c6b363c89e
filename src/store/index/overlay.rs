//! Changes that are in the journal, but perhaps not yet in the index's own files.
//!
//! They gather in a young sheet. The indexer takes it whole from time to time, so that a key
//! that changes again and again goes to the files once. The sheet taken last stays to be read,
//! also when the files have it: what changed lately is asked for again soon.

use std::ops::Bound;
use std::sync::{Arc, PoisonError, RwLock};

use super::{Change, Changes, Sheet, Watermark};

/// So many frames are shown at once; readers come in between.
const FRAMES_AT_ONCE: usize = 16;

/// A sorted map of changes on top of the index's files.
#[derive(Debug, Default)]
pub(in crate::store) struct Overlay {
    layers: RwLock<Layers>,
}

#[derive(Debug, Default)]
struct Layers {
    young: Sheet,
    /// Whether a frame came since the young sheet was taken last, with changes or without.
    has_young: bool,
    old: Arc<Sheet>,
}

/// How the young sheet stands after something was published.
#[derive(Clone, Copy, Debug)]
pub(in crate::store) struct Published {
    /// Whether nothing was in it before.
    pub(in crate::store) is_first: bool,
    /// About the memory that it takes.
    pub(in crate::store) bytes: usize,
}

/// What there is to carry into the index's files.
#[derive(Debug)]
pub(in crate::store) enum Taken {
    /// Nothing was published since the last time.
    Nothing,
    /// Something that may not be on the disk yet.
    NotYet,
    /// All of this.
    Sheet(Arc<Sheet>),
}

impl Overlay {
    /// Shows the changes of frames to readers, each frame's together. `mark` is the last frame,
    /// and `ends` are where the changes of each frame end.
    pub(in crate::store) fn publish(
        &self,
        changes: Vec<Change>,
        ends: &[usize],
        mark: Watermark,
    ) -> Published {
        let (mut is_first, mut bytes, mut shown) = (false, 0, 0);
        let mut changes = changes.into_iter();
        for frames in ends.chunks(FRAMES_AT_ONCE) {
            let end = frames.last().copied().unwrap_or(shown);
            let mut layers = self.layers.write().unwrap_or_else(PoisonError::into_inner);
            is_first |= !layers.has_young;
            layers.has_young = true;
            let of_frames = changes.by_ref().take(end - shown);
            of_frames.for_each(|change| layers.young.make(change));
            layers.young.up_to(mark);
            bytes = layers.young.bytes();
            shown = end;
        }
        Published { is_first, bytes }
    }

    /// Takes the young sheet, to be carried into the files, unless something in it is not known
    /// to be on the disk. The sheet before must be in the files.
    pub(in crate::store) fn take(&self, durable: u64) -> Taken {
        let mut layers = self.layers.write().unwrap_or_else(PoisonError::into_inner);
        if !layers.has_young {
            return Taken::Nothing;
        }
        if layers.young.mark().frame > durable {
            return Taken::NotYet;
        }
        layers.has_young = false;
        let taken = Arc::new(std::mem::take(&mut layers.young));
        let before = std::mem::replace(&mut layers.old, Arc::clone(&taken));
        // Readers need not wait until so much memory is given back.
        drop(layers);
        drop(before);
        Taken::Sheet(taken)
    }

    /// The change of this key: `Some(None)` if it was removed, `None` if nothing is known of it
    /// here.
    pub(in crate::store) fn get(&self, key: &[u8]) -> Option<Option<Vec<u8>>> {
        let layers = self.layers.read().unwrap_or_else(PoisonError::into_inner);
        let known = layers.young.get(key).or_else(|| layers.old.get(key));
        known.map(|value| value.map(<[u8]>::to_vec))
    }

    /// The changes from a key on that begin with a prefix, the first `limit` of each sheet; and
    /// the key after which there may be more.
    pub(in crate::store) fn range(
        &self,
        prefix: &[u8],
        from: Bound<&[u8]>,
        limit: usize,
    ) -> (Changes, Option<Vec<u8>>) {
        let layers = self.layers.read().unwrap_or_else(PoisonError::into_inner);
        let mut changes = Changes::new();
        let mut known_up_to: Option<&[u8]> = None;
        for sheet in [&*layers.old, &layers.young] {
            let mut rows = sheet.range(prefix, from);
            let mut last = None;
            for (key, value) in rows.by_ref().take(limit) {
                changes.insert(key.to_vec(), value.map(<[u8]>::to_vec));
                last = Some(key);
            }
            if rows.next().is_some() {
                known_up_to = known_up_to.map_or(last, |known| last.map(|last| known.min(last)));
            }
        }
        let known_up_to = known_up_to.map(<[u8]>::to_vec);
        if let Some(last) = &known_up_to {
            let mut beyond = changes.split_off(last);
            changes.extend(beyond.remove_entry(last));
        }
        (changes, known_up_to)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::collection::vec;
    use proptest::prelude::*;

    use super::*;

    type Map = BTreeMap<Vec<u8>, Vec<u8>>;

    #[derive(Clone, Debug)]
    enum Act {
        /// A frame puts a value, or removes the key, and says if it is new.
        Change(u8, Option<u8>),
        /// The frames so far are published.
        Publish,
        /// The indexer takes what there is, and carries it.
        Take,
        Carry,
    }

    fn acts() -> impl Strategy<Value = Vec<Act>> {
        let act = prop_oneof![
            6 => (0u8..20, proptest::option::weighted(0.7, any::<u8>()))
                .prop_map(|(key, value)| Act::Change(key, value)),
            2 => Just(Act::Publish),
            1 => Just(Act::Take),
            1 => Just(Act::Carry),
        ];
        vec(act, 0..120)
    }

    fn mark(frame: u64) -> Watermark {
        Watermark {
            frame,
            ..Watermark::default()
        }
    }

    /// What a reader finds: the overlay on top of the files.
    fn seen(overlay: &Overlay, files: &Map, limit: usize) -> Map {
        let (mut seen, mut from) = (Map::new(), Vec::new());
        let mut bound = Bound::Included(from.clone());
        loop {
            let lower = bound.as_ref().map(Vec::as_slice);
            let (changes, known_up_to) = overlay.range(b"k", lower, limit);
            let upper = known_up_to
                .clone()
                .map_or(Bound::Unbounded, Bound::Included);
            let below = files.range((bound.clone(), upper));
            let mut merged: BTreeMap<_, _> = below
                .map(|(key, value)| (key.clone(), Some(value.clone())))
                .collect();
            merged.extend(changes);
            let there = merged.into_iter();
            seen.extend(there.filter_map(|(key, value)| Some((key, value?))));
            let Some(last) = known_up_to else { return seen };
            assert!(from < last, "it goes on");
            from.clone_from(&last);
            bound = Bound::Excluded(last);
        }
    }

    proptest! {
        #[test]
        fn readers_see_what_was_published_whatever_was_carried(acts in acts(), limit in 1usize..6) {
            let overlay = Overlay::default();
            let (mut model, mut published, mut files) = (Map::new(), Map::new(), Map::new());
            let (mut round, mut ends, mut frame) = (Vec::new(), Vec::new(), 0);
            let mut carried: Option<Arc<Sheet>> = None;
            for act in acts {
                match act {
                    Act::Change(key, value) => {
                        let (key, value) = (vec![b'k', key], value.map(|value| vec![value]));
                        let is_new = value.is_some() && !model.contains_key(&key);
                        match &value {
                            Some(value) => model.insert(key.clone(), value.clone()),
                            None => model.remove(&key),
                        };
                        round.push(Change { key, value, is_new });
                        ends.push(round.len());
                    }
                    Act::Publish => {
                        frame += 1;
                        overlay.publish(std::mem::take(&mut round), &ends, mark(frame));
                        ends.clear();
                        published = model.clone();
                    }
                    Act::Take if carried.is_none() => {
                        if let Taken::Sheet(sheet) = overlay.take(frame) {
                            carried = Some(sheet);
                        }
                    }
                    Act::Take => {}
                    Act::Carry => {
                        for (key, value) in carried.take().iter().flat_map(|sheet| sheet.iter()) {
                            match value {
                                Some(value) => files.insert(key.to_vec(), value.to_vec()),
                                None => files.remove(key),
                            };
                        }
                    }
                }
                prop_assert_eq!(&seen(&overlay, &files, limit), &published);
                for key in 0..20 {
                    let key = vec![b'k', key];
                    let known = overlay.get(&key);
                    let found = known.unwrap_or_else(|| files.get(&key).cloned());
                    prop_assert_eq!(found.as_ref(), published.get(&key));
                }
            }
        }
    }

    #[test]
    fn what_came_and_went_takes_no_memory_and_what_is_unsafe_is_not_taken() {
        let overlay = Overlay::default();
        let change = |value: Option<Vec<u8>>| Change {
            key: b"key".to_vec(),
            is_new: value.is_some(),
            value,
        };
        let changes = vec![change(Some(vec![1])), change(None)];
        let published = overlay.publish(changes, &[1, 2], mark(2));
        assert!(published.is_first);
        assert_eq!(published.bytes, 0);
        assert!(matches!(overlay.take(1), Taken::NotYet));
        let Taken::Sheet(sheet) = overlay.take(2) else {
            panic!("it is on the disk")
        };
        assert_eq!((sheet.iter().count(), sheet.mark()), (0, mark(2)));
        assert!(matches!(overlay.take(2), Taken::Nothing));
    }
}
