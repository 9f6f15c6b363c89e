//! The data folder: who works in it, and how the last one left it.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use rustix::fs::{FlockOperation, flock};

use super::segment::sync_folder;
use crate::store::StoreError;

const LOCK: &str = "lock";
const LAST_RUN: &str = "last-run";
const DISTRUST: &str = "rebuild-index";

/// Makes a folder whose name is on the disk before this returns.
pub(in crate::store) fn make_folder(path: &Path) -> Result<(), StoreError> {
    if path.is_dir() {
        return Ok(());
    }
    let parent = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty());
    if let Some(parent) = parent {
        make_folder(parent)?;
    }
    match fs::create_dir(path) {
        Err(problem) if problem.kind() != io::ErrorKind::AlreadyExists => {
            Err(StoreError::io("make", path)(problem))
        }
        _ => sync_folder(parent.unwrap_or(Path::new("."))),
    }
}

/// Puts a file in place of any before, such that after a power cut one of them is there whole.
pub(in crate::store) fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    let beside = path.with_extension("new");
    let write = || {
        let mut file = File::create(&beside)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&beside, path)
    };
    write().map_err(StoreError::io("write", path))?;
    sync_folder(path.parent().unwrap_or(Path::new(".")))
}

/// Keeps every other process out of a data folder as long as it lives.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Lock {
    pub(super) fn take(folder: &Path) -> Result<Lock, StoreError> {
        let path = folder.join(LOCK);
        let mut options = OpenOptions::new();
        let opened = options
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path);
        let mut file = opened.map_err(StoreError::io("open", &path))?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => {
                let number = format!("{}\n", std::process::id());
                let noted = file
                    .set_len(0)
                    .and_then(|()| file.write_all(number.as_bytes()));
                noted.map_err(StoreError::io("write", &path))?;
                Ok(Lock { _file: file })
            }
            Err(rustix::io::Errno::WOULDBLOCK) => {
                let mut number = String::new();
                // Who holds it is a help only; without it the sentence is still true.
                let known = file.read_to_string(&mut number).is_ok() && !number.trim().is_empty();
                let holder = if known {
                    format!(" (number {})", number.trim())
                } else {
                    String::new()
                };
                Err(StoreError::InUse {
                    path: folder.to_owned(),
                    holder,
                })
            }
            Err(problem) => Err(StoreError::io("lock", &path)(problem.into())),
        }
    }
}

/// How the folder was left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum LastRun {
    /// There was none, or it left no word.
    Unknown,
    /// It stopped cleanly after this frame.
    Stopped {
        /// The last frame, 0 for none.
        frame: u64,
    },
    /// It broke off, under this boot of the machine as far as known.
    BrokeOff {
        /// The boot's id.
        boot: Option<String>,
    },
}

/// The word left in the folder about its last run.
#[derive(Clone, Debug)]
pub(super) struct RunMark {
    path: PathBuf,
}

impl RunMark {
    pub(super) fn in_folder(folder: &Path) -> RunMark {
        RunMark {
            path: folder.join(LAST_RUN),
        }
    }

    pub(super) fn read(&self) -> Result<LastRun, StoreError> {
        let text = match fs::read_to_string(&self.path) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
                return Ok(LastRun::Unknown);
            }
            text => text.map_err(StoreError::io("read", &self.path))?,
        };
        let mut words = text.split_whitespace();
        Ok(match (words.next(), words.next()) {
            (Some("stopped"), Some(frame)) => match frame.parse() {
                Ok(frame) => LastRun::Stopped { frame },
                Err(_) => LastRun::Unknown,
            },
            (Some("running"), boot) => LastRun::BrokeOff {
                boot: boot.map(str::to_owned),
            },
            _ => LastRun::Unknown,
        })
    }

    pub(super) fn running(&self, boot: Option<&str>) -> Result<(), StoreError> {
        replace_file(
            &self.path,
            format!("running {}\n", boot.unwrap_or_default()).as_bytes(),
        )
    }

    pub(super) fn stopped(&self, frame: u64) -> Result<(), StoreError> {
        replace_file(&self.path, format!("stopped {frame}\n").as_bytes())
    }
}

/// The id of the machine's present boot, where the system tells it.
pub(super) fn present_boot() -> Option<String> {
    let id = fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
    Some(id.trim().to_owned()).filter(|id| !id.is_empty())
}

/// Asks for a rebuild of the index at the next opening.
pub(super) fn distrust_index(folder: &Path) -> Result<(), StoreError> {
    replace_file(&folder.join(DISTRUST), b"")
}

/// Whether a rebuild was asked for.
pub(super) fn index_distrusted(folder: &Path) -> bool {
    folder.join(DISTRUST).exists()
}

/// Takes the request for a rebuild back.
pub(super) fn trust_index(folder: &Path) -> Result<(), StoreError> {
    match fs::remove_file(folder.join(DISTRUST)) {
        Err(problem) if problem.kind() != io::ErrorKind::NotFound => {
            Err(StoreError::io("remove", folder.join(DISTRUST))(problem))
        }
        _ => sync_folder(folder),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_mark_says_how_the_folder_was_left() {
        let folder = tempfile::tempdir().unwrap();
        let mark = RunMark::in_folder(folder.path());
        assert_eq!(mark.read().unwrap(), LastRun::Unknown);
        mark.running(Some("boot-1")).unwrap();
        let broke_off = LastRun::BrokeOff {
            boot: Some("boot-1".to_owned()),
        };
        assert_eq!(mark.read().unwrap(), broke_off);
        mark.running(None).unwrap();
        assert_eq!(mark.read().unwrap(), LastRun::BrokeOff { boot: None });
        mark.stopped(12).unwrap();
        assert_eq!(mark.read().unwrap(), LastRun::Stopped { frame: 12 });
    }

    #[test]
    fn a_folder_has_one_holder_at_a_time() {
        let folder = tempfile::tempdir().unwrap();
        let held = Lock::take(folder.path()).unwrap();
        let refused = Lock::take(folder.path()).unwrap_err().to_string();
        let holder = format!("in use by another process (number {})", std::process::id());
        assert!(refused.contains(&holder), "{refused}");
        drop(held);
        assert!(Lock::take(folder.path()).is_ok());
    }
}
