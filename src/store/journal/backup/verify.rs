//! Reading everything back: a backup, or the data folder itself.

use std::collections::BTreeSet;
use std::io::BufReader;
use std::path::Path;

use jiff::Timestamp;

use super::folder::BackupFolder;
use super::joined::{Go, Part, read_journal};
use super::lock::Opener;
use super::manifest::{Manifest, Piece};
use super::pieces::Pieces;
use super::{End, Source};
use crate::record::chain::Hash;
use crate::record::seal::Fingerprint;
use crate::store::StoreError;
use crate::store::journal::chains::Chains;
use crate::store::journal::frames::{FileReader, Frames, Next};
use crate::store::journal::scan::{Scanned, damaged};
use crate::store::journal::segment::Header;

/// What was read back and is as it was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checked {
    /// How many snapshots; 0 for a data folder.
    pub snapshots: usize,
    /// Frames of the journal, in the last snapshot.
    pub frames: u64,
    /// When the last of them was handled.
    pub until: Option<Timestamp>,
    /// Entries in them.
    pub entries: u64,
    /// Streams, each with its chain.
    pub streams: usize,
    /// Names of people.
    pub names: usize,
    /// Photos and other large pieces.
    pub photos: u64,
    /// The key that sealed the last snapshot's list.
    pub key: Option<Fingerprint>,
    /// Why the last snapshot ends where it does, if what it was taken of was damaged.
    pub damaged: Option<String>,
}

/// Reads a whole backup back: every list against its seal, every piece against its hash, every
/// frame, every entry's hash and the chain of every stream. This blocks.
///
/// # Errors
/// [`StoreError::BackupDamaged`] for what is not as it was written; others if it cannot be read.
pub fn verify(from: &Path, opener: &Opener) -> Result<Checked, StoreError> {
    let folder = BackupFolder::open(from)?;
    let pieces = folder.pieces(opener)?;
    let numbers = folder.snapshots()?;
    let mut checked = Checked::default();
    let mut photos_read = BTreeSet::new();
    let mut later: Option<Manifest> = None;
    // The last one is read first: what the ones before it share with it is read once.
    for number in numbers.iter().rev() {
        let manifest = folder.manifest(*number)?;
        folder.is_for_whom_it_was(&manifest)?;
        if later.as_ref().is_none_or(|it| !begins(&manifest, it)) {
            let chains = check_journal(&manifest, &pieces)?;
            let photos = photos(&folder, &manifest)?;
            if let Some(missing) = chains.photos.iter().find(|it| !photos.contains(*it)) {
                // What was taken of a damaged folder says so itself.
                if manifest.damaged.is_none() {
                    return Err(StoreError::BackupDamaged {
                        what: format!("the photo {missing}, which a job names, is missing"),
                    });
                }
            }
            if later.is_none() {
                (checked.entries, checked.streams) = (chains.entries, chains.streams());
            }
        }
        check_pieces(&folder, &manifest, &pieces, &mut photos_read)?;
        if later.is_none() {
            checked.frames = manifest.frames;
            checked.until = manifest.until;
            checked.names = manifest.people;
            checked.photos = manifest.photos();
            checked.key = Some(manifest.key.fingerprint());
            checked.damaged.clone_from(&manifest.damaged);
        }
        checked.snapshots += 1;
        later = Some(manifest);
    }
    match checked.snapshots {
        0 => Err(StoreError::Backup(format!(
            "The backup {} holds no snapshot yet.",
            from.display()
        ))),
        _ => Ok(checked),
    }
}

/// Whether the journal and the photos of one snapshot are the begin of another's, piece by piece.
fn begins(earlier: &Manifest, later: &Manifest) -> bool {
    let files = earlier.journal.iter().zip(&later.journal);
    let same = files
        .filter(|(one, other)| one.file == other.file && other.pieces.starts_with(&one.pieces));
    let whole = same.count() == earlier.journal.len();
    // Only the last file of the earlier one may have grown since.
    let rest = earlier.journal.len().saturating_sub(1);
    let unchanged = earlier.journal[..rest] == later.journal[..rest.min(later.journal.len())];
    whole && unchanged && later.photos.starts_with(&earlier.photos)
}

