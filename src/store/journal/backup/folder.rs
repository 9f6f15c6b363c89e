//! The folder of a backup: what it is, for whom, and which snapshots it has.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use age::x25519::Recipient;
use rustix::fs::{FlockOperation, flock};

use super::lock::{self, For, Opener};
use super::manifest::{FIRST_LAYOUT, LAYOUT, Manifest};
use super::pieces::Pieces;
use super::replace_file;
use crate::record::chain::Hash;
use crate::record::seal::{Seal, Statement, Subject};
use crate::record::stream::{Seq, StreamId};
use crate::store::StoreError;
use crate::store::disk::Folder;

const MARK: &str = "fanwright-backup";
const WORDS: &str = "fanwright backup ";
const ENCRYPTED: &str = "encrypted to ";
const KEY: &str = "key.age";
const SNAPSHOTS: &str = "snapshots";

/// A folder that keeps snapshots.
#[derive(Debug)]
pub struct BackupFolder {
    path: PathBuf,
    recipients: Vec<Recipient>,
}

impl BackupFolder {
    /// Makes a folder for snapshots out of one that is empty or not there.
    ///
    /// # Errors
    /// When something is in it, a recipient is none, or the file system refuses.
    pub fn make(path: &Path, wanted: &For) -> Result<BackupFolder, StoreError> {
        make_empty(path)?;
        let recipients = match wanted {
            For::Anybody => Vec::new(),
            For::Recipients(texts) => lock::recipients(texts)?,
            For::Passphrase(passphrase) => {
                let (recipient, file) = lock::behind_passphrase(passphrase)?;
                replace_file(&path.join(KEY), &file)?;
                vec![recipient]
            }
        };
        Folder::here(path.join(SNAPSHOTS)).make()?;
        let mut text = format!("{WORDS}{LAYOUT}\n");
        for recipient in &recipients {
            text += &format!("{ENCRYPTED}{recipient}\n");
        }
        // The mark comes last: a folder without it is no backup yet.
        replace_file(&path.join(MARK), text.as_bytes())?;
        Ok(BackupFolder {
            path: path.to_owned(),
            recipients,
        })
    }

