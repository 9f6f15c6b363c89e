//! Making a data folder out of a snapshot.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use jiff::Timestamp;

use super::folder::{BackupFolder, make_empty};
use super::joined::{Go, Part, read_journal};
use super::lock::Opener;
use super::manifest::Manifest;
use super::pieces::Pieces;
use super::{around, replace_file};
use crate::record::stream::{Seq, StreamId};
use crate::store::StoreError;
use crate::store::blobs::Blobs;
use crate::store::disk::Folder;
use crate::store::format::mark_as;
use crate::store::journal::frame::{Frame, Sealed};
use crate::store::journal::segment::Segments;

/// What is to be restored.
#[derive(Clone)]
pub struct Restoring {
    /// The folder of the backup.
    pub from: PathBuf,
    /// The data folder to make; empty or not there.
    pub to: PathBuf,
    /// Which snapshot; the last one if not said.
    pub snapshot: Option<u32>,
    /// The last of what is wanted; everything if not said.
    pub up_to: Option<UpTo>,
    /// What opens the backup.
    pub opener: Opener,
}

/// A point in a journal, included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UpTo {
    /// A frame.
    Frame(u64),
    /// Everything that was handled until then.
    Time(Timestamp),
    /// An entry, with everything that was kept together with it.
    Entry(StreamId, Seq),
}

/// A text that names no point.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "“{0}” is no point to restore up to. Say a time like 2031-05-04T08:00:00Z, the number of a \
     frame, or an entry like job:0190a6f2-7d3c-7c44-8000-000000000007/24."
)]
pub struct NoPoint(pub String);

impl FromStr for UpTo {
    type Err = NoPoint;

    fn from_str(text: &str) -> Result<UpTo, NoPoint> {
        let entry = || {
            let (stream, seq) = text.split_once('/')?;
            let seq = seq.parse().ok().filter(|seq| *seq > 0)?;
            Some(UpTo::Entry(stream.parse().ok()?, Seq(seq)))
        };
        let frame = text.parse().map(UpTo::Frame).ok();
        let time = || text.parse().map(UpTo::Time).ok();
        let point = frame.or_else(time).or_else(entry);
        point.ok_or_else(|| NoPoint(text.to_owned()))
    }
}

/// What was restored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restored {
    /// From which snapshot.
    pub snapshot: u32,
    /// When that was taken.
    pub taken: Timestamp,
    /// Frames of the journal.
    pub frames: u64,
    /// When the last of them was handled.
    pub until: Option<Timestamp>,
    /// Frames of the snapshot that were left out.
    pub left_out: u64,
    /// Names of people.
    pub names: usize,
    /// Photos and other large pieces.
    pub photos: u64,
    /// Whether the secret of the key that seals records came with it.
    pub secret: bool,
    /// Why the snapshot ends where it does, if what it was taken of was damaged.
    pub damaged: Option<String>,
}

/// Makes a data folder out of a backup. Both stay apart from then on. Either all of it is there
/// afterwards, or nothing. This blocks.
///
/// # Errors
/// If the backup is damaged, of a later version, or cannot be opened, if it has no such snapshot
/// or point, if `to` is not empty, or if the file system refuses.
pub fn restore(wanted: &Restoring) -> Result<Restored, StoreError> {
    let folder = BackupFolder::open(&wanted.from)?;
    let pieces = folder.pieces(&wanted.opener)?;
    let manifest = folder.manifest(chosen(&folder, wanted.snapshot)?)?;
    let last = match wanted.up_to {
        None => manifest.frames,
        Some(point) => last_frame(&manifest, &pieces, point)?,
    };
    make_empty(&wanted.to)?;
    let to = placeable(&wanted.to)?;
    let beside = beside(&to);
    make_empty(&beside).map_err(|problem| match problem {
        StoreError::NotEmpty { path } => StoreError::Backup(format!(
            "The folder {} is left of a restore that was broken off. Remove it and try again.",
            path.display()
        )),
        other => other,
    })?;
    let made = fill(&beside, &folder, (&manifest, &pieces), last);
    let made = made.and_then(|made| {
        let placed = fs::rename(&beside, &to);
        placed.map_err(StoreError::io("move", &beside))?;
        around(&to).sync()?;
        Ok(made)
    });
    if made.is_err() {
        // What is left of it would only be in the way of the next try, and is said there.
        drop(fs::remove_dir_all(&beside));
    }
    made
}

