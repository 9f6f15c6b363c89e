//! Encryption of backups: the open format of age, version 1.
//!
//! Every piece is an age file for the folder's recipients. A passphrase protects one identity that
//! is made for the folder and lies in it, so that later snapshots need no passphrase.

use std::fs;
use std::io::{BufReader, Read, Write};
use std::iter;
use std::path::Path;

use age::secrecy::{ExposeSecret, SecretString};
use age::x25519::{Identity, Recipient};
use age::{DecryptError, Decryptor, Encryptor};

use crate::store::StoreError;

/// For whom a new backup folder is.
#[derive(Clone)]
pub enum For {
    /// For anybody who can read its files.
    Anybody,
    /// For whoever has the identity of one of these recipients: `age1…`.
    Recipients(Vec<String>),
    /// For whoever knows this passphrase.
    Passphrase(String),
}

/// What opens an encrypted backup.
#[derive(Clone, Default)]
pub enum Opener {
    /// Nothing: it is not encrypted.
    #[default]
    Nothing,
    /// The text of an identity file: lines like `AGE-SECRET-KEY-1…`.
    Identity(String),
    /// A passphrase.
    Passphrase(String),
}

/// Reads recipients.
pub(super) fn recipients(texts: &[String]) -> Result<Vec<Recipient>, StoreError> {
    let read = |text: &String| {
        text.parse::<Recipient>().map_err(|_| {
            StoreError::Backup(format!(
                "“{text}” is no recipient. One is a line like age1…, as `age-keygen` tells it."
            ))
        })
    };
    texts.iter().map(read).collect()
}

/// A new identity: its recipient, and its secret under a passphrase.
pub(super) fn behind_passphrase(passphrase: &str) -> Result<(Recipient, Vec<u8>), StoreError> {
    let identity = Identity::generate();
    let secret = identity.to_string();
    let encryptor = Encryptor::with_user_passphrase(SecretString::from(passphrase.to_owned()));
    let mut file = Vec::new();
    let written = encryptor.wrap_output(&mut file).and_then(|mut writer| {
        writer.write_all(secret.expose_secret().as_bytes())?;
        writer.write_all(b"\n")?;
        writer.finish().map(drop)
    });
    written.map_err(StoreError::io("write", "the key behind the passphrase"))?;
    Ok((identity.to_public(), file))
}

/// The identities that somebody has for a folder; `key_file` is the one behind its passphrase.
pub(super) fn identities(opener: &Opener, key_file: &Path) -> Result<Vec<Identity>, StoreError> {
    match opener {
        Opener::Nothing => Ok(Vec::new()),
        Opener::Identity(text) => read_identities(text),
        Opener::Passphrase(passphrase) => {
            let file = fs::read(key_file).map_err(|_| {
                StoreError::Backup(
                    "No passphrase opens this backup: it is encrypted to recipients. Name the file \
                     with an identity with --identity."
                        .to_owned(),
                )
            })?;
            let identity = age::scrypt::Identity::new(SecretString::from(passphrase.clone()));
            let opened = age::decrypt(&identity, &file).map_err(|problem| match problem {
                DecryptError::ExcessiveWork { .. } => StoreError::Backup(
                    "The key behind the passphrase was made to take far too long to open."
                        .to_owned(),
                ),
                _ => StoreError::Backup("The passphrase does not open this backup.".to_owned()),
            })?;
            read_identities(&String::from_utf8_lossy(&opened))
        }
    }
}

fn read_identities(text: &str) -> Result<Vec<Identity>, StoreError> {
    let lines = text.lines().map(str::trim);
    let lines = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    let found: Option<Vec<Identity>> = lines.map(|line| line.parse().ok()).collect();
    found.filter(|found| !found.is_empty()).ok_or_else(|| {
        StoreError::Backup(
            "This is no file with identities. One has lines like AGE-SECRET-KEY-1…, as \
             `age-keygen` writes them."
                .to_owned(),
        )
    })
}

/// Encrypts what is written into `output`.
pub(super) fn encrypting<W: Write>(
    recipients: &[Recipient],
    output: W,
) -> std::io::Result<age::stream::StreamWriter<W>> {
    let all = recipients.iter().map(|it| it as &dyn age::Recipient);
    Encryptor::with_recipients(all)
        .map_err(std::io::Error::other)?
        .wrap_output(output)
}

/// Decrypts what is read from `input`, which lies at `path`.
pub(super) fn decrypting<R: Read>(
    identities: &[Identity],
    input: R,
    path: &Path,
) -> Result<age::stream::StreamReader<BufReader<R>>, StoreError> {
    let Some(first) = identities.first() else {
        return Err(StoreError::Backup(
            "This backup is encrypted. Name what opens it: --identity FILE or --passphrase-file \
             FILE."
                .to_owned(),
        ));
    };
    let all = iter::once(first).chain(&identities[1..]);
    let all = all.map(|it| it as &dyn age::Identity);
    let opened = Decryptor::new_buffered(BufReader::new(input)).and_then(|it| it.decrypt(all));
    opened.map_err(|problem| match problem {
        DecryptError::NoMatchingKeys => StoreError::Backup(format!(
            "The identity does not open {}: it was encrypted to others.",
            path.display()
        )),
        DecryptError::Io(source) => StoreError::io("read", path)(source),
        _ => damaged(path),
    })
}

/// A file of a backup that is not as it was written.
pub(super) fn damaged(path: &Path) -> StoreError {
    StoreError::BackupDamaged {
        what: format!("the file {} is not as it was written", path.display()),
    }
}
