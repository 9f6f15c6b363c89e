//! Photos and other large pieces: one file each, named by the hash of its bytes.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::StoreError;
use super::journal::{make_folder, replace_file, sync_folder};
use crate::record::chain::Hash;

#[derive(Debug)]
pub(super) struct Blobs {
    folder: PathBuf,
    /// Held while a file is written, for two writers of the same bytes share the file beside it.
    writing: Mutex<()>,
}

impl Blobs {
    pub(super) fn in_folder(folder: PathBuf) -> Blobs {
        Blobs {
            folder,
            writing: Mutex::default(),
        }
    }

    pub(super) fn put(&self, bytes: &[u8]) -> Result<Hash, StoreError> {
        let hash = Hash::of(bytes);
        let (folder, path) = self.place(hash);
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        make_folder(&folder)?;
        match fs::read(&path) {
            // Written by a process that may have ended before the name was on the disk.
            Ok(there) if there == bytes => sync_folder(&folder)?,
            // Missing, or damaged and mended by this.
            _ => replace_file(&path, bytes)?,
        }
        Ok(hash)
    }

    pub(super) fn get(&self, hash: Hash) -> Result<Option<Vec<u8>>, StoreError> {
        let (_, path) = self.place(hash);
        let bytes = match fs::read(&path) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => return Ok(None),
            bytes => bytes.map_err(StoreError::io("read", &path))?,
        };
        if Hash::of(&bytes) == hash {
            return Ok(Some(bytes));
        }
        let what = format!(
            "The file {} does not match the hash in its name.",
            path.display()
        );
        Err(StoreError::damaged(what))
    }

    /// Copies every file, checked against its name, into another folder; gives how many.
    pub(super) fn copy_to(&self, other: &Path) -> Result<u64, StoreError> {
        let other = Blobs::in_folder(other.to_owned());
        let mut copied = 0;
        for shelf in entries_of(&self.folder)? {
            for path in entries_of(&shelf)? {
                let name = path.file_name().and_then(|name| name.to_str());
                // What a broken-off write left beside its place is no photo.
                let Some(hash) = name.and_then(|name| name.parse::<Hash>().ok()) else {
                    continue;
                };
                if let Some(bytes) = self.get(hash)? {
                    other.put(&bytes)?;
                    copied += 1;
                }
            }
        }
        Ok(copied)
    }

    /// A folder for the first two digits keeps folders short.
    fn place(&self, hash: Hash) -> (PathBuf, PathBuf) {
        let name = hash.to_string();
        let folder = self.folder.join(&name[..2]);
        let path = folder.join(&name);
        (folder, path)
    }
}

fn entries_of(folder: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let entries = match fs::read_dir(folder) {
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries.map_err(StoreError::io("list", folder))?,
    };
    let paths = entries.map(|entry| entry.map(|entry| entry.path()));
    paths
        .collect::<Result<_, _>>()
        .map_err(StoreError::io("list", folder))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_changed_file_is_refused_and_mended_by_the_true_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let blobs = Blobs::in_folder(folder.path().join("blobs"));
        let hash = blobs.put(b"a photo").unwrap();
        let path = blobs.place(hash).1;
        fs::write(&path, b"a forgery").unwrap();
        let refused = blobs.get(hash).unwrap_err().to_string();
        assert!(refused.contains("does not match the hash"), "{refused}");
        blobs.put(b"a photo").unwrap();
        assert_eq!(
            blobs.get(hash).unwrap().as_deref(),
            Some(b"a photo".as_slice())
        );
    }

    #[test]
    fn only_whole_files_stand_in_the_folder() {
        let folder = tempfile::tempdir().unwrap();
        let blobs = Blobs::in_folder(folder.path().to_owned());
        let hash = blobs.put(b"a photo").unwrap();
        blobs.put(b"a photo").unwrap();
        let (shelf, path) = blobs.place(hash);
        let files: Vec<_> = fs::read_dir(shelf)
            .unwrap()
            .map(|file| file.unwrap().path())
            .collect();
        assert_eq!(files, [path]);
    }
}
