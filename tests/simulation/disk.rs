//! A disk in memory that keeps no more than it promised.
//!
//! What was not synced may be gone after a power cut, or half there, or there without what was
//! written before it. A file that was synced may have lost its name if its folder was not. A sync
//! that failed loses what it was to keep, and the next one does not say so.

mod mounted;

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

use crate::walk::Dice;

pub(super) use mounted::Mounted;

/// A power cut loses or keeps so many bytes together.
const SECTOR_BYTES: usize = 64;

/// What goes wrong with one change of the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// The process ends in the middle of it.
    Dies,
    /// The power fails in the middle of it.
    PowerFails,
    /// It fails, and a write is done in part.
    Fails,
    /// The disk is full from here on for so many changes.
    Full(u64),
}

/// What a file or folder is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Named {
    File(u64),
    Folder,
}

#[derive(Clone, Debug, Default)]
struct File {
    /// As processes see it.
    seen: Vec<u8>,
    /// As it is after a power cut, but for what is on its way.
    kept: Vec<u8>,
    on_its_way: Vec<Change>,
}

#[derive(Clone, Debug)]
enum Change {
    Write { offset: usize, bytes: Vec<u8> },
    Cut(usize),
}

#[derive(Clone, Debug)]
enum NameChange {
    Put(PathBuf, Named),
    Take(PathBuf),
    Move(PathBuf, PathBuf),
}

impl NameChange {
    fn folder(&self) -> Option<&Path> {
        match self {
            NameChange::Put(path, _) | NameChange::Take(path) | NameChange::Move(_, path) => {
                path.parent()
            }
        }
    }

    fn apply(&self, names: &mut BTreeMap<PathBuf, Named>) {
        match self {
            NameChange::Put(path, named) => drop(names.insert(path.clone(), *named)),
            NameChange::Take(path) => drop(names.remove(path)),
            NameChange::Move(from, to) => {
                if let Some(named) = names.remove(from) {
                    names.insert(to.clone(), named);
                }
            }
        }
    }
}

#[derive(Clone, Debug)]
struct Platter {
    files: BTreeMap<u64, File>,
    names: BTreeMap<PathBuf, Named>,
    kept_names: BTreeMap<PathBuf, Named>,
    names_on_their_way: Vec<NameChange>,
    locked: BTreeSet<u64>,
    next_file: u64,
    /// Which process works with it; what an earlier one opened is of no use any more.
    process: u32,
    changes: u64,
    troubles: BTreeMap<u64, Trouble>,
    full_until: u64,
    died: Option<Trouble>,
    /// A sync says that it kept everything and keeps nothing.
    syncs_lie: bool,
    dice: Dice,
}

/// The disk of a machine, whichever process works with it.
#[derive(Clone)]
pub(super) struct Disks {
    platter: Arc<Mutex<Platter>>,
}

fn gone() -> io::Error {
    io::Error::other("the process has ended")
}

fn full() -> io::Error {
    io::Error::new(io::ErrorKind::StorageFull, "no space left")
}

fn failed() -> io::Error {
    io::Error::other("the disk failed")
}

impl Disks {
    /// An empty disk.
    pub(super) fn new() -> Disks {
        let names = BTreeMap::from([(PathBuf::from("/"), Named::Folder)]);
        Disks {
            platter: Arc::new(Mutex::new(Platter {
                files: BTreeMap::new(),
                kept_names: names.clone(),
                names,
                names_on_their_way: Vec::new(),
                locked: BTreeSet::new(),
                next_file: 1,
                process: 0,
                changes: 0,
                troubles: BTreeMap::new(),
                full_until: 0,
                died: None,
                syncs_lie: false,
                dice: Dice::new(0),
            })),
        }
    }

