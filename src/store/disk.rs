//! What the store asks of a file system.
//!
//! The machine's own is [`MachineDisk`]. A simulation brings another one, which forgets at a power
//! cut what was not synced, fills up, fails and tears writes apart.

use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustix::fs::{FlockOperation, flock, statvfs};

use super::StoreError;

/// A file system, as far as the store needs one. Everything here blocks.
pub trait Disk: Send + Sync + fmt::Debug {
    /// Opens a file.
    ///
    /// # Errors
    /// What the system says.
    fn open(&self, path: &Path, how: Opening) -> io::Result<Box<dyn DiskFile>>;

    /// Whether something has this name.
    fn exists(&self, path: &Path) -> bool;

    /// The paths of what a folder holds, in any order.
    ///
    /// # Errors
    /// What the system says.
    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>>;

    /// Makes a folder inside one that is there.
    ///
    /// # Errors
    /// What the system says, `AlreadyExists` too.
    fn make_folder(&self, path: &Path) -> io::Result<()>;

    /// Gives a file another name, in place of any file of that name.
    ///
    /// # Errors
    /// What the system says.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Removes a file.
    ///
    /// # Errors
    /// What the system says.
    fn remove(&self, path: &Path) -> io::Result<()>;

    /// Waits until the names in a folder would survive a power cut.
    ///
    /// # Errors
    /// What the system says; then nobody knows which of them would.
    fn sync_folder(&self, path: &Path) -> io::Result<()>;

    /// How many bytes are free where this is, as far as somebody can tell.
    fn room(&self, _path: &Path) -> Option<u64> {
        None
    }
}

/// How a file is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// One that is there, to read it only.
    ToRead,
    /// One that is there, to read and change it.
    ToChange,
    /// One that is made if it is not there.
    NewOrOld,
    /// One that is emptied if it is there.
    Emptied,
}

/// An open file.
pub trait DiskFile: Send + Sync {
    /// Reads exactly so many bytes from a place.
    ///
    /// # Errors
    /// What the system says.
    fn read_at(&self, bytes: &mut [u8], offset: u64) -> io::Result<()>;

    /// Writes all of these to a place. After an error any of them may be there.
    ///
    /// # Errors
    /// What the system says.
    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()>;

    /// Lets the file end here.
    ///
    /// # Errors
    /// What the system says.
    fn cut_to(&self, length: u64) -> io::Result<()>;

    /// How many bytes it has.
    ///
    /// # Errors
    /// What the system says.
    fn length(&self) -> io::Result<u64>;

    /// Waits until what it holds would survive a power cut.
    ///
    /// # Errors
    /// What the system says; then nobody knows what would, whatever a later sync says.
    fn sync(&self) -> io::Result<()>;

    /// Keeps every other opener from locking it until it is closed; whether nobody else has.
    ///
    /// # Errors
    /// What the system says.
    fn try_lock(&self) -> io::Result<bool>;
}

/// The file system of the machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct MachineDisk;

impl Disk for MachineDisk {
    fn open(&self, path: &Path, how: Opening) -> io::Result<Box<dyn DiskFile>> {
        let mut options = OpenOptions::new();
        options.read(true).write(how != Opening::ToRead);
        match how {
            Opening::ToRead | Opening::ToChange => {}
            Opening::NewOrOld => drop(options.create(true)),
            Opening::Emptied => drop(options.create(true).truncate(true)),
        }
        Ok(Box::new(options.open(path)?))
    }

