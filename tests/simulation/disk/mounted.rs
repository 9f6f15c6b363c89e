//! The simulated disk as one process sees it, and the files that it has open.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use fanwright::store::disk::{Disk, DiskFile, Opening};

use super::{Change, Disks, Fate, File, NameChange, Named, Platter, reach};

/// The disk as one process sees it.
#[derive(Clone)]
pub(in crate::simulation) struct Mounted {
    pub(super) disks: Disks,
    pub(super) process: u32,
}

struct Handle {
    disks: Disks,
    process: u32,
    file: u64,
    holds_lock: Mutex<bool>,
}

impl fmt::Debug for Mounted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Mounted({})", self.process)
    }
}

impl Disk for Mounted {
    fn open(&self, path: &Path, how: Opening) -> io::Result<Box<dyn DiskFile>> {
        let mut platter = self.disks.lock();
        platter.check(self.process)?;
        let there = match platter.named(path) {
            Ok(Named::Folder) => return Err(io::Error::from(io::ErrorKind::IsADirectory)),
            Ok(Named::File(file)) => Some(file),
            Err(problem) if matches!(how, Opening::ToRead | Opening::ToChange) => {
                return Err(problem);
            }
            Err(_) => None,
        };
        let file = match there {
            Some(file) => file,
            None => {
                platter.named(path.parent().unwrap_or(Path::new("/")))?;
                let file = platter.next_file;
                let made = NameChange::Put(path.to_owned(), Named::File(file));
                platter.rename(self.process, true, made)?;
                platter.next_file += 1;
                platter.files.insert(file, File::default());
                file
            }
        };
        if how == Opening::Emptied && !platter.file(file).seen.is_empty() {
            cut(&mut platter, self.process, file, 0)?;
        }
        Ok(Box::new(Handle {
            disks: self.disks.clone(),
            process: self.process,
            file,
            holds_lock: Mutex::new(false),
        }))
    }

    fn exists(&self, path: &Path) -> bool {
        self.disks.lock().names.contains_key(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>> {
        let platter = self.disks.lock();
        platter.check(self.process)?;
        platter.named(folder)?;
        let inside = |path: &&PathBuf| path.parent() == Some(folder);
        Ok(platter.names.keys().filter(inside).cloned().collect())
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        let mut platter = self.disks.lock();
        if platter.names.contains_key(path) {
            return Err(io::Error::from(io::ErrorKind::AlreadyExists));
        }
        let made = NameChange::Put(path.to_owned(), Named::Folder);
        platter.rename(self.process, true, made)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut platter = self.disks.lock();
        platter.named(from)?;
        let moved = NameChange::Move(from.to_owned(), to.to_owned());
        platter.rename(self.process, false, moved)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        let mut platter = self.disks.lock();
        platter.check(self.process)?;
        platter.named(path)?;
        platter.rename(self.process, false, NameChange::Take(path.to_owned()))
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        let mut platter = self.disks.lock();
        let fate = platter.fate(self.process, false)?;
        platter.named(path)?;
        let all = std::mem::take(&mut platter.names_on_their_way);
        for change in all {
            let is_here = change.folder() == Some(path);
            match (&fate, is_here) {
                (Fate::Done, true) => change.apply(&mut platter.kept_names),
                _ => platter.names_on_their_way.push(change),
            }
        }
        match fate {
            Fate::Done => Ok(()),
            Fate::Partly(problem) => Err(problem),
        }
    }
}

fn cut(platter: &mut Platter, process: u32, file: u64, length: usize) -> io::Result<()> {
    if let Fate::Partly(problem) = platter.fate(process, false)? {
        return Err(problem);
    }
    let file = platter.file(file);
    file.seen.resize(length, 0);
    file.on_its_way.push(Change::Cut(length));
    Ok(())
}

impl DiskFile for Handle {
    fn read_at(&self, bytes: &mut [u8], offset: u64) -> io::Result<()> {
        let mut platter = self.disks.lock();
        platter.check(self.process)?;
        let from = usize::try_from(offset).unwrap();
        let read = platter.file(self.file).seen.get(from..from + bytes.len());
        bytes.copy_from_slice(read.ok_or(io::ErrorKind::UnexpectedEof)?);
        Ok(())
    }

    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        let mut platter = self.disks.lock();
        let fate = platter.fate(self.process, true)?;
        let count = match fate {
            Fate::Done => bytes.len(),
            Fate::Partly(_) => platter.dice.roll(bytes.len() + 1),
        };
        let offset = usize::try_from(offset).unwrap();
        let bytes = bytes[..count].to_vec();
        let file = platter.file(self.file);
        if file.seen.len() < offset + count {
            file.seen.resize(offset + count, 0);
        }
        file.seen[offset..offset + count].copy_from_slice(&bytes);
        file.on_its_way.push(Change::Write { offset, bytes });
        match fate {
            Fate::Done => Ok(()),
            Fate::Partly(problem) => Err(problem),
        }
    }

    fn cut_to(&self, length: u64) -> io::Result<()> {
        let length = usize::try_from(length).unwrap();
        cut(&mut self.disks.lock(), self.process, self.file, length)
    }

    fn length(&self) -> io::Result<u64> {
        let mut platter = self.disks.lock();
        platter.check(self.process)?;
        Ok(platter.file(self.file).seen.len() as u64)
    }

    fn sync(&self) -> io::Result<()> {
        let mut platter = self.disks.lock();
        let fate = platter.fate(self.process, false)?;
        let is_alive = platter.died.is_none();
        let syncs_lie = platter.syncs_lie;
        let Platter { files, dice, .. } = &mut *platter;
        let file = files.get_mut(&self.file).unwrap();
        match fate {
            Fate::Done if syncs_lie => Ok(()),
            Fate::Done => {
                file.on_its_way.clear();
                file.kept.clone_from(&file.seen);
                Ok(())
            }
            Fate::Partly(problem) => {
                // The system forgets that these were never written.
                if is_alive {
                    for change in std::mem::take(&mut file.on_its_way) {
                        reach(&mut file.kept, &change, dice);
                    }
                }
                Err(problem)
            }
        }
    }

    fn try_lock(&self) -> io::Result<bool> {
        let mut platter = self.disks.lock();
        platter.check(self.process)?;
        let is_ours = platter.locked.insert(self.file);
        *self.holds_lock.lock().unwrap() |= is_ours;
        Ok(is_ours)
    }
}

impl Drop for Handle {
    fn drop(&mut self) {
        let mut platter = self.disks.lock();
        if platter.process == self.process && *self.holds_lock.lock().unwrap() {
            platter.locked.remove(&self.file);
        }
    }
}