fn check_journal(manifest: &Manifest, pieces: &Pieces) -> Result<Chains, StoreError> {
    let mut chains = Chains::default();
    read_journal(manifest, pieces, &mut |part, _| {
        if let Part::Frame { sealed } = part {
            let taken = chains.take(&sealed);
            taken.map_err(|what| StoreError::BackupDamaged { what })?;
        }
        Ok(Go::On)
    })?;
    Ok(chains)
}

fn photos(folder: &BackupFolder, manifest: &Manifest) -> Result<BTreeSet<Hash>, StoreError> {
    let mut all = BTreeSet::new();
    for list in &manifest.photos {
        all.extend(folder.photos_on(list)?.into_iter().map(|it| it.piece));
    }
    Ok(all)
}

/// Reads what is not of the journal, but for what was read before.
fn check_pieces(
    folder: &BackupFolder,
    manifest: &Manifest,
    pieces: &Pieces,
    read: &mut BTreeSet<Hash>,
) -> Result<(), StoreError> {
    let mut to_read: Vec<Piece> = vec![manifest.names];
    to_read.extend(manifest.secret);
    for list in &manifest.photos {
        to_read.extend(folder.photos_on(list)?);
    }
    for piece in to_read {
        if read.insert(piece.piece) {
            pieces.bytes(piece)?;
        }
    }
    Ok(())
}

/// Reads a data folder up to `end`, photos too.
pub(in crate::store::journal) fn check_folder(
    source: &Source<'_>,
    end: End,
) -> Result<Checked, StoreError> {
    let mut chains = Chains::default();
    let mut scanned = Scanned::default();
    for segment in 1..=end.segment {
        let path = source.segments.path(segment);
        let length = if segment == end.segment {
            end.length
        } else {
            u64::MAX
        };
        let file = FileReader::open(source.segments, segment, 0, length)?;
        let mut frames = Frames::from(BufReader::new(file), 0);
        let first_frame = scanned.last_frame + 1;
        let header = frames.header().map_err(StoreError::io("read", &path))?;
        if header != (Header::Whole { first_frame }) {
            return Err(damaged(&scanned, 0, &path));
        }
        loop {
            let at = frames.at();
            match frames.next().map_err(StoreError::io("read", &path))? {
                Next::End => break,
                Next::Frame(sealed) if sealed.number == scanned.last_frame + 1 => {
                    let taken = chains.take(&sealed);
                    taken.map_err(|what| {
                        StoreError::damaged(format!("The journal is damaged: {what}."))
                    })?;
                    (scanned.last_frame, scanned.last_at) = (sealed.number, sealed.at());
                }
                Next::Frame(_) | Next::Broken => return Err(damaged(&scanned, at, &path)),
            }
        }
    }
    if scanned.last_frame != end.frame {
        let path = source.segments.path(end.segment);
        return Err(damaged(&scanned, end.length, &path));
    }
    let photos = check_photos(source, &chains)?;
    Ok(Checked {
        frames: scanned.last_frame,
        until: scanned.last_at,
        entries: chains.entries,
        streams: chains.streams(),
        names: source.names.all().len(),
        photos,
        ..Checked::default()
    })
}

/// Reads all photos and looks whether each that a job names is there.
fn check_photos(source: &Source<'_>, chains: &Chains) -> Result<u64, StoreError> {
    let hashes: BTreeSet<Hash> = source.blobs.hashes()?.into_iter().collect();
    for hash in &hashes {
        source.blobs.get(*hash)?;
    }
    match chains.photos.iter().find(|named| !hashes.contains(*named)) {
        None => Ok(hashes.len() as u64),
        Some(missing) => Err(StoreError::damaged(format!(
            "The photo {missing}, which a job names, is missing."
        ))),
    }
}
