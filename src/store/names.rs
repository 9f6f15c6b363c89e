//! The names of people, apart from the record so that they can be erased.
//!
//! A text file of one JSON object a line, read into memory at opening. A first name is added at
//! the end; a changed or erased one has the whole file written anew, so that nothing of it stays
//! in the file.

use std::collections::BTreeMap;
use std::io;
use std::path::PathBuf;
use std::sync::{Mutex, PoisonError, RwLock};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::StoreError;
use super::disk::{BESIDE, Folder, Opening};

/// What the file is called.
const NAMES: &str = "names";

#[derive(Debug)]
pub(super) struct Names {
    folder: Folder,
    /// Never locked while waiting for the disk.
    known: RwLock<BTreeMap<Uuid, String>>,
    /// Held from before a change of the file until `known` has it too.
    writing: Mutex<()>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    person: Uuid,
    name: String,
}

impl Names {
    /// Reads the file, if there is one. A last line without its end was never acknowledged and
    /// is dropped.
    pub(super) fn in_folder(folder: &Folder) -> Result<Names, StoreError> {
        let path = folder.path().join(NAMES);
        let text = match folder.read(NAMES) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => Vec::new(),
            text => text.map_err(StoreError::io("read", &path))?,
        };
        let whole = text
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |at| at + 1);
        let mut known = BTreeMap::new();
        for (at, line) in text[..whole].split(|byte| *byte == b'\n').enumerate() {
            if line.is_empty() {
                continue;
            }
            let line: Line = serde_json::from_slice(line).map_err(|_| {
                let what = format!("Line {} of {} is not a name.", at + 1, path.display());
                StoreError::damaged(what)
            })?;
            known.insert(line.person, line.name);
        }
        let names = Names {
            folder: folder.clone(),
            known: RwLock::new(known),
            writing: Mutex::default(),
        };
        // Writing anew also replaces what a broken-off write may have left beside the file.
        if whole < text.len() || folder.exists(&format!("{NAMES}.{BESIDE}")) {
            names.write_all(&names.copy())?;
        }
        Ok(names)
    }

    pub(super) fn set(&self, person: Uuid, name: String) -> Result<(), StoreError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        match self.get(person) {
            Some(before) if before == name => return Ok(()),
            Some(_) => {
                let mut after = self.copy();
                after.insert(person, name.clone());
                self.write_all(&after)?;
            }
            None => self.add(person, name.clone())?,
        }
        self.known
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(person, name);
        Ok(())
    }

    pub(super) fn get(&self, person: Uuid) -> Option<String> {
        self.known
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&person)
            .cloned()
    }

    pub(super) fn erase(&self, person: Uuid) -> Result<bool, StoreError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let mut after = self.copy();
        if after.remove(&person).is_none() {
            return Ok(false);
        }
        self.write_all(&after)?;
        *self.known.write().unwrap_or_else(PoisonError::into_inner) = after;
        Ok(true)
    }

    pub(super) fn all(&self) -> Vec<(Uuid, String)> {
        self.copy().into_iter().collect()
    }

    /// Every name, as the file holds them, and how many there are.
    pub(super) fn as_lines(&self) -> Result<(Vec<u8>, usize), StoreError> {
        let names = self.copy();
        Ok((lines(&names)?.into_bytes(), names.len()))
    }

    fn add(&self, person: Uuid, name: String) -> Result<(), StoreError> {
        if !self.folder.exists(NAMES) {
            let mut all = self.copy();
            all.insert(person, name);
            return self.write_all(&all);
        }
        let line = line(person, name)?;
        let append = || {
            let file = self.folder.open(NAMES, Opening::ToChange)?;
            let before = file.length()?;
            let added = file
                .write_at(line.as_bytes(), before)
                .and_then(|()| file.sync());
            // Half a line must not stay in front of the next one.
            added.or_else(|problem| file.cut_to(before).and(Err(problem)))
        };
        append().map_err(StoreError::io("write", self.path()))
    }

    fn write_all(&self, names: &BTreeMap<Uuid, String>) -> Result<(), StoreError> {
        self.folder.replace(NAMES, lines(names)?.as_bytes())
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join(NAMES)
    }

    fn copy(&self) -> BTreeMap<Uuid, String> {
        self.known
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

fn lines(names: &BTreeMap<Uuid, String>) -> Result<String, StoreError> {
    let lines = names.iter();
    lines
        .map(|(person, name)| line(*person, name.clone()))
        .collect()
}

fn line(person: Uuid, name: String) -> Result<String, StoreError> {
    let line = serde_json::to_string(&Line { person, name });
    let problem = |problem| StoreError::Index(format!("a name could not be written: {problem}"));
    Ok(line.map_err(problem)? + "\n")
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;

    fn names_in(folder: &Path) -> Result<Names, StoreError> {
        Names::in_folder(&Folder::here(folder.to_owned()))
    }

    const ONE: Uuid = Uuid::from_u128(1);
    const TWO: Uuid = Uuid::from_u128(2);

    #[test]
    fn a_file_that_was_removed_is_written_whole_with_the_next_name() {
        let folder = tempfile::tempdir().unwrap();
        let names = names_in(folder.path()).unwrap();
        let person = Uuid::from_u128;
        names.set(person(1), "Ana".to_owned()).unwrap();
        fs::remove_file(folder.path().join(NAMES)).unwrap();
        names.set(person(2), "Ben".to_owned()).unwrap();
        let again = names_in(folder.path()).unwrap();
        assert_eq!(again.get(person(1)).as_deref(), Some("Ana"));
        assert_eq!(again.get(person(2)).as_deref(), Some("Ben"));
    }

    #[test]
    fn an_erased_or_changed_name_leaves_nothing_in_the_folder() {
        let folder = tempfile::tempdir().unwrap();
        let names = names_in(folder.path()).unwrap();
        names.set(ONE, "Avery Example".to_owned()).unwrap();
        names.set(TWO, "Robin Sample".to_owned()).unwrap();
        names.set(TWO, "Robin Specimen".to_owned()).unwrap();
        assert!(names.erase(ONE).unwrap());
        assert!(!names.erase(ONE).unwrap());
        for file in fs::read_dir(folder.path()).unwrap() {
            let text = fs::read_to_string(file.unwrap().path()).unwrap();
            assert!(
                !text.contains("Avery") && !text.contains("Sample"),
                "{text}"
            );
        }
        let again = names_in(folder.path()).unwrap();
        assert_eq!(again.all(), [(TWO, "Robin Specimen".to_owned())]);
    }

    #[test]
    fn a_broken_off_change_leaves_no_name_beside_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("names");
        fs::write(path.with_extension("new"), "Avery Example").unwrap();
        names_in(folder.path()).unwrap();
        assert!(!path.with_extension("new").exists());
    }

    #[test]
    fn an_unfinished_line_is_dropped_and_a_damaged_one_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("names");
        let names = names_in(folder.path()).unwrap();
        names.set(ONE, "Avery Example".to_owned()).unwrap();
        let whole = fs::read(&path).unwrap();
        fs::write(&path, [&whole[..], &whole[..20]].concat()).unwrap();
        let again = names_in(folder.path()).unwrap();
        again.set(TWO, "Robin Sample".to_owned()).unwrap();
        assert_eq!(names_in(folder.path()).unwrap().all().len(), 2);
        fs::write(&path, [&whole[1..], &whole[..]].concat()).unwrap();
        let refused = names_in(folder.path()).unwrap_err().to_string();
        assert!(refused.starts_with("Line 1 of "), "{refused}");
    }
}