    fn exists(&self, path: &Path) -> bool {
        path.exists()
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<PathBuf>> {
        fs::read_dir(folder)?
            .map(|entry| Ok(entry?.path()))
            .collect()
    }

    fn make_folder(&self, path: &Path) -> io::Result<()> {
        fs::create_dir(path)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn sync_folder(&self, path: &Path) -> io::Result<()> {
        File::open(path)?.sync_all()
    }

    fn room(&self, path: &Path) -> Option<u64> {
        let disk = statvfs(path).ok()?;
        Some(disk.f_bavail.saturating_mul(disk.f_frsize))
    }
}

impl DiskFile for File {
    fn read_at(&self, bytes: &mut [u8], offset: u64) -> io::Result<()> {
        FileExt::read_exact_at(self, bytes, offset)
    }

    fn write_at(&self, bytes: &[u8], offset: u64) -> io::Result<()> {
        FileExt::write_all_at(self, bytes, offset)
    }

    fn cut_to(&self, length: u64) -> io::Result<()> {
        self.set_len(length)
    }

    fn length(&self) -> io::Result<u64> {
        Ok(self.metadata()?.len())
    }

    fn sync(&self) -> io::Result<()> {
        // The length is synced with the content; the time of change need not be.
        self.sync_data()
    }

    fn try_lock(&self) -> io::Result<bool> {
        match flock(self, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Ok(true),
            Err(rustix::io::Errno::WOULDBLOCK) => Ok(false),
            Err(problem) => Err(problem.into()),
        }
    }
}

/// A folder on a disk.
#[derive(Clone, Debug)]
pub(super) struct Folder {
    disk: Arc<dyn Disk>,
    path: PathBuf,
}

impl Folder {
    pub(super) fn on(disk: Arc<dyn Disk>, path: PathBuf) -> Folder {
        Folder { disk, path }
    }

    /// A folder of the machine.
    pub(super) fn here(path: PathBuf) -> Folder {
        Folder::on(Arc::new(MachineDisk), path)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// A folder in it.
    pub(super) fn within(&self, name: &str) -> Folder {
        Folder::on(Arc::clone(&self.disk), self.path.join(name))
    }

    pub(super) fn exists(&self, name: &str) -> bool {
        self.disk.exists(&self.path.join(name))
    }

    /// How many bytes are free on its disk, as far as somebody can tell.
    pub(super) fn room(&self) -> Option<u64> {
        self.disk.room(&self.path)
    }

    /// The paths of what it holds.
    pub(super) fn list(&self) -> io::Result<Vec<PathBuf>> {
        self.disk.list(&self.path)
    }

    pub(super) fn open(&self, name: &str, how: Opening) -> io::Result<Box<dyn DiskFile>> {
        self.disk.open(&self.path.join(name), how)
    }

    /// The whole of a file.
    pub(super) fn read(&self, name: &str) -> io::Result<Vec<u8>> {
        let file = self.open(name, Opening::ToRead)?;
        let length = usize::try_from(file.length()?).unwrap_or(usize::MAX);
        let mut bytes = vec![0; length];
        file.read_at(&mut bytes, 0)?;
        Ok(bytes)
    }

    /// Gives a file in it another name.
    pub(super) fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        self.disk.rename(&self.path.join(from), &self.path.join(to))
    }

    /// Removes a file; it is still there after a power cut before the folder is synced.
    pub(super) fn remove(&self, name: &str) -> io::Result<()> {
        self.disk.remove(&self.path.join(name))
    }

    /// Makes it, and what it stands in; its name is on the disk before this returns, unless it
    /// was there before.
    pub(super) fn make(&self) -> Result<(), StoreError> {
        if self.disk.exists(&self.path) {
            return Ok(());
        }
        let outer = self.outer();
        outer.make()?;
        match self.disk.make_folder(&self.path) {
            Err(problem) if problem.kind() != io::ErrorKind::AlreadyExists => {
                Err(StoreError::io("make", &self.path)(problem))
            }
            _ => outer.sync(),
        }
    }

    /// Waits until its own name is on the disk.
    pub(super) fn sync_name(&self) -> Result<(), StoreError> {
        self.outer().sync()
    }

    /// The folder that it stands in.
    fn outer(&self) -> Folder {
        let parent = self.path.parent();
        let parent = parent.filter(|parent| !parent.as_os_str().is_empty());
        let parent = parent.unwrap_or(Path::new(".")).to_owned();
        Folder::on(Arc::clone(&self.disk), parent)
    }

    /// Puts a file in place of any before, such that after a power cut one of them is there whole.
    pub(super) fn replace(&self, name: &str, bytes: &[u8]) -> Result<(), StoreError> {
        let path = self.path.join(name);
        let beside = path.with_extension(BESIDE);
        let write = || {
            let file = self.disk.open(&beside, Opening::Emptied)?;
            file.write_at(bytes, 0)?;
            file.sync()?;
            self.disk.rename(&beside, &path)
        };
        write().map_err(StoreError::io("write", &path))?;
        self.sync()
    }

    /// Waits until the names in it are on the disk.
    pub(super) fn sync(&self) -> Result<(), StoreError> {
        let synced = self.disk.sync_folder(&self.path);
        synced.map_err(StoreError::io("write", &self.path))
    }
}

/// How the name of a file ends that is to replace another.
pub(super) const BESIDE: &str = "new";
