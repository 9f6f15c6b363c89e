//! Opening a data folder: who was here last, is the journal whole, is the index its index.
//!
//! The journal is read only from where the index's watermark says that it holds everything: the
//! index takes a batch only after the journal has it on the disk, and after a clean stop, or a
//! break-off under the same boot of the machine, what the index's files hold is what was written to
//! them. The last frame that the index holds is read and compared. So damage in an old part is not
//! found here but by the thread that reads it back afterwards, by whoever reads an entry there, or
//! by `backup --check-data`: the price of opening in the time that the new part takes. After a
//! power cut, or without an index, everything is read.
//!
//! An index that once could not answer, and one whose making anew did not come to its end, is
//! marked before anything else is done with it, and made anew at the next opening.

use std::path::PathBuf;
use std::sync::Arc;

use super::folder::{LastRun, RunMark, distrust_index, index_distrusted};
use super::frame::Frame;
use super::indexer::{CHANGES_AT_ONCE, apply};
use super::round::Counters;
use super::scan::{Found, Scanned, Start, Torn, scan};
use super::segment::{Place, Segments};
use crate::store::StoreError;
use crate::store::disk::{Folder, Opening};
use crate::store::format::{self, Admitted};
use crate::store::index::inputs::Inputs;
use crate::store::index::{Begins, Index, IndexPlace, Layer, Sheet, Watermark, fold, keys};

/// What was found and done when a data folder was opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenReport {
    /// How many frames the journal holds.
    pub frames: u64,
    /// The last of them that was not read at opening, because the index holds it; 0 if all were
    /// read. They are read at leisure afterwards.
    pub trusted: u64,
    /// What became of the folder's format.
    pub format: Admitted,
    /// The unfinished last write that was cut off, if there was one. It was never acknowledged.
    pub torn: Option<TornTail>,
    /// What was done to the index.
    pub index: IndexOpened,
}

impl OpenReport {
    /// How many bytes of an unfinished write were cut off.
    pub fn torn_bytes(&self) -> u64 {
        self.torn.as_ref().map_or(0, |torn| torn.bytes)
    }
}

/// An unfinished write that was cut off the journal's end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TornTail {
    /// How long it is.
    pub bytes: u64,
    /// Where it was put aside.
    pub kept_in: PathBuf,
}

/// What was done to the index at opening.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum IndexOpened {
    /// It followed the journal up to some frame and took in the rest, if there was any.
    Continued {
        /// How many frames it took in.
        frames: u64,
    },
    /// It was worked out anew from the whole journal.
    Rebuilt {
        /// Why, as a sentence.
        because: String,
    },
}

/// A folder made ready.
pub(super) struct Opened {
    pub(super) index: Arc<dyn Index>,
    pub(super) inputs: Inputs,
    pub(super) segments: Arc<Segments>,
    pub(super) end: Option<(u32, u64)>,
    pub(super) counters: Counters,
    pub(super) report: OpenReport,
}

const JOURNAL: &str = "journal";

/// Makes the folder ready for work. The caller holds its lock, and trusts the index once the
/// folder says that somebody works in it.
pub(super) fn open(
    folder: &Folder,
    place: &dyn IndexPlace,
    boot: Option<&str>,
) -> Result<Opened, StoreError> {
    let format = format::admit(folder, !folder.exists(JOURNAL))?;
    let journal = folder.within(JOURNAL);
    journal.make()?;
    let segments = Arc::new(Segments::in_folder(journal));
    segments.sync()?;
    let last_run = RunMark::in_folder(folder).read()?;
    let stopped_after = match last_run {
        LastRun::Stopped { frame } => frame,
        LastRun::Unknown | LastRun::BrokeOff { .. } => 0,
    };
    let known = match distrust(folder, place, &last_run, boot) {
        Some(because) => Err(because),
        None => match follow(place, &segments, stopped_after) {
            Ok(followed) => Ok(followed),
            Err(StoreError::Index(why)) => Err(format!("The index could not be used: {why}.")),
            Err(problem) => return Err(problem),
        },
    };
    let (followed, index_report) = match known {
        Ok(followed) => {
            let frames = followed.frames;
            (followed, IndexOpened::Continued { frames })
        }
        Err(because) => {
            // Half of a new index must not pass for one, should the power fail meanwhile.
            distrust_index(folder)?;
            place.remove()?;
            let followed = follow(place, &segments, stopped_after)?;
            (followed, IndexOpened::Rebuilt { because })
        }
    };
    let scanned = followed.scanned;
    let torn = scanned
        .torn
        .map(|torn| cut_off(&segments, &torn))
        .transpose()?;
    let frame = scanned.last_frame;
    Ok(Opened {
        index: followed.index,
        inputs: followed.inputs,
        segments,
        end: scanned.tail,
        counters: Counters {
            frame,
            durable: frame,
            notices: followed.notices_given,
        },
        report: OpenReport {
            frames: frame,
            trusted: followed.trusted,
            format,
            torn,
            index: index_report,
        },
    })
}

