//! Photos and other large pieces: one file each, named by the hash of its bytes.

use std::io;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use super::StoreError;
use super::disk::Folder;
use crate::record::chain::Hash;

#[derive(Debug)]
pub(super) struct Blobs {
    folder: Folder,
    /// Held while a file is written, for two writers of the same bytes share the file beside it.
    writing: Mutex<()>,
}

impl Blobs {
    pub(super) fn in_folder(folder: Folder) -> Blobs {
        Blobs {
            folder,
            writing: Mutex::default(),
        }
    }

    pub(super) fn put(&self, bytes: &[u8]) -> Result<Hash, StoreError> {
        let hash = Hash::of(bytes);
        let (shelf, name) = self.place(hash);
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.make()?;
        match shelf.read(&name) {
            // Written by a process that may have ended before the name was on the disk.
            Ok(there) if there == bytes => {
                shelf.sync()?;
                self.folder.sync()?;
            }
            // Missing, or damaged and mended by this.
            _ => {
                shelf.replace(&name, bytes)?;
                // Whoever made the shelf may have ended before its name was on the disk.
                self.folder.sync()?;
            }
        }
        Ok(hash)
    }

    pub(super) fn get(&self, hash: Hash) -> Result<Option<Vec<u8>>, StoreError> {
        let (shelf, name) = self.place(hash);
        let path = shelf.path().join(&name);
        let bytes = match shelf.read(&name) {
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

    /// The hashes of all that is kept, in order.
    pub(super) fn hashes(&self) -> Result<Vec<Hash>, StoreError> {
        let mut hashes = Vec::new();
        for shelf in entries_of(&self.folder)? {
            let named = shelf.file_name().and_then(|name| name.to_str());
            let shelf = self.folder.within(named.unwrap_or_default());
            for path in entries_of(&shelf)? {
                let name = path.file_name().and_then(|name| name.to_str());
                // What a broken-off write left beside its place is no photo.
                hashes.extend(name.and_then(|name| name.parse::<Hash>().ok()));
            }
        }
        hashes.sort_unstable();
        Ok(hashes)
    }

    /// A folder for the first two digits keeps folders short.
    fn place(&self, hash: Hash) -> (Folder, String) {
        let name = hash.to_string();
        (self.folder.within(&name[..2]), name)
    }
}

fn entries_of(folder: &Folder) -> Result<Vec<PathBuf>, StoreError> {
    match folder.list() {
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        entries => entries.map_err(StoreError::io("list", folder.path())),
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn a_changed_file_is_refused_and_mended_by_the_true_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let blobs = Blobs::in_folder(Folder::here(folder.path().join("blobs")));
        let hash = blobs.put(b"a photo").unwrap();
        let (shelf, name) = blobs.place(hash);
        let path = shelf.path().join(name);
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
        let blobs = Blobs::in_folder(Folder::here(folder.path().to_owned()));
        let hash = blobs.put(b"a photo").unwrap();
        blobs.put(b"a photo").unwrap();
        let (shelf, name) = blobs.place(hash);
        let path = shelf.path().join(name);
        let files: Vec<_> = fs::read_dir(shelf.path())
            .unwrap()
            .map(|file| file.unwrap().path())
            .collect();
        assert_eq!(files, [path]);
    }
}