fn chosen(folder: &BackupFolder, snapshot: Option<u32>) -> Result<u32, StoreError> {
    let there = folder.snapshots()?;
    let path = folder.path().display();
    match (snapshot, there.last()) {
        (_, None) => Err(StoreError::Backup(format!(
            "The backup {path} holds no snapshot yet."
        ))),
        (None, Some(last)) => Ok(*last),
        (Some(wanted), Some(_)) if there.contains(&wanted) => Ok(wanted),
        (Some(wanted), Some(last)) => Err(StoreError::Backup(format!(
            "The backup {path} has no snapshot {wanted}. Its last one is {last}."
        ))),
    }
}

/// Where the folder lies, whatever links lead there. What another disk is mounted on cannot be put
/// in place in one move.
fn placeable(to: &Path) -> Result<PathBuf, StoreError> {
    let looking = |problem| StoreError::io("look at", to)(problem);
    let to = fs::canonicalize(to).map_err(looking)?;
    let around = to.parent().unwrap_or(&to);
    let disk = |of: &Path| fs::metadata(of).map(|about| about.dev()).map_err(looking);
    if to == around || disk(&to)? != disk(around)? {
        return Err(StoreError::Backup(format!(
            "The folder {to} has a disk of its own. Name a folder in it, such as {to}/data, and \
             start the server over that one.",
            to = to.display()
        )));
    }
    Ok(to)
}

/// The folder in which the data folder is put together: the same name with an ending.
fn beside(to: &Path) -> PathBuf {
    let mut name = to.file_name().unwrap_or_default().to_owned();
    name.push(".restoring");
    to.with_file_name(name)
}

/// The last frame up to a point.
fn last_frame(manifest: &Manifest, pieces: &Pieces, point: UpTo) -> Result<u64, StoreError> {
    let mut last = 0;
    let mut found = false;
    read_journal(manifest, pieces, &mut |part, _| {
        let Part::Frame { sealed } = part else {
            return Ok(Go::On);
        };
        match point {
            UpTo::Frame(frame) => found = sealed.number == frame,
            UpTo::Time(time) if sealed.at().is_some_and(|at| at > time) => return Ok(Go::Stop),
            UpTo::Time(_) => {}
            UpTo::Entry(stream, seq) => found = holds(&sealed, stream, seq),
        }
        last = sealed.number;
        Ok(if found { Go::Stop } else { Go::On })
    })?;
    let missing = |what: String| {
        StoreError::Backup(format!(
            "There is no {what} in snapshot {} of this backup, which ends with frame {last}.",
            manifest.snapshot
        ))
    };
    match point {
        UpTo::Frame(frame) if !found => Err(missing(format!("frame {frame}"))),
        UpTo::Entry(stream, seq) if !found => Err(missing(format!("entry {seq} of {stream}"))),
        UpTo::Time(time) if last == 0 => Err(missing(format!("frame up to {time}"))),
        _ => Ok(last),
    }
}

fn holds(sealed: &Sealed<'_>, stream: StreamId, seq: Seq) -> bool {
    Frame::read(sealed.payload).is_some_and(|(frame, _)| {
        let mut of_stream = frame.appends.iter().filter(|(it, _)| *it == stream);
        of_stream.any(|(_, entries)| entries.iter().any(|entry| entry.seq == seq))
    })
}