/// Why the index should not even be looked at, as a sentence.
fn distrust(
    folder: &Folder,
    index: &dyn IndexPlace,
    last_run: &LastRun,
    boot: Option<&str>,
) -> Option<String> {
    if !index.exists() {
        return Some("There was no index.".to_owned());
    }
    if index_distrusted(folder) {
        return Some(
            "The index failed in the last run, or was being rebuilt when it ended.".to_owned(),
        );
    }
    match last_run {
        LastRun::Stopped { .. } => None,
        LastRun::BrokeOff { boot: Some(then) } if Some(then.as_str()) == boot => None,
        LastRun::BrokeOff { boot: Some(_) } if boot.is_some() => {
            Some("The last run broke off and the machine was started anew since.".to_owned())
        }
        LastRun::BrokeOff { .. } => Some(
            "The last run broke off, and the system does not say whether the machine was \
             started anew since."
                .to_owned(),
        ),
        LastRun::Unknown => Some("Nothing tells how the last run ended.".to_owned()),
    }
}

/// An index at the journal's end, and what is read of it at once.
struct Followed {
    index: Arc<dyn Index>,
    inputs: Inputs,
    notices_given: u64,
    scanned: Scanned,
    frames: u64,
    /// The last frame that was not read.
    trusted: u64,
}

/// Opens the index and brings it to the journal's end. What the index holds already is not read
/// again: it was on the disk before the index took it, and the index is that of a clean stop or of
/// this boot of the machine.
fn follow(
    place: &dyn IndexPlace,
    segments: &Segments,
    known_durable: u64,
) -> Result<Followed, StoreError> {
    let index = place.open()?;
    let watermark = index.watermark()?;
    let mut follower = Follower {
        index: index.as_ref(),
        watermark,
        changes: Layer::over(index.as_ref()),
        frames: 0,
    };
    // What the index holds was on the disk in the journal before.
    let known_durable = known_durable.max(watermark.frame);
    let start = Start::behind(segments, &watermark)?.unwrap_or(Start::BEGIN);
    let scanned = scan(segments, start, known_durable, &mut |found| {
        follower.take(&found)
    })?;
    follower.carry()?;
    let frames = follower.frames;
    Ok(Followed {
        inputs: Inputs::in_index(index.as_ref())?,
        notices_given: notices_given(index.as_ref())?,
        index,
        scanned,
        frames,
        trusted: start.after,
    })
}

/// The last id of a notice.
fn notices_given(index: &dyn Index) -> Result<u64, StoreError> {
    let given = index.get(keys::NOTICES_GIVEN_KEY)?;
    let given = given.map(|given| given.try_into().map_err(|_| keys::wrong_value()));
    Ok(given.transpose()?.map_or(0, u64::from_le_bytes))
}

struct Follower<'a> {
    index: &'a dyn Index,
    watermark: Watermark,
    changes: Layer<'a>,
    frames: u64,
}