    /// Opens a folder that was made before.
    ///
    /// # Errors
    /// When it is no backup, a later version made it, or it cannot be read.
    pub fn open(path: &Path) -> Result<BackupFolder, StoreError> {
        let mark = path.join(MARK);
        let text = match fs::read_to_string(&mark) {
            Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
                return Err(StoreError::Backup(format!(
                    "{} is no backup: there is no file {MARK} in it. Name the folder that \
                     `fanwright backup` wrote.",
                    path.display()
                )));
            }
            text => text.map_err(StoreError::io("read", &mark))?,
        };
        // A cut last line could still name somebody.
        if !text.ends_with('\n') {
            return Err(lock::damaged(&mark));
        }
        let mut lines = text.lines();
        let layout = lines.next().and_then(|line| line.strip_prefix(WORDS));
        match layout.and_then(|layout| layout.parse::<u16>().ok()) {
            Some(found) if found > LAYOUT => {
                return Err(StoreError::Newer {
                    path: path.to_owned(),
                    found: found.into(),
                    known: LAYOUT.into(),
                });
            }
            Some(FIRST_LAYOUT..=LAYOUT) => {}
            _ => return Err(lock::damaged(&mark)),
        }
        let recipients = lines.map(|line| line.strip_prefix(ENCRYPTED).map(str::to_owned));
        let recipients: Option<Vec<String>> = recipients.collect();
        let recipients = recipients.ok_or_else(|| lock::damaged(&mark))?;
        let recipients = lock::recipients(&recipients).map_err(|_| lock::damaged(&mark))?;
        Ok(BackupFolder {
            path: path.to_owned(),
            recipients,
        })
    }

    /// Whether a folder is a backup.
    pub fn is_there(path: &Path) -> bool {
        path.join(MARK).exists()
    }

    /// Opens the folder, or makes an unencrypted one where none is.
    pub(super) fn open_or_make(path: &Path) -> Result<BackupFolder, StoreError> {
        match BackupFolder::is_there(path) {
            true => BackupFolder::open(path),
            false => BackupFolder::make(path, &For::Anybody),
        }
    }

    /// Whether it is what is wanted: encrypted for exactly these, or at least with a passphrase.
    ///
    /// # Errors
    /// A sentence that says for whom it is.
    pub fn must_be(&self, wanted: &For) -> Result<(), StoreError> {
        let fits = match wanted {
            For::Anybody => true,
            For::Recipients(texts) => {
                let wanted = lock::recipients(texts)?;
                wanted.len() == self.recipients.len()
                    && wanted.iter().all(|it| self.recipients.contains(it))
            }
            For::Passphrase(passphrase) => {
                self.is_encrypted() && {
                    let opener = Opener::Passphrase(passphrase.clone());
                    let behind = self.identities(&opener)?;
                    let behind = behind.iter().map(age::x25519::Identity::to_public);
                    behind.eq(self.recipients.iter().cloned())
                }
            }
        };
        if fits {
            return Ok(());
        }
        let whom = match self.recipients.as_slice() {
            [] => "is not encrypted".to_owned(),
            _ => format!("is encrypted to {}", self.names().join(" and ")),
        };
        Err(StoreError::Backup(format!(
            "The backup {} {whom}. Leave the option out, or back up into another folder.",
            self.path.display()
        )))
    }

    /// For whom it is encrypted.
    pub(super) fn names(&self) -> Vec<String> {
        self.recipients.iter().map(ToString::to_string).collect()
    }

    /// Whether it is still for whom it was when a snapshot was taken. Whoever could add a
    /// recipient unseen would get all that comes after.
    pub(super) fn is_for_whom_it_was(&self, manifest: &Manifest) -> Result<(), StoreError> {
        match &manifest.recipients {
            Some(then) if *then != self.names() => Err(StoreError::BackupDamaged {
                what: format!(
                    "the file {} names others than it did when snapshot {} was taken",
                    self.path.join(MARK).display(),
                    manifest.snapshot
                ),
            }),
            _ => Ok(()),
        }
    }

    /// Whether it is encrypted.
    pub fn is_encrypted(&self) -> bool {
        !self.recipients.is_empty()
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    fn identities(&self, opener: &Opener) -> Result<Vec<age::x25519::Identity>, StoreError> {
        lock::identities(opener, &self.path.join(KEY))
    }

    /// Its pieces, to be read by whoever has what opens them.
    pub(super) fn pieces(&self, opener: &Opener) -> Result<Pieces, StoreError> {
        Ok(self.pieces_for(match self.is_encrypted() {
            true => self.identities(opener)?,
            false => Vec::new(),
        }))
    }

    /// Its pieces, to be read with these identities; without any they can only be written.
    pub(super) fn pieces_for(&self, identities: Vec<age::x25519::Identity>) -> Pieces {
        let folder = self.path.join("pieces");
        Pieces::in_folder(folder, self.recipients.clone(), identities)
    }

    /// Keeps every other process from writing into it as long as the file lives.
    pub(super) fn hold(&self) -> Result<File, StoreError> {
        let path = self.path.join("lock");
        let file = File::create(&path).map_err(StoreError::io("open", &path))?;
        match flock(&file, FlockOperation::NonBlockingLockExclusive) {
            Ok(()) => Ok(file),
            Err(rustix::io::Errno::WOULDBLOCK) => Err(StoreError::Backup(format!(
                "Another backup into {} is under way. Wait until it is done.",
                self.path.display()
            ))),
            Err(problem) => Err(StoreError::io("lock", &path)(problem.into())),
        }
    }

    /// A file that belongs to a snapshot.
    pub(super) fn of_snapshot(&self, snapshot: u32, ending: &str) -> PathBuf {
        let name = format!("{snapshot:06}.{ending}");
        self.path.join(SNAPSHOTS).join(name)
    }

    /// The numbers of its snapshots, in order.
    pub(super) fn snapshots(&self) -> Result<Vec<u32>, StoreError> {
        let folder = self.path.join(SNAPSHOTS);
        let listing = |source| StoreError::io("list", &folder)(source);
        let mut numbers = Vec::new();
        for file in fs::read_dir(&folder).map_err(listing)? {
            let path = file.map_err(listing)?.path();
            if path.extension().is_some_and(|ending| ending == "json") {
                let stem = path.file_stem().and_then(|stem| stem.to_str());
                numbers.extend(stem.and_then(|stem| stem.parse::<u32>().ok()));
            }
        }
        numbers.sort_unstable();
        Ok(numbers)
    }

    /// Writes down what a snapshot is made of; from then on it is there.
    pub(super) fn write(
        &self,
        manifest: &Manifest,
        key: &crate::record::seal::SigningKey,
    ) -> Result<(), StoreError> {
        let text = manifest.to_text();
        let seal = key.seal(&statement(manifest, &text));
        let sealed = serde_json::to_string(&seal).unwrap_or_default() + "\n";
        let at = |ending| self.of_snapshot(manifest.snapshot, ending);
        replace_file(&at("seal"), sealed.as_bytes())?;
        replace_file(&at("json"), text.as_bytes())
    }

    /// What a snapshot is made of, held against its seal.
    pub(super) fn manifest(&self, snapshot: u32) -> Result<Manifest, StoreError> {
        let (list, sealed) = (
            self.of_snapshot(snapshot, "json"),
            self.of_snapshot(snapshot, "seal"),
        );
        let text = read_text(&list)?;
        let manifest = Manifest::read(&text, &list)?;
        let seal: Option<Seal> = serde_json::from_str(&read_text(&sealed)?).ok();
        let holds = seal.is_some_and(|seal| {
            seal.key == manifest.key && seal.holds(&statement(&manifest, &text))
        });
        if manifest.snapshot == snapshot && holds {
            Ok(manifest)
        } else {
            Err(StoreError::BackupDamaged {
                what: format!("{} does not fit its seal", list.display()),
            })
        }
    }
}

fn read_text(path: &Path) -> Result<String, StoreError> {
    match fs::read_to_string(path) {
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
            Err(StoreError::BackupDamaged {
                what: format!("the file {} is missing", path.display()),
            })
        }
        text => text.map_err(StoreError::io("read", path)),
    }
}

fn statement(manifest: &Manifest, text: &str) -> Statement {
    Statement {
        subject: Subject::Backup,
        stream: StreamId::SERVER,
        head: crate::record::chain::Head {
            seq: Seq(manifest.frames),
            hash: Hash::of(text.as_bytes()),
        },
        at: manifest.taken,
    }
}

/// Makes a folder that must not have anything in it.
pub(super) fn make_empty(folder: &Path) -> Result<(), StoreError> {
    Folder::here(folder.to_owned()).make()?;
    let mut found = fs::read_dir(folder).map_err(StoreError::io("list", folder))?;
    match found.next() {
        None => Ok(()),
        Some(_) => Err(StoreError::NotEmpty {
            path: folder.to_owned(),
        }),
    }
}
