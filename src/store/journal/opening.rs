//! Opening a data folder: who was here last, is the journal whole, is the index its index.

use std::path::PathBuf;
use std::sync::Arc;

use super::folder::{LastRun, RunMark, index_distrusted, trust_index};
use super::frame::Frame;
use super::indexer::{CHANGES_AT_ONCE, apply};
use super::round::Counters;
use super::scan::{Found, Scanned, Start, Torn, scan};
use super::segment::{Place, Segments};
use crate::store::StoreError;
use crate::store::disk::{Folder, Opening};
use crate::store::format::{self, Admitted};
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
    pub(super) segments: Arc<Segments>,
    pub(super) end: Option<(u32, u64)>,
    pub(super) counters: Counters,
    pub(super) report: OpenReport,
}

const JOURNAL: &str = "journal";

/// Makes the folder ready for work. The caller holds its lock.
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
    let distrust = distrust(folder, place, &last_run, boot);
    let (index, caught_up, index_report) = match distrust {
        Some(because) => rebuild(place, &segments, stopped_after, because)?,
        None => match follow(place, &segments, stopped_after) {
            Ok((index, caught_up)) => {
                let frames = caught_up.frames;
                (index, caught_up, IndexOpened::Continued { frames })
            }
            Err(StoreError::Index(why)) => {
                let because = format!("The index could not be used: {why}.");
                rebuild(place, &segments, stopped_after, because)?
            }
            Err(problem) => return Err(problem),
        },
    };
    trust_index(folder)?;
    let scanned = caught_up.scanned;
    let torn = scanned
        .torn
        .map(|torn| cut_off(&segments, &torn))
        .transpose()?;
    let notices = index
        .get(keys::NOTICES_GIVEN_KEY)?
        .map(|given| given.try_into());
    let notices = notices.transpose().map_err(|_| keys::wrong_value())?;
    let frame = scanned.last_frame;
    let notices = notices.map_or(0, u64::from_le_bytes);
    Ok(Opened {
        index,
        segments,
        end: scanned.tail,
        counters: Counters {
            frame,
            durable: frame,
            notices,
        },
        report: OpenReport {
            frames: frame,
            trusted: caught_up.trusted,
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
        return Some("The index failed in the last run.".to_owned());
    }
    match last_run {
        LastRun::Stopped { .. } => None,
        LastRun::BrokeOff { boot: Some(then) } if Some(then.as_str()) == boot => None,
        LastRun::BrokeOff { .. } => {
            Some("The last run broke off and the machine was started anew since.".to_owned())
        }
        LastRun::Unknown => Some("Nothing tells how the last run ended.".to_owned()),
    }
}

fn rebuild(
    place: &dyn IndexPlace,
    segments: &Segments,
    known_durable: u64,
    because: String,
) -> Result<(Arc<dyn Index>, CaughtUp, IndexOpened), StoreError> {
    place.remove()?;
    let (index, caught_up) = follow(place, segments, known_durable)?;
    Ok((index, caught_up, IndexOpened::Rebuilt { because }))
}

struct CaughtUp {
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
) -> Result<(Arc<dyn Index>, CaughtUp), StoreError> {
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
    let caught_up = CaughtUp {
        scanned,
        frames: follower.frames,
        trusted: start.after,
    };
    Ok((index, caught_up))
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
