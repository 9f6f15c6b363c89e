//! Small file systems of one's own.

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write, stderr};
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

/// The file that fills a disk.
const FILLER: &str = "filler";

/// A mounted file system; it goes with this.
pub(super) struct Mounted {
    folder: TempDir,
}

impl Mounted {
    /// One in memory of so many megabytes; nothing if that is not allowed here.
    pub(super) fn memory(megabytes: u32, test: &str) -> Option<Mounted> {
        let size = format!("size={megabytes}m");
        Mounted::with(&["-t", "tmpfs", "-o", &size, "tmpfs"], test)
    }

    /// One in a file of another, which may grow to so many megabytes.
    pub(super) fn image(under: &Mounted, megabytes: u64, test: &str) -> Option<Mounted> {
        let image = under.folder().join("image");
        let file = File::create(&image).unwrap();
        file.set_len(megabytes << 20).unwrap();
        let image = image.to_str().unwrap();
        // Without a journal of its own it holds nothing back and writes through at a sync.
        let made = run("mkfs.ext4", &["-q", "-O", "^has_journal", image]);
        if let Err(why) = made {
            left_out(test, &why);
            return None;
        }
        Mounted::with(&["-o", "loop", image], test)
    }

    fn with(what: &[&str], test: &str) -> Option<Mounted> {
        let folder = tempfile::tempdir().unwrap();
        let mut args = what.to_vec();
        args.push(folder.path().to_str().unwrap());
        match run("mount", &args) {
            Ok(()) => Some(Mounted { folder }),
            Err(why) => {
                left_out(test, &why);
                None
            }
        }
    }

    pub(super) fn folder(&self) -> &Path {
        self.folder.path()
    }

    fn filler(&self) -> PathBuf {
        self.folder().join(FILLER)
    }

    /// Takes all the room there is.
    pub(super) fn fill(&self) {
        let mut options = OpenOptions::new();
        let mut filler = options
            .create(true)
            .append(true)
            .open(self.filler())
            .unwrap();
        for size in [1 << 20, 4096, 1] {
            let bytes = vec![0; size];
            loop {
                match filler.write_all(&bytes).and_then(|()| filler.sync_all()) {
                    Ok(()) => {}
                    Err(error) if error.kind() == ErrorKind::StorageFull => break,
                    Err(error) => panic!("{error}"),
                }
            }
        }
    }

    /// Gives the room back.
    pub(super) fn clear(&self) {
        std::fs::remove_file(self.filler()).unwrap();
    }

    /// Lets nothing be written to it from here on.
    pub(super) fn becomes_read_only(&self) {
        let folder = self.folder().to_str().unwrap();
        run("mount", &["-o", "remount,ro", folder]).unwrap();
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        // A program that was just killed may hold it for a moment longer.
        drop(run("umount", &["-l", self.folder().to_str().unwrap()]));
    }
}

fn run(program: &str, args: &[&str]) -> Result<(), String> {
    let run = Command::new(program).args(args).output();
    let run = run.map_err(|error| format!("{program}: {error}"))?;
    match run.status.success() {
        true => Ok(()),
        false => Err(String::from_utf8_lossy(&run.stderr).trim().to_owned()),
    }
}

/// Says so where no test's output is held back.
fn left_out(test: &str, why: &str) {
    let told = format!("LEFT OUT: {test}: no disk could be mounted here ({why})\n");
    stderr().write_all(told.as_bytes()).unwrap();
}