impl Follower<'_> {
    fn take(&mut self, found: &Found<'_>) -> Result<(), StoreError> {
        let sealed = &found.sealed;
        if sealed.number < self.watermark.frame {
            return Ok(());
        }
        if sealed.number == self.watermark.frame {
            return if sealed.crc == self.watermark.crc {
                Ok(())
            } else {
                Err(StoreError::Index(
                    "it belongs to another journal".to_owned(),
                ))
            };
        }
        let (frame, ranges) = Frame::read(sealed.payload).ok_or_else(|| {
            StoreError::damaged(format!(
                "Frame {} of the journal has a right checksum, but cannot be read.",
                sealed.number
            ))
        })?;
        let place = |range| Place::new(found.segment, found.offset, range);
        fold(frame, ranges.into_iter().map(place), &mut self.changes)?;
        self.changes.keep_frame();
        self.watermark = Watermark {
            frame: sealed.number,
            crc: sealed.crc,
            begins: Some(Begins {
                segment: found.segment,
                offset: found.offset,
            }),
        };
        self.frames += 1;
        if self.changes.len() >= CHANGES_AT_ONCE {
            self.carry()
        } else {
            Ok(())
        }
    }

    fn carry(&mut self) -> Result<(), StoreError> {
        if self.frames == 0 {
            return Ok(());
        }
        apply(self.index, &Sheet::of(self.changes.take(), self.watermark))
    }
}

/// Puts an unfinished write aside and lets the journal end before it.
fn cut_off(segments: &Segments, torn: &Torn) -> Result<TornTail, StoreError> {
    let (folder, path) = (segments.folder(), segments.path(torn.segment));
    let file = Segments::name(torn.segment);
    let name = format!("unfinished-{:08}-{}", torn.segment, torn.offset);
    let bytes = folder.read(&file).map_err(StoreError::io("read", &path))?;
    let from = usize::try_from(torn.offset)
        .unwrap_or(usize::MAX)
        .min(bytes.len());
    folder.replace(&name, &bytes[from..])?;
    if torn.offset == 0 {
        folder
            .remove(&file)
            .map_err(StoreError::io("remove", &path))?;
    } else {
        let cut = || {
            let file = folder.open(&file, Opening::ToChange)?;
            file.cut_to(torn.offset)?;
            file.sync()
        };
        cut().map_err(StoreError::io("cut", &path))?;
    }
    folder.sync()?;
    Ok(TornTail {
        bytes: torn.bytes,
        kept_in: folder.path().join(name),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::LooseIndex;
    use crate::store::journal::folder::trust_index;

    fn left_in_order() -> (tempfile::TempDir, Folder, LooseIndex) {
        let at = tempfile::tempdir().unwrap();
        let (folder, index) = (Folder::here(at.path().to_owned()), LooseIndex::default());
        open(&folder, &index, None).unwrap();
        trust_index(&folder).unwrap();
        RunMark::in_folder(&folder).stopped(0).unwrap();
        (at, folder, index)
    }

    fn opened(folder: &Folder, index: &LooseIndex) -> IndexOpened {
        open(folder, index, Some("boot-2")).unwrap().report.index
    }

    #[test]
    fn half_of_a_new_index_does_not_pass_for_one() {
        let (_at, folder, index) = left_in_order();
        assert_eq!(
            opened(&folder, &index),
            IndexOpened::Continued { frames: 0 }
        );
        index.remove().unwrap();
        let IndexOpened::Rebuilt { because } = opened(&folder, &index) else {
            panic!("it was not rebuilt");
        };
        assert_eq!(because, "There was no index.");
        // The power failed before the folder said that somebody worked in it.
        let again = opened(&folder, &index);
        assert!(matches!(again, IndexOpened::Rebuilt { .. }), "{again:?}");
    }

    #[test]
    fn an_index_that_cannot_be_read_at_opening_is_rebuilt() {
        let (_at, folder, index) = left_in_order();
        index.spoil();
        let IndexOpened::Rebuilt { because } = opened(&folder, &index) else {
            panic!("it was not rebuilt");
        };
        assert!(because.contains("its rows are spoilt"), "{because}");
    }
}
