//! Reading at leisure what opening trusted.
//!
//! Opening reads only what the index does not hold yet. A thread of its own reads the rest
//! afterwards, slowly, so that nobody waits for it: every frame against its checksum, every entry
//! against its hash. Chains across frames are left to [`crate::store::Store::check`], which may
//! take the memory for them.

use std::io::BufReader;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::chains::read_checked;
use super::frames::{FileReader, Frames, Next};
use super::scan::{Scanned, damaged};
use super::segment::{Header, Segments};
use crate::store::StoreError;

/// Read so much, then rest.
const BYTES_AT_ONCE: u64 = 1024 * 1024;

/// The rest between; together with the reading itself some 40 MB a second.
const REST: Duration = Duration::from_millis(20);

/// How far the reading at leisure has come.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LookedOver {
    /// The last frame read back.
    pub frames: u64,
    /// The last frame that is to be read back; what came later was read at opening.
    pub up_to: u64,
    /// What was found damaged, in full sentences; the reading ends there.
    pub damage: Option<String>,
}

/// What the thread tells others.
#[derive(Debug, Default)]
pub(super) struct Progress {
    frames: AtomicU64,
    up_to: AtomicU64,
    damage: OnceLock<String>,
    stop: AtomicBool,
}

impl Progress {
    pub(super) fn looked_over(&self) -> LookedOver {
        LookedOver {
            frames: self.frames.load(Ordering::Acquire),
            up_to: self.up_to.load(Ordering::Acquire),
            damage: self.damage.get().cloned(),
        }
    }
}

/// The thread; it ends with this.
#[derive(Debug)]
pub(super) struct Leisure {
    progress: Arc<Progress>,
    thread: Option<JoinHandle<()>>,
}

impl Leisure {
    /// Begins to read the frames up to `up_to`; nothing for 0.
    pub(super) fn begin(
        segments: Arc<Segments>,
        up_to: u64,
        progress: Arc<Progress>,
    ) -> Result<Leisure, StoreError> {
        progress.up_to.store(up_to, Ordering::Release);
        let telling = Arc::clone(&progress);
        let thread = match up_to {
            0 => None,
            _ => Some(super::spawn("store-leisure", move || {
                read(&segments, up_to, &telling);
            })?),
        };
        Ok(Leisure { progress, thread })
    }
}

impl Drop for Leisure {
    fn drop(&mut self) {
        self.progress.stop.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            if thread.join().is_err() {
                tracing::error!("the thread that reads the journal back broke off unexpectedly");
            }
        }
    }
}

fn read(segments: &Segments, up_to: u64, progress: &Progress) {
    match read_up_to(segments, up_to, progress) {
        Ok(true) => tracing::info!(frames = up_to, "the journal was read back and is whole"),
        // The store was closed first; the next opening begins anew.
        Ok(false) => {}
        // A place that the disk does not give back is as bad as one that was changed.
        Err(why) => {
            let what = match why {
                StoreError::Damaged { what } => what,
                other => format!("The journal could not be read back: {other}"),
            };
            tracing::error!(
                "{what} Work goes on with what is whole. Bring back the last backup with \
                 `fanwright restore`, and find out what changed it."
            );
            // Nobody else sets it.
            drop(progress.damage.set(what));
        }
    }
}

/// Whether all was read before the store was closed.
fn read_up_to(segments: &Segments, up_to: u64, progress: &Progress) -> Result<bool, StoreError> {
    let mut scanned = Scanned::default();
    for segment in segments.numbers()? {
        let path = segments.path(segment);
        let reading = |problem| StoreError::io("read", &path)(problem);
        let file = FileReader::open(segments, segment, 0, u64::MAX)?;
        let mut frames = Frames::from(BufReader::new(file), 0);
        let first_frame = scanned.last_frame + 1;
        if frames.header().map_err(reading)? != (Header::Whole { first_frame }) {
            return Err(damaged(&scanned, 0, &path));
        }
        let mut rested_at = frames.at();
        while scanned.last_frame < up_to {
            if progress.stop.load(Ordering::Acquire) {
                return Ok(false);
            }
            let at = frames.at();
            match frames.next().map_err(reading)? {
                Next::End => break,
                Next::Frame(sealed) if sealed.number == scanned.last_frame + 1 => {
                    read_checked(&sealed).map_err(|what| {
                        StoreError::damaged(format!("The journal is damaged: {what}."))
                    })?;
                    (scanned.last_frame, scanned.last_at) = (sealed.number, sealed.at());
                }
                Next::Frame(_) | Next::Broken => return Err(damaged(&scanned, at, &path)),
            }
            progress.frames.store(scanned.last_frame, Ordering::Release);
            if frames.at() >= rested_at + BYTES_AT_ONCE {
                rested_at = frames.at();
                thread::park_timeout(REST);
            }
        }
        if scanned.last_frame >= up_to {
            return Ok(true);
        }
    }
    Err(StoreError::damaged(format!(
        "The journal in {} ends with frame {}, but frame {up_to} was safely kept.",
        segments.folder().path().display(),
        scanned.last_frame
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::disk::Folder;

    #[test]
    fn what_the_disk_does_not_give_back_counts_as_damaged() {
        let at = tempfile::tempdir().unwrap();
        // A folder can be opened like a file, and no byte of it can be read.
        std::fs::create_dir(at.path().join("00000001.journal")).unwrap();
        let segments = Segments::in_folder(Folder::here(at.path().to_owned()));
        let progress = Progress::default();
        read(&segments, 1, &progress);
        let damage = progress.looked_over().damage.unwrap();
        assert!(damage.contains("could not be read back"), "{damage}");
    }
}
