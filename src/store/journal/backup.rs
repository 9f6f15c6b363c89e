//! Copies of a data folder: a prefix of the journal, then the names and the photos.
//!
//! Photos are copied last, because a photo is kept before the entry that names it: every photo
//! that the copied entries name is there. What the index holds is worked out anew from the copy.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use super::scan::{Scanned, scan};
use super::segment::Segments;
use crate::store::StoreError;
use crate::store::blobs::Blobs;
use crate::store::disk::Folder;
use crate::store::names::Names;

/// What a copy holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackedUp {
    /// Frames of the journal.
    pub frames: u64,
    /// Names of people.
    pub names: usize,
    /// Photos and other large pieces.
    pub blobs: u64,
}

/// Where the copied prefix of a journal ends.
#[derive(Clone, Copy, Debug)]
pub(super) struct End {
    pub(super) frame: u64,
    pub(super) segment: u32,
    pub(super) length: u64,
}

/// Makes a data folder out of a backup. Both stay apart from then on. This blocks.
///
/// # Errors
/// If the backup is damaged or unfinished, if `to` is not empty, or if the file system refuses.
pub fn restore(from: &Path, to: &Path) -> Result<BackedUp, StoreError> {
    let folder = Folder::here(from.to_owned());
    let segments = Segments::in_folder(folder.within("journal"));
    let found = scan(&segments, 0, &mut |_| Ok(()))?;
    let Scanned {
        last_frame: frame,
        tail: Some((segment, length)),
        torn: None,
    } = found
    else {
        let what = format!("The backup in {} is not complete.", from.display());
        return Err(StoreError::damaged(what));
    };
    let names = Names::in_folder(&folder)?;
    let blobs = Blobs::in_folder(folder.within("blobs"));
    Source {
        segments: &segments,
        names: &names,
        blobs: &blobs,
    }
    .copy(
        End {
            frame,
            segment,
            length,
        },
        to,
    )
}

/// What a copy is made from.
pub(super) struct Source<'a> {
    pub(super) segments: &'a Segments,
    pub(super) names: &'a Names,
    pub(super) blobs: &'a Blobs,
}

impl Source<'_> {
    /// Copies everything up to `end` into an empty folder and reads the copied journal through.
    pub(super) fn copy(&self, end: End, to: &Path) -> Result<BackedUp, StoreError> {
        let folder = Folder::here(to.to_owned());
        make_empty(&folder)?;
        let copies = Segments::in_folder(folder.within("journal"));
        copies.folder().make()?;
        for segment in 1..=end.segment {
            let length = if segment == end.segment {
                end.length
            } else {
                u64::MAX
            };
            copy_file(&self.segments.path(segment), &copies.path(segment), length)?;
        }
        copies.folder().sync()?;
        let names = self.names.copy_to(folder.clone())?;
        let blobs = self.blobs.copy_to(folder.within("blobs"))?;
        let copied = scan(&copies, end.frame, &mut |_| Ok(()))?;
        if copied.last_frame != end.frame || copied.torn.is_some() {
            let what = format!("The copy in {} is not what was copied.", to.display());
            return Err(StoreError::damaged(what));
        }
        Ok(BackedUp {
            frames: end.frame,
            names,
            blobs,
        })
    }
}

fn make_empty(folder: &Folder) -> Result<(), StoreError> {
    folder.make()?;
    let found = folder
        .list()
        .map_err(StoreError::io("list", folder.path()))?;
    match found.is_empty() {
        true => Ok(()),
        false => Err(StoreError::NotEmpty {
            path: folder.path().to_owned(),
        }),
    }
}

/// Copies at most `length` bytes; they are on the disk before this returns.
fn copy_file(from: &Path, to: &Path, length: u64) -> Result<(), StoreError> {
    let source = File::open(from).map_err(StoreError::io("read", from))?;
    let copy = || {
        let mut copy = File::create_new(to)?;
        io::copy(&mut source.take(length), &mut copy)?;
        copy.sync_all()
    };
    copy().map_err(StoreError::io("write", to))
}
