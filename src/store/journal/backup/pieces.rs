//! The pieces of a backup: bytes under their own hash, encrypted or not.

use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use age::stream::{StreamReader, StreamWriter};
use age::x25519::{Identity, Recipient};

use super::around;
use super::lock::{damaged, decrypting, encrypting};
use super::manifest::Piece;
use crate::record::chain::Hash;
use crate::store::StoreError;
use crate::store::disk::Folder;

/// All pieces of a folder.
pub(super) struct Pieces {
    folder: PathBuf,
    recipients: Vec<Recipient>,
    identities: Vec<Identity>,
}

impl Pieces {
    pub(super) fn in_folder(
        folder: PathBuf,
        recipients: Vec<Recipient>,
        identities: Vec<Identity>,
    ) -> Pieces {
        Pieces {
            folder,
            recipients,
            identities,
        }
    }

    /// A folder for the first two digits keeps folders short.
    pub(super) fn path(&self, piece: Hash) -> PathBuf {
        let name = piece.to_string();
        let folder = self.folder.join(&name[..2]);
        match self.recipients.is_empty() {
            true => folder.join(name),
            false => folder.join(name + ".age"),
        }
    }

    /// Whether a piece is there, as far as can be told without reading it.
    pub(super) fn has(&self, piece: &Piece) -> bool {
        let length = fs::metadata(self.path(piece.piece)).map(|found| found.len());
        length.is_ok_and(|length| match self.recipients.is_empty() {
            true => length == piece.bytes,
            false => length > piece.bytes,
        })
    }

    /// Begins a piece.
    pub(super) fn begin(&self) -> Result<Writing<'_>, StoreError> {
        Folder::here(self.folder.clone()).make()?;
        let path = self.folder.join("unfinished");
        let file = File::create(&path).map_err(StoreError::io("make", &path))?;
        let file = BufWriter::new(file);
        let out = match self.recipients.is_empty() {
            true => Out::Plain(file),
            false => Out::Locked(
                encrypting(&self.recipients, file).map_err(StoreError::io("write", &path))?,
            ),
        };
        Ok(Writing {
            pieces: self,
            path,
            out,
            hasher: blake3::Hasher::new(),
            bytes: 0,
        })
    }

    /// Keeps bytes; nothing happens if they are there already.
    pub(super) fn put(&self, bytes: &[u8]) -> Result<(Piece, bool), StoreError> {
        let piece = Piece {
            piece: Hash::of(bytes),
            bytes: bytes.len() as u64,
        };
        if self.has(&piece) {
            return Ok((piece, false));
        }
        let mut writing = self.begin()?;
        writing.write(bytes)?;
        Ok((writing.finish()?, true))
    }

    /// Reads a piece; its end is reached only if it is as it was written.
    pub(super) fn read(&self, piece: Piece) -> Result<Reading, StoreError> {
        let path = self.path(piece.piece);
        let file = match File::open(&path) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
                return Err(StoreError::BackupDamaged {
                    what: format!("the file {} is missing", path.display()),
                });
            }
            file => file.map_err(StoreError::io("read", &path))?,
        };
        let source = match self.recipients.is_empty() {
            true => In::Plain(BufReader::new(file)),
            false => In::Locked(Box::new(decrypting(&self.identities, file, &path)?)),
        };
        Ok(Reading {
            path,
            source,
            hasher: blake3::Hasher::new(),
            piece,
            read: 0,
        })
    }

    /// All bytes of a piece.
    pub(super) fn bytes(&self, piece: Piece) -> Result<Vec<u8>, StoreError> {
        let mut bytes = Vec::new();
        let mut reading = self.read(piece)?;
        let path = reading.path.clone();
        let read = reading.read_to_end(&mut bytes);
        read.map_err(|problem| in_words(problem, &path))?;
        Ok(bytes)
    }
}

enum Out {
    Plain(BufWriter<File>),
    Locked(StreamWriter<BufWriter<File>>),
}

/// A piece that is being written.
pub(super) struct Writing<'p> {
    pieces: &'p Pieces,
    path: PathBuf,
    out: Out,
    hasher: blake3::Hasher,
    bytes: u64,
}

impl Writing<'_> {
    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.hasher.update(bytes);
        self.bytes += bytes.len() as u64;
        let written = match &mut self.out {
            Out::Plain(file) => file.write_all(bytes),
            Out::Locked(file) => file.write_all(bytes),
        };
        written.map_err(StoreError::io("write", &self.path))
    }

    /// Ends the piece; it is on the disk under its hash before this returns.
    pub(super) fn finish(self) -> Result<Piece, StoreError> {
        let piece = Piece {
            piece: Hash(*self.hasher.finalize().as_bytes()),
            bytes: self.bytes,
        };
        let file = match self.out {
            Out::Plain(file) => Ok(file),
            Out::Locked(file) => file.finish(),
        };
        let file = file.and_then(|file| file.into_inner().map_err(io::IntoInnerError::into_error));
        let synced = file.and_then(|file| file.sync_all());
        synced.map_err(StoreError::io("write", &self.path))?;
        let place = self.pieces.path(piece.piece);
        let folder = around(&place);
        folder.make()?;
        fs::rename(&self.path, &place).map_err(StoreError::io("write", &place))?;
        folder.sync()?;
        Ok(piece)
    }
}

enum In {
    Plain(BufReader<File>),
    Locked(Box<StreamReader<BufReader<File>>>),
}

/// A piece that is being read.
pub(super) struct Reading {
    path: PathBuf,
    source: In,
    hasher: blake3::Hasher,
    piece: Piece,
    read: u64,
}

impl Reading {
    pub(super) fn path(&self) -> &Path {
        &self.path
    }
}

impl Read for Reading {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = match &mut self.source {
            In::Plain(source) => source.read(into),
            In::Locked(source) => source.read(into),
        }?;
        self.hasher.update(&into[..count]);
        self.read += count as u64;
        let is_end = count == 0 && !into.is_empty();
        let same = || {
            let hash = Hash(*self.hasher.finalize().as_bytes());
            (hash, self.read) == (self.piece.piece, self.piece.bytes)
        };
        match is_end && !same() {
            true => Err(io::Error::new(io::ErrorKind::InvalidData, "another hash")),
            false => Ok(count),
        }
    }
}

/// What went wrong while a piece was read.
pub(super) fn in_words(problem: io::Error, path: &Path) -> StoreError {
    match problem.kind() {
        io::ErrorKind::InvalidData | io::ErrorKind::UnexpectedEof => damaged(path),
        _ => StoreError::io("read", path)(problem),
    }
}
