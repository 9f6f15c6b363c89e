//! The data folder: who works in it, and how the last one left it.

use std::fs;
use std::io;

use crate::store::StoreError;
use crate::store::disk::{DiskFile, Folder, Opening};

const LOCK: &str = "lock";
const LAST_RUN: &str = "last-run";
const DISTRUST: &str = "rebuild-index";

/// Keeps every other process out of a data folder as long as it lives.
pub(super) struct Lock {
    file: Box<dyn DiskFile>,
}

impl Lock {
    pub(super) fn take(folder: &Folder) -> Result<Lock, StoreError> {
        let path = folder.path().join(LOCK);
        let opened = folder.open(LOCK, Opening::NewOrOld);
        let file = opened.map_err(StoreError::io("open", &path))?;
        let lock = Lock::on(file, folder)?;
        let number = format!("{}\n", std::process::id());
        let noted = lock
            .file
            .cut_to(0)
            .and_then(|()| lock.file.write_at(number.as_bytes(), 0));
        noted.map_err(StoreError::io("write", &path))?;
        Ok(lock)
    }

    /// As [`Lock::take`]; on a disk that takes no more writes the holder's number is not noted.
    pub(super) fn take_to_read(folder: &Folder) -> Result<Lock, StoreError> {
        match (Lock::take(folder), folder.open(LOCK, Opening::ToRead)) {
            (Err(StoreError::Io { .. }), Ok(file)) => Lock::on(file, folder),
            (taken, _) => taken,
        }
    }

    fn on(file: Box<dyn DiskFile>, folder: &Folder) -> Result<Lock, StoreError> {
        let path = folder.path().join(LOCK);
        if file.try_lock().map_err(StoreError::io("lock", &path))? {
            return Ok(Lock { file });
        }
        // Who holds it is a help only; without it the sentence is still true.
        let number = folder.read(LOCK).unwrap_or_default();
        let number = String::from_utf8_lossy(&number);
        let holder = match number.trim() {
            "" => String::new(),
            number => format!(" (number {number})"),
        };
        Err(StoreError::InUse {
            path: folder.path().to_owned(),
            holder,
        })
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
    folder: Folder,
}

impl RunMark {
    pub(super) fn in_folder(folder: &Folder) -> RunMark {
        RunMark {
            folder: folder.clone(),
        }
    }

    pub(super) fn read(&self) -> Result<LastRun, StoreError> {
        let reading = |problem| {
            let path = self.folder.path().join(LAST_RUN);
            StoreError::io("read", path)(problem)
        };
        let text = match self.folder.read(LAST_RUN) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
                return Ok(LastRun::Unknown);
            }
            text => text.map_err(reading)?,
        };
        let text = String::from_utf8_lossy(&text);
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
        let word = format!("running {}\n", boot.unwrap_or_default());
        self.folder.replace(LAST_RUN, word.as_bytes())
    }

    pub(super) fn stopped(&self, frame: u64) -> Result<(), StoreError> {
        let word = format!("stopped {frame}\n");
        self.folder.replace(LAST_RUN, word.as_bytes())
    }
}

/// The id of the machine's present boot, where the system tells it.
pub(super) fn present_boot() -> Option<String> {
    let id = fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
    Some(id.trim().to_owned()).filter(|id| !id.is_empty())
}

/// Asks for a rebuild of the index at the next opening.
pub(super) fn distrust_index(folder: &Folder) -> Result<(), StoreError> {
    folder.replace(DISTRUST, b"")
}

/// Whether a rebuild was asked for.
pub(super) fn index_distrusted(folder: &Folder) -> bool {
    folder.exists(DISTRUST)
}

/// Takes the request for a rebuild back.
pub(super) fn trust_index(folder: &Folder) -> Result<(), StoreError> {
    match folder.remove(DISTRUST) {
        Err(problem) if problem.kind() != io::ErrorKind::NotFound => Err(StoreError::io(
            "remove",
            folder.path().join(DISTRUST),
        )(problem)),
        _ => folder.sync(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_mark_says_how_the_folder_was_left() {
        let folder = tempfile::tempdir().unwrap();
        let mark = RunMark::in_folder(&Folder::here(folder.path().to_owned()));
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
        let files = tempfile::tempdir().unwrap();
        let folder = Folder::here(files.path().to_owned());
        let held = Lock::take(&folder).unwrap();
        let refused = Lock::take(&folder).err().unwrap().to_string();
        let holder = format!("in use by another process (number {})", std::process::id());
        assert!(refused.contains(&holder), "{refused}");
        drop(held);
        assert!(Lock::take(&folder).is_ok());
    }
}