fn fill(
    to: &Path,
    folder: &BackupFolder,
    (manifest, pieces): (&Manifest, &Pieces),
    last: u64,
) -> Result<Restored, StoreError> {
    let until = write_journal(to, (manifest, pieces), last)?;
    replace_file(&to.join("names"), &pieces.bytes(manifest.names)?)?;
    let blobs = Blobs::in_folder(Folder::here(to.join("blobs")));
    for list in &manifest.photos {
        for photo in folder.photos_on(list)? {
            blobs.put(&pieces.bytes(photo)?)?;
        }
    }
    if let Some(secret) = manifest.secret {
        write_secret(&to.join("seal-key"), &pieces.bytes(secret)?)?;
    }
    mark_as(&Folder::here(to.to_owned()), manifest.data_format)?;
    Ok(Restored {
        snapshot: manifest.snapshot,
        taken: manifest.taken,
        frames: last,
        until,
        left_out: manifest.frames - last,
        names: manifest.people,
        photos: manifest.photos(),
        secret: manifest.secret.is_some(),
        damaged: manifest.damaged.clone().filter(|_| last == manifest.frames),
    })
}

/// Writes the journal up to a frame; gives when that was handled.
fn write_journal(
    to: &Path,
    (manifest, pieces): (&Manifest, &Pieces),
    last: u64,
) -> Result<Option<Timestamp>, StoreError> {
    let segments = Segments::in_folder(Folder::here(to.join("journal")));
    segments.folder().make()?;
    let mut until = None;
    let mut open: Option<(PathBuf, BufWriter<File>)> = None;
    read_journal(manifest, pieces, &mut |part, raw| {
        match part {
            Part::Header { file } => {
                open.take().map_or(Ok(()), finish)?;
                let path = segments.path(file);
                let made = File::create_new(&path).map_err(StoreError::io("make", &path))?;
                open = Some((path, BufWriter::new(made)));
            }
            Part::Frame { sealed } if sealed.number > last => return Ok(Go::Stop),
            Part::Frame { sealed } => until = sealed.at(),
        }
        if let Some((path, file)) = &mut open {
            file.write_all(raw)
                .map_err(StoreError::io("write", &*path))?;
        }
        Ok(Go::On)
    })?;
    open.take().map_or(Ok(()), finish)?;
    segments.folder().sync()?;
    Ok(until)
}

fn finish((path, file): (PathBuf, BufWriter<File>)) -> Result<(), StoreError> {
    let synced = file
        .into_inner()
        .map_err(io::IntoInnerError::into_error)
        .and_then(|file| file.sync_all());
    synced.map_err(StoreError::io("write", path))
}

/// Writes the secret such that only its owner may ever read it.
fn write_secret(path: &Path, secret: &[u8]) -> Result<(), StoreError> {
    let write = || {
        let mut options = OpenOptions::new();
        let mut file = options
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(path)?;
        file.write_all(secret)?;
        file.sync_all()
    };
    write().map_err(StoreError::io("write", path))
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::record::stream::StreamKind;

    #[test]
    fn a_point_is_a_frame_a_time_or_an_entry() {
        let job = StreamId::new(StreamKind::Job, Uuid::from_u128(7));
        assert_eq!("24".parse(), Ok(UpTo::Frame(24)));
        let time: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
        assert_eq!("2031-05-04T08:00:00Z".parse(), Ok(UpTo::Time(time)));
        assert_eq!(format!("{job}/3").parse(), Ok(UpTo::Entry(job, Seq(3))));
        for text in ["", "yesterday", "-1", "job:7/3", &format!("{job}/0")] {
            assert_eq!(text.parse::<UpTo>(), Err(NoPoint(text.to_owned())));
        }
    }

    #[test]
    fn a_folder_is_put_together_beside_its_place() {
        let at = |text| beside(Path::new(text));
        assert_eq!(at("/srv/data"), Path::new("/srv/data.restoring"));
        assert_eq!(at("data/"), Path::new("data.restoring"));
    }
}
