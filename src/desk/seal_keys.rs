//! The key that seals records, and the file that keeps it.
//!
//! The file lies in the data folder, may be read by its owner alone, and is in no backup that is
//! not encrypted: whoever has it can seal a forged record.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};

use super::chance::Chance;
use crate::record::hex::Hex;
use crate::record::seal::{SEED_BYTES, SigningKey};

/// The file in the data folder.
const FILE: &str = "seal-key";

/// What the file says to whoever opens it.
const ABOUT: &str = "# This secret seals the records of this server. Whoever has it can forge a \
    record. Keep it to yourself.\n";

/// The key in use, and where it is kept.
#[derive(Debug)]
pub struct SealKeys {
    file: Option<PathBuf>,
    current: RwLock<Arc<SigningKey>>,
}

/// Why there is no key to seal with: a sentence for the operator.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NoSealKey(String);

impl SealKeys {
    /// The key of a data folder; the first time, one is made.
    ///
    /// # Errors
    /// When the file cannot be read or written, or holds something else.
    pub fn in_folder(folder: &Path, chance: &dyn Chance) -> Result<SealKeys, NoSealKey> {
        let file = folder.join(FILE);
        let key = match fs::read_to_string(&file) {
            Ok(text) => key_in(&text).ok_or_else(|| damaged(&file))?,
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => make(&file, chance)?,
            Err(problem) => return Err(cannot("read", &file)(problem)),
        };
        Ok(SealKeys {
            file: Some(file),
            current: RwLock::new(Arc::new(key)),
        })
    }

    /// A key that is kept nowhere.
    pub fn in_memory(key: SigningKey) -> SealKeys {
        SealKeys {
            file: None,
            current: RwLock::new(Arc::new(key)),
        }
    }

    /// What the operator should know about the file.
    pub fn warning(&self) -> Option<String> {
        let file = self.file.as_ref()?;
        let others_may = fs::metadata(file).is_ok_and(|found| found.mode() & 0o077 != 0);
        others_may.then(|| {
            let file = file.display();
            format!(
                "Others on this machine may read the key that seals records. Make {file} yours \
                 alone (chmod 600), then make a new key: fanwright seal-key --rotate."
            )
        })
    }

    /// The key in use.
    pub fn in_use(&self) -> Arc<SigningKey> {
        self.current()
    }

    /// What the key's file holds, for an encrypted backup; nothing for a key that is kept nowhere.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn secret(&self) -> Result<Option<Vec<u8>>, NoSealKey> {
        let Some(file) = &self.file else {
            return Ok(None);
        };
        fs::read(file).map(Some).map_err(cannot("read", file))
    }

    /// The key to seal with.
    pub(super) fn current(&self) -> Arc<SigningKey> {
        let current = self.current.read().unwrap_or_else(PoisonError::into_inner);
        Arc::clone(&current)
    }

    /// Makes a new key, which seals from then on. The secret of the one before is gone.
    pub(super) fn replace(&self, chance: &dyn Chance) -> Result<Arc<SigningKey>, NoSealKey> {
        let mut current = self.current.write().unwrap_or_else(PoisonError::into_inner);
        let key = match &self.file {
            Some(file) => make(file, chance)?,
            None => drawn(chance)?.1,
        };
        *current = Arc::new(key);
        Ok(Arc::clone(&current))
    }
}

fn drawn(chance: &dyn Chance) -> Result<([u8; SEED_BYTES], SigningKey), NoSealKey> {
    let mut seed = [0; SEED_BYTES];
    let in_words = |error: &dyn std::fmt::Display| NoSealKey(error.to_string());
    chance.fill(&mut seed).map_err(|error| in_words(&error))?;
    let key = SigningKey::from_seed(&seed).map_err(|error| in_words(&error))?;
    Ok((seed, key))
}

/// Draws a key and has it on the disk before it is used.
fn make(file: &Path, chance: &dyn Chance) -> Result<SigningKey, NoSealKey> {
    let (seed, key) = drawn(chance)?;
    let beside = file.with_extension("new");
    let write = || {
        // What a broken-off try left there may have been open to others.
        match fs::remove_file(&beside) {
            Err(problem) if problem.kind() != io::ErrorKind::NotFound => return Err(problem),
            _ => {}
        }
        let mut options = OpenOptions::new();
        let mut new = options
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&beside)?;
        new.write_all(format!("{ABOUT}{}\n", Hex(seed)).as_bytes())?;
        new.sync_all()?;
        fs::rename(&beside, file)?;
        File::open(file.parent().unwrap_or(Path::new(".")))?.sync_all()
    };
    write().map_err(cannot("written", file))?;
    Ok(key)
}

fn key_in(text: &str) -> Option<SigningKey> {
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let Hex(seed) = Hex::<SEED_BYTES>::read(lines.next()?.trim())?;
    SigningKey::from_seed(&seed).ok()
}

fn damaged(file: &Path) -> NoSealKey {
    let file = file.display();
    NoSealKey(format!(
        "The key that seals records, {file}, is damaged. Put the file back from your own copy; or \
         move it away, then a new key is made at the next start."
    ))
}

fn cannot(what: &str, file: &Path) -> impl Fn(io::Error) -> NoSealKey {
    let file = file.display();
    let told = format!("The key that seals records, {file}, could not be {what}");
    move |problem| {
        NoSealKey(format!(
            "{told}: {problem}. Look at the folder's owner and room."
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::super::chance::SystemChance;
    use super::*;

    #[test]
    fn a_folder_keeps_its_key_and_only_its_owner_may_read_it() {
        let folder = tempfile::tempdir().unwrap();
        let made = SealKeys::in_folder(folder.path(), &SystemChance).unwrap();
        let again = SealKeys::in_folder(folder.path(), &SystemChance).unwrap();
        assert_eq!(made.current().public(), again.current().public());
        let file = folder.path().join(FILE);
        assert_eq!(fs::metadata(&file).unwrap().mode() & 0o777, 0o600);
        assert_eq!(made.warning(), None);
        let open = std::os::unix::fs::PermissionsExt::from_mode(0o644);
        fs::set_permissions(&file, open).unwrap();
        assert!(made.warning().unwrap().contains("chmod 600"));
    }

    #[test]
    fn a_new_key_takes_the_place_of_the_one_before() {
        let folder = tempfile::tempdir().unwrap();
        let keys = SealKeys::in_folder(folder.path(), &SystemChance).unwrap();
        let before = keys.current().public();
        let after = keys.replace(&SystemChance).unwrap().public();
        assert_ne!(before, after);
        let again = SealKeys::in_folder(folder.path(), &SystemChance).unwrap();
        assert_eq!(again.current().public(), after);
        assert!(!folder.path().join("seal-key.new").exists());
    }

    #[test]
    fn a_damaged_file_is_told_and_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(FILE);
        fs::write(&file, "no key\n").unwrap();
        let told = SealKeys::in_folder(folder.path(), &SystemChance).unwrap_err();
        assert!(told.to_string().contains("is damaged"), "{told}");
        assert_eq!(fs::read_to_string(&file).unwrap(), "no key\n");
    }
}
