//! Taking a snapshot.

use std::collections::HashMap;
use std::fs;
use std::io::{BufReader, Read};
use std::path::Path;

use super::folder::BackupFolder;
use super::manifest::{
    FileOfJournal, LAYOUT, Manifest, PhotoList, Piece, photo_list, read_photo_list,
};
use super::pieces::Pieces;
use super::{BackUp, BackedUp, End, Source, replace_file};
use crate::record::chain::Hash;
use crate::store::blobs::Blobs;
use crate::store::disk::Folder;
use crate::store::format::{LAST_UNMARKED, said_by};
use crate::store::journal::folder::Lock;
use crate::store::journal::frame::Sealed;
use crate::store::journal::frames::{FileReader, Frames, Next};
use crate::store::journal::scan::{Scanned, damaged};
use crate::store::journal::segment::{Header, Segments};
use crate::store::names::Names;
use crate::store::{DATA_FORMAT, StoreError};

/// Bytes read at once when the begin of a file is held against the backup.
const BYTES_AT_ONCE: usize = 256 * 1024;

/// Takes a snapshot of what can be read of a damaged data folder: the journal up to the damage,
/// all names, all photos that are as they were. No server may run over it. This blocks.
///
/// # Errors
/// If another process holds the folder, if not even the names can be read, or if the file system
/// refuses.
pub fn back_up_readable(data: &Path, order: &BackUp) -> Result<BackedUp, StoreError> {
    let data = &Folder::here(data.to_owned());
    let _lock = Lock::take_to_read(data)?;
    let format = said_by(data)?.unwrap_or(LAST_UNMARKED);
    let source = Source {
        segments: &Segments::in_folder(data.within("journal")),
        names: &Names::in_folder(data)?,
        blobs: &Blobs::in_folder(data.within("blobs")),
    };
    let end = End {
        frame: u64::MAX,
        segment: source.segments.numbers()?.last().copied().unwrap_or(0),
        length: u64::MAX,
    };
    source.take(order, end, (format, Readable::AsFarAsItGoes))
}

/// How much of the source must be whole.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Readable {
    All,
    AsFarAsItGoes,
}

impl Source<'_> {
    /// Takes a snapshot of everything up to `end`, all of which must be whole.
    pub(in crate::store::journal) fn back_up(
        &self,
        order: &BackUp,
        end: End,
    ) -> Result<BackedUp, StoreError> {
        self.take(order, end, (DATA_FORMAT, Readable::All))
    }

    fn take(
        &self,
        order: &BackUp,
        end: End,
        (data_format, readable): (u16, Readable),
    ) -> Result<BackedUp, StoreError> {
        let folder = BackupFolder::open_or_make(&order.to)?;
        let _held = folder.hold()?;
        let latest = match folder.snapshots()?.last() {
            Some(number) => Some(folder.manifest(*number)?),
            None => None,
        };
        if let Some(latest) = &latest {
            folder.is_for_whom_it_was(latest)?;
        }
        let pieces = folder.pieces_for(Vec::new());
        let mut taking = Taking {
            pieces: &pieces,
            before: latest.as_ref(),
            scanned: Scanned::default(),
            new_bytes: 0,
            damaged: None,
        };
        let journal = taking.journal(self.segments, end, readable)?;
        if readable == Readable::All && taking.scanned.last_frame != end.frame {
            return Err(damaged(
                &taking.scanned,
                end.length,
                &self.segments.path(end.segment),
            ));
        }
        let (names, people) = self.names.as_lines()?;
        let names = taking.put(&names)?;
        let snapshot = latest.as_ref().map_or(0, |latest| latest.snapshot) + 1;
        let photos = taking.photos(&folder, snapshot, self.blobs, readable)?;
        let secret = order.secret.as_ref().filter(|_| folder.is_encrypted());
        let secret = secret.map(|secret| taking.put(secret)).transpose()?;
        let manifest = Manifest {
            fanwright_backup: LAYOUT,
            data_format,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            snapshot,
            taken: order.at,
            frames: taking.scanned.last_frame,
            until: taking.scanned.last_at,
            journal,
            names,
            people,
            photos,
            key: order.key.public(),
            secret,
            recipients: Some(folder.names()),
            damaged: taking.damaged,
        };
        folder.write(&manifest, &order.key)?;
        Ok(BackedUp {
            snapshot,
            frames: manifest.frames,
            until: manifest.until,
            names: people,
            photos: manifest.photos(),
            new_bytes: taking.new_bytes,
            secret: manifest.secret.is_some(),
            damaged: manifest.damaged,
        })
    }
}

