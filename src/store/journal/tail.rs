//! The end of the journal: the file that grows.

use std::sync::Arc;

use super::segment::{HEADER_BYTES, Segments};
use crate::metrics::{Stopwatch, metrics};
use crate::store::StoreError;
use crate::store::disk::DiskFile;

/// A file is closed for writing once it is this long.
pub(super) const SEGMENT_BYTES: u64 = 64 * 1024 * 1024;

/// Why something could not be added.
#[derive(Debug)]
pub(super) enum TailError {
    /// The journal ends where it did before.
    Unchanged(StoreError),
    /// What the file holds after its end is not known.
    Unknown(StoreError),
}

/// The file that grows, and where it ends.
pub(super) struct Tail {
    segments: Arc<Segments>,
    file: Box<dyn DiskFile>,
    segment: u32,
    length: u64,
    roll_at: u64,
}

impl Tail {
    /// The tail of a journal that was found to end here; a first file is made if there is none.
    pub(super) fn at(
        segments: Arc<Segments>,
        end: Option<(u32, u64)>,
        next_frame: u64,
    ) -> Result<Tail, StoreError> {
        let (segment, length, file) = match end {
            Some((segment, length)) => (segment, length, segments.open(segment)?),
            None => {
                let file = segments.prepare(next_frame)?;
                segments.put_in_place(1)?;
                (1, HEADER_BYTES as u64, file)
            }
        };
        Ok(Tail {
            segments,
            file,
            segment,
            length,
            roll_at: SEGMENT_BYTES,
        })
    }

    /// The same, whose files end at another length.
    pub(super) fn rolling_at(self, roll_at: u64) -> Tail {
        Tail { roll_at, ..self }
    }

    /// The number of the file.
    pub(super) fn segment(&self) -> u32 {
        self.segment
    }

    /// Where the next frame goes.
    pub(super) fn length(&self) -> u64 {
        self.length
    }

    /// Begins the next file if this one is long enough. Everything before must be synced.
    pub(super) fn roll(&mut self, next_frame: u64) -> Result<(), TailError> {
        if self.length < self.roll_at {
            return Ok(());
        }
        // What a failed write left behind was cut off, which the disk may not know yet; and only
        // the last file may end in something unfinished.
        self.sync()?;
        let segment = self.segment.saturating_add(1);
        let file = self
            .segments
            .prepare(next_frame)
            .map_err(TailError::Unchanged)?;
        self.segments
            .put_in_place(segment)
            .map_err(TailError::Unknown)?;
        self.file = file;
        self.segment = segment;
        self.length = HEADER_BYTES as u64;
        Ok(())
    }

    /// Whether the next frame goes into another file.
    pub(super) fn wants_roll(&self) -> bool {
        self.length >= self.roll_at
    }

    /// Adds frames. They are safe from the end of this process, not yet from a power cut.
    pub(super) fn write(&mut self, frames: &[u8]) -> Result<(), TailError> {
        let path = || self.segments.path(self.segment);
        let Err(problem) = self.file.write_at(frames, self.length) else {
            self.length += frames.len() as u64;
            return Ok(());
        };
        let problem = StoreError::io("write", path())(problem);
        // Part of it may be there. Cut off, it cannot be taken for frames at the next opening.
        match self.file.cut_to(self.length) {
            Ok(()) => Err(TailError::Unchanged(problem)),
            Err(_) => Err(TailError::Unknown(problem)),
        }
    }

    /// Waits until everything added is on the disk. After a failure nobody can tell what is.
    pub(super) fn sync(&mut self) -> Result<(), TailError> {
        let problem = StoreError::io("write", self.segments.path(self.segment));
        let began = Stopwatch::started();
        let synced = self.file.sync();
        metrics().synced(began);
        synced.map_err(|source| TailError::Unknown(problem(source)))
    }
}

#[cfg(test)]
mod tests {
    use super::{DiskFile, Tail};

    impl Tail {
        /// Lets tests choose the file and how long it may get.
        pub(in crate::store::journal) fn with(
            mut self,
            file: Box<dyn DiskFile>,
            roll_at: u64,
        ) -> Tail {
            (self.file, self.roll_at) = (file, roll_at);
            self
        }
    }
}
