//! Whether frames say what was written: every entry against its hash, every stream against its
//! chain, and which photos jobs name.

use std::collections::{BTreeSet, HashMap};

use super::frame::{Frame, Sealed};
use crate::record::chain::{Hash, Head, entry_hash};
use crate::record::entry::{Answer, Entry, What};
use crate::record::stream::{StreamId, StreamKind};

/// The streams as far as they were read, in the order of their frames.
#[derive(Debug, Default)]
pub(super) struct Chains {
    heads: HashMap<StreamId, Head>,
    /// The photos that jobs name.
    pub(super) photos: BTreeSet<Hash>,
    /// How many entries were read.
    pub(super) entries: u64,
}

impl Chains {
    /// How many streams there are.
    pub(super) fn streams(&self) -> usize {
        self.heads.len()
    }

    /// Takes the next frame in; or says what about it does not hold.
    pub(super) fn take(&mut self, sealed: &Sealed<'_>) -> Result<(), String> {
        let frame = read_checked(sealed)?;
        for (stream, entries) in &frame.appends {
            let (Some(first), Some(last)) = (entries.first(), entries.last()) else {
                continue;
            };
            let head = self.heads.entry(*stream).or_insert(Head::NONE);
            if (first.seq, first.previous) != (head.seq.next(), head.hash) {
                return Err(format!(
                    "entry {} of {stream} in frame {} does not follow entry {}",
                    first.seq, frame.number, head.seq
                ));
            }
            *head = last.head();
            self.entries += entries.len() as u64;
            if stream.kind == StreamKind::Job {
                let named = entries.iter().filter_map(|entry| photo_in(&entry.bytes));
                self.photos.extend(named);
            }
        }
        Ok(())
    }
}

/// Reads a frame whose checksum is right, and holds its entries against their hashes.
pub(super) fn read_checked(sealed: &Sealed<'_>) -> Result<Frame, String> {
    let (frame, _) = Frame::read(sealed.payload).ok_or_else(|| {
        format!(
            "frame {} has a right checksum, but cannot be read",
            sealed.number
        )
    })?;
    for (stream, entries) in &frame.appends {
        let mut before = entries.first().map(|first| first.previous);
        for entry in entries {
            let hash = entry_hash(*stream, entry.seq, entry.previous, &entry.bytes);
            if hash != entry.hash || before != Some(entry.previous) {
                return Err(format!(
                    "entry {} of {stream} in frame {} does not match its hash",
                    entry.seq, frame.number
                ));
            }
            before = Some(entry.hash);
        }
    }
    Ok(frame)
}

/// The photo that an entry came with, as it is kept.
fn photo_in(bytes: &[u8]) -> Option<Hash> {
    // Most entries have none; looking for the word is far quicker than reading them.
    let text = str::from_utf8(bytes).ok()?;
    text.contains("\"photo\"")
        .then(|| serde_json::from_str::<Entry>(text).ok())
        .flatten()
        .and_then(|entry| match entry.what {
            What::Answered {
                answer: Answer::Photo { photo },
                ..
            }
            | What::ProofPart {
                answer: Answer::Photo { photo },
                ..
            } => photo.stored.parse().ok(),
            _ => None,
        })
}