    /// A disk of its own with the same on it; chance goes another way from here.
    pub(super) fn copy(&self, seed: u64) -> Disks {
        let mut platter = self.lock().clone();
        platter.dice = Dice::new(seed);
        platter.changes = 0;
        Disks {
            platter: Arc::new(Mutex::new(platter)),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Platter> {
        self.platter.lock().unwrap()
    }

    /// The disk as the next process sees it.
    pub(super) fn mount(&self) -> Mounted {
        let mut platter = self.lock();
        platter.process += 1;
        platter.locked.clear();
        platter.died = None;
        Mounted {
            disks: self.clone(),
            process: platter.process,
        }
    }

    /// Lets something go wrong with the so-manieth change from now, the next being 0.
    pub(super) fn trouble(&self, after: u64, trouble: Trouble) {
        let mut platter = self.lock();
        let at = platter.changes + after;
        platter.troubles.insert(at, trouble);
    }

    /// Nothing goes wrong from here on.
    pub(super) fn heal(&self) {
        let mut platter = self.lock();
        platter.troubles.clear();
        platter.full_until = 0;
    }

    /// From here on a sync says that it kept everything, and keeps nothing.
    pub(super) fn let_syncs_lie(&self) {
        self.lock().syncs_lie = true;
    }

    /// The last bytes of the last file in this folder are gone, however well they were kept.
    pub(super) fn lose_the_last_bytes(&self, folder: &Path) {
        let mut platter = self.lock();
        let files = platter.names.iter().rev();
        let inside = files.filter(|(path, _)| path.parent() == Some(folder));
        let last = inside.map(|(_, named)| *named).next();
        if let Some(Named::File(file)) = last {
            let file = platter.file(file);
            let left = file.seen.len().saturating_sub(9);
            file.seen.truncate(left);
            file.kept.truncate(left);
        }
    }

    /// What ended the process in the middle of a change, if that happened.
    pub(super) fn died(&self) -> Option<Trouble> {
        self.lock().died
    }

    /// The process is gone: nothing that it has open does anything any more.
    pub(super) fn end_process(&self) {
        let mut platter = self.lock();
        platter.process += 1;
        platter.locked.clear();
    }

    /// How much happened so far.
    pub(super) fn changes(&self) -> u64 {
        self.lock().changes
    }

    /// The power fails: only what was promised is there afterwards, and perhaps some of the rest.
    pub(super) fn cut_power(&self) {
        let mut platter = self.lock();
        let Platter {
            files,
            names,
            kept_names,
            names_on_their_way,
            dice,
            ..
        } = &mut *platter;
        for file in files.values_mut() {
            for change in std::mem::take(&mut file.on_its_way) {
                reach(&mut file.kept, &change, dice);
            }
            file.seen.clone_from(&file.kept);
        }
        // The changes of one folder keep their order, and nothing is known of two folders.
        let mut stopped: BTreeSet<PathBuf> = BTreeSet::new();
        for change in std::mem::take(names_on_their_way) {
            let folder = change.folder().unwrap_or(Path::new("/")).to_owned();
            if stopped.contains(&folder) || dice.roll(3) == 0 {
                stopped.insert(folder);
            } else {
                change.apply(kept_names);
            }
        }
        let whole = kept_names.clone();
        let stands = |path: &Path| path.ancestors().all(|outer| whole.contains_key(outer));
        kept_names.retain(|path, _| stands(path));
        names.clone_from(kept_names);
        let named: BTreeSet<u64> = names
            .values()
            .filter_map(|named| match named {
                Named::File(file) => Some(*file),
                Named::Folder => None,
            })
            .collect();
        files.retain(|file, _| named.contains(file));
    }
}

/// A change that was on its way reaches the disk, or does not, or does in part.
fn reach(kept: &mut Vec<u8>, change: &Change, dice: &mut Dice) {
    let luck = dice.roll(4);
    match change {
        Change::Cut(length) if luck > 0 => kept.resize(*length, 0),
        Change::Cut(_) => {}
        Change::Write { offset, bytes } => {
            if luck == 0 {
                return;
            }
            let end = offset + bytes.len();
            // The length is one thing and the bytes are another.
            if kept.len() < end {
                kept.resize(end, 0);
            }
            for (at, sector) in bytes.chunks(SECTOR_BYTES).enumerate() {
                if luck == 1 || (luck == 2 && dice.roll(2) == 0) {
                    let from = offset + at * SECTOR_BYTES;
                    kept[from..from + sector.len()].copy_from_slice(sector);
                }
            }
        }
    }
}

/// What becomes of one change of the disk.
enum Fate {
    Done,
    /// Only in part, and then this.
    Partly(io::Error),
}

impl Platter {
    fn check(&self, process: u32) -> io::Result<()> {
        match self.process == process && self.died.is_none() {
            true => Ok(()),
            false => Err(gone()),
        }
    }

    /// Counts a change and tells what becomes of it.
    fn fate(&mut self, process: u32, needs_room: bool) -> io::Result<Fate> {
        self.check(process)?;
        let at = self.changes;
        self.changes += 1;
        match self.troubles.remove(&at) {
            Some(trouble @ (Trouble::Dies | Trouble::PowerFails)) => {
                self.died = Some(trouble);
                return Ok(Fate::Partly(gone()));
            }
            Some(Trouble::Fails) => return Ok(Fate::Partly(failed())),
            Some(Trouble::Full(count)) => self.full_until = at + count,
            None => {}
        }
        if needs_room && at < self.full_until {
            return Ok(Fate::Partly(full()));
        }
        Ok(Fate::Done)
    }

    fn file(&mut self, file: u64) -> &mut File {
        self.files.get_mut(&file).unwrap()
    }

    /// A change of names is done, or not at all.
    fn rename(&mut self, process: u32, needs_room: bool, change: NameChange) -> io::Result<()> {
        match self.fate(process, needs_room)? {
            Fate::Done => {}
            Fate::Partly(problem) => return Err(problem),
        }
        change.apply(&mut self.names);
        self.names_on_their_way.push(change);
        Ok(())
    }

    fn named(&self, path: &Path) -> io::Result<Named> {
        let named = self.names.get(path).copied();
        named.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))
    }
}