/// A snapshot that is being taken.
struct Taking<'a> {
    pieces: &'a Pieces,
    before: Option<&'a Manifest>,
    scanned: Scanned,
    new_bytes: u64,
    damaged: Option<String>,
}

impl Taking<'_> {
    fn put(&mut self, bytes: &[u8]) -> Result<Piece, StoreError> {
        let (piece, is_new) = self.pieces.put(bytes)?;
        self.new_bytes += if is_new { piece.bytes } else { 0 };
        Ok(piece)
    }

    /// Something of the source is not as it was written, or cannot be read at all.
    fn is_damaged(&mut self, problem: StoreError) {
        let what = match problem {
            StoreError::Damaged { what } => what,
            other => other.to_string(),
        };
        let told = self.damaged.take();
        self.damaged = Some(told.map_or(what.clone(), |told| format!("{told} {what}")));
    }

    /// The files of the journal, up to `end` or, if that will do, up to the first damage.
    fn journal(
        &mut self,
        segments: &Segments,
        end: End,
        readable: Readable,
    ) -> Result<Vec<FileOfJournal>, StoreError> {
        let mut files = Vec::new();
        for segment in 1..=end.segment {
            let length = if segment == end.segment {
                end.length
            } else {
                u64::MAX
            };
            let path = segments.path(segment);
            let (file, whole) = match self.file((segments, segment), &path, length) {
                Ok(taken) => taken,
                Err(StoreError::Io { source, .. })
                    if source.kind() == std::io::ErrorKind::NotFound =>
                {
                    (None, Err(damaged(&self.scanned, 0, &path)))
                }
                Err(problem) => return Err(problem),
            };
            files.extend(file);
            match whole {
                Ok(()) => {}
                Err(problem) if readable == Readable::AsFarAsItGoes => {
                    self.is_damaged(problem);
                    break;
                }
                Err(problem) => return Err(problem),
            }
        }
        Ok(files)
    }

    /// One file: what the snapshot before has of it is only compared, the rest is read, checked
    /// and kept. Beside what was kept it is told whether the file is whole.
    fn file(
        &mut self,
        (segments, number): (&Segments, u32),
        path: &Path,
        length: u64,
    ) -> Result<(Option<FileOfJournal>, Result<(), StoreError>), StoreError> {
        let mut source = FileReader::open(segments, number, 0, length)?;
        let length = source.end();
        let mut file = FileOfJournal {
            file: number,
            last_frame: self.scanned.last_frame,
            pieces: Vec::new(),
        };
        let mut at = self.compared(&mut source, path, length, &mut file)?;
        if at == length && at > 0 {
            return Ok((Some(file), Ok(())));
        }
        source.go_to(at);
        let mut frames = Frames::from(BufReader::new(source), at);
        let mut writing = self.pieces.begin()?;
        let reading = |problem| StoreError::io("read", path)(problem);
        if at == 0 {
            let first_frame = self.scanned.last_frame + 1;
            match frames.header().map_err(reading) {
                Ok(Header::Whole { first_frame: found }) if found == first_frame => {}
                Ok(_) => return Ok((None, Err(damaged(&self.scanned, 0, path)))),
                Err(problem) => return Ok((None, Err(problem))),
            }
            writing.write(frames.raw())?;
        }
        let whole = loop {
            at = frames.at();
            match frames.next().map_err(reading) {
                Ok(Next::End) => break Ok(()),
                Ok(Next::Frame(sealed)) if sealed.number == self.scanned.last_frame + 1 => {
                    note(&mut self.scanned, &sealed);
                    writing.write(sealed.raw)?;
                }
                Ok(Next::Frame(_) | Next::Broken) => {
                    break Err(damaged(&self.scanned, at, path));
                }
                Err(problem) => break Err(problem),
            }
        };
        let piece = writing.finish()?;
        self.new_bytes += piece.bytes;
        if piece.bytes > 0 {
            file.pieces.push(piece);
        }
        file.last_frame = self.scanned.last_frame;
        Ok((Some(file), whole))
    }

    /// Takes over the pieces of the snapshot before that are the begin of this file byte for byte;
    /// gives where they end.
    fn compared(
        &mut self,
        source: &mut FileReader,
        path: &Path,
        length: u64,
        file: &mut FileOfJournal,
    ) -> Result<u64, StoreError> {
        let Some(before) = self.before else {
            return Ok(0);
        };
        let Some(known) = before.journal.iter().find(|it| it.file == file.file) else {
            return Ok(0);
        };
        let mut at = 0;
        for piece in &known.pieces {
            let fits = at + piece.bytes <= length && self.pieces.has(piece);
            // What cannot be read is read once more below, and told there.
            if !fits || hash_of(source, piece.bytes, path).ok() != Some(piece.piece) {
                break;
            }
            at += piece.bytes;
            file.pieces.push(*piece);
        }
        if at == 0 {
            return Ok(0);
        }
        if file.pieces.len() == known.pieces.len() {
            self.scanned.last_frame = known.last_frame;
            file.last_frame = known.last_frame;
            let is_last = before.journal.last().is_some_and(|it| it.file == file.file);
            self.scanned.last_at = before.until.filter(|_| is_last);
            return Ok(at);
        }
        // Which frame the taken-over part ends with stands nowhere: all of the file is kept anew.
        file.pieces.clear();
        Ok(0)
    }

    /// The lists of photos; those that are not on the lists of before are kept.
    fn photos(
        &mut self,
        folder: &BackupFolder,
        snapshot: u32,
        blobs: &Blobs,
        readable: Readable,
    ) -> Result<Vec<PhotoList>, StoreError> {
        let mut lists = self.before.map(|it| it.photos.clone()).unwrap_or_default();
        let mut known = HashMap::new();
        for list in &lists {
            let photos = folder.photos_on(list)?;
            known.extend(photos.into_iter().map(|it| (it.piece, it)));
        }
        let mut new = Vec::new();
        for hash in blobs.hashes()? {
            let listed = known.get(&hash);
            if listed.is_some_and(|piece| self.pieces.has(piece)) {
                continue;
            }
            match blobs.get(hash) {
                Ok(Some(bytes)) => {
                    let piece = self.put(&bytes)?;
                    new.extend(Some(piece).filter(|_| listed.is_none()));
                }
                Ok(None) => {}
                Err(problem) if readable == Readable::AsFarAsItGoes => self.is_damaged(problem),
                Err(problem) => return Err(problem),
            }
        }
        if !new.is_empty() {
            let text = photo_list(&new);
            replace_file(&folder.of_snapshot(snapshot, "photos"), text.as_bytes())?;
            lists.push(PhotoList {
                snapshot,
                list: Hash::of(text.as_bytes()),
                photos: new.len() as u64,
            });
        }
        Ok(lists)
    }
}

impl BackupFolder {
    /// The photos on a list.
    pub(super) fn photos_on(&self, list: &PhotoList) -> Result<Vec<Piece>, StoreError> {
        let path = self.of_snapshot(list.snapshot, "photos");
        let text = fs::read_to_string(&path).unwrap_or_default();
        let photos = read_photo_list(&text).filter(|_| Hash::of(text.as_bytes()) == list.list);
        photos.ok_or_else(|| super::lock::damaged(&path))
    }
}

fn note(scanned: &mut Scanned, sealed: &Sealed<'_>) {
    (scanned.last_frame, scanned.last_at) = (sealed.number, sealed.at());
}

/// The hash of so many bytes from where a file stands.
fn hash_of(source: &mut FileReader, bytes: u64, path: &Path) -> Result<Hash, StoreError> {
    let mut hasher = blake3::Hasher::new();
    let mut left = source.take(bytes);
    let mut some = vec![0; BYTES_AT_ONCE];
    loop {
        match left.read(&mut some).map_err(StoreError::io("read", path))? {
            0 => return Ok(Hash(*hasher.finalize().as_bytes())),
            count => hasher.update(&some[..count]),
        };
    }
}
