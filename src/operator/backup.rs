//! Backups as the operator asks for them, and what came of them in words.

use std::fs;
use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::desk::{Desk, DeskError};
use crate::record::seal::Fingerprint;
use crate::store::{BackedUp, BackupFolder, Checked, Restored, StoreError};

/// Whether everything is as it was written, in a sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Looked {
    /// Whether it is.
    pub whole: bool,
    /// The sentence.
    pub told: String,
}

/// Takes a snapshot.
pub(super) async fn back_up(desk: &Desk, to: &Path) -> Result<Vec<u8>, DeskError> {
    // Whoever asks has made the folder, and chosen for whom it is.
    if !BackupFolder::is_there(to) {
        return Err(DeskError::NotUnderstood(format!(
            "The server does not see the backup {}: it may have a /tmp of its own, or run in a \
             container. Name a folder that the server sees too and may write to.",
            to.display()
        )));
    }
    let taken = desk.back_up(to.to_owned()).await?;
    Ok(backed_up(&taken, to).into_bytes())
}

/// Reads everything in the data folder.
pub(super) async fn check_data(desk: &Desk) -> Result<Vec<u8>, DeskError> {
    let looked = match desk.check_store().await {
        Ok(checked) => Looked {
            whole: true,
            told: format!("The data folder is whole: {}.", all_of(&checked)),
        },
        Err(DeskError::Store(damage @ StoreError::Damaged { .. })) => Looked {
            whole: false,
            told: damage.to_string(),
        },
        Err(other) => return Err(other),
    };
    serde_json::to_vec(&looked).map_err(|error| DeskError::Fault(error.to_string()))
}

/// Brings a record back.
pub(super) async fn bring_back(
    desk: &Desk,
    file: &Path,
    keys: &[Fingerprint],
) -> Result<Vec<u8>, DeskError> {
    let bytes = fs::read(file).map_err(|problem| {
        DeskError::NotUnderstood(format!("It cannot be read: {problem}. Check its name."))
    })?;
    let back = desk.bring_back(&bytes, keys).await?;
    let photos = match back.photos_missing {
        0 => String::new(),
        1 => " One photo that it names is neither in the file nor in the backup.".to_owned(),
        more => format!(" {more} photos that it names are neither in the file nor in the backup."),
    };
    let told = match back.added {
        0 => format!(
            "job {} is there already, {} entries.",
            back.job, back.entries
        ),
        added => format!(
            "job {} is back: {added} of its {} entries were added.",
            back.job, back.entries
        ),
    };
    Ok((told + &photos).into_bytes())
}

/// What a snapshot holds, in words.
pub fn backed_up(taken: &BackedUp, to: &Path) -> String {
    let until = taken
        .until
        .map_or_else(String::new, |at| format!(" up to {at}"));
    let mut told = format!(
        "Backed up into {}, snapshot {}: {}{until}, {}, {}; {} were new.\n",
        to.display(),
        taken.snapshot,
        count(taken.frames, "frame"),
        count(taken.names as u64, "name"),
        count(taken.photos, "photo"),
        count(taken.new_bytes, "byte"),
    );
    told += match taken.secret {
        true => "The key that seals records is in it, too.\n",
        false => "The key that seals records is not in it.\n",
    };
    if let Some(damage) = &taken.damaged {
        told += &format!("It holds what could be read. {damage}\n");
    }
    told
}

/// What a checked backup holds, in words.
pub fn verified(checked: &Checked) -> String {
    let key = checked.key.map_or_else(String::new, |key| key.to_string());
    let mut told = format!(
        "Good: {}, the last one with {}, sealed with key {key}.",
        count(checked.snapshots as u64, "snapshot"),
        all_of(checked)
    );
    if let Some(damage) = &checked.damaged {
        told += &format!(" It was taken of a damaged folder: {damage}");
    }
    told + "\n"
}

fn all_of(checked: &Checked) -> String {
    let until = checked
        .until
        .map_or_else(String::new, |at| format!(" up to {at}"));
    format!(
        "{}{until}, {} in {}, {} and {}",
        count(checked.frames, "frame"),
        entries(checked.entries),
        count(checked.streams as u64, "stream"),
        count(checked.names as u64, "name"),
        count(checked.photos, "photo"),
    )
}

/// What was restored, in words.
pub fn restored(made: &Restored, to: &Path) -> String {
    let until = made
        .until
        .map_or_else(String::new, |at| format!(" up to {at}"));
    let mut told = format!(
        "Restored into {} from snapshot {} of {:.0}: {}{until}, {}, {}.\n",
        to.display(),
        made.snapshot,
        made.taken,
        count(made.frames, "frame"),
        count(made.names as u64, "name"),
        count(made.photos, "photo"),
    );
    if made.left_out > 0 {
        let left_out = count(made.left_out, "later frame");
        told += &format!("Left out: {left_out} of the snapshot.\n");
    }
    if let Some(damage) = &made.damaged {
        told += &format!("The snapshot was taken of a damaged folder: {damage}\n");
    }
    told += "Names are as they were when the snapshot was taken: one that was erased since is \
             there again. Erase it again.\n";
    told += match made.secret {
        true => "The key that seals records came with it.\n",
        false => {
            "The key that seals records was not in the backup: a new one is made, and the old \
             public keys stay known.\n"
        }
    };
    told += "Messages that were still to be sent then are sent again.\n";
    told
}

fn count(number: u64, what: &str) -> String {
    match number {
        1 => format!("1 {what}"),
        _ => format!("{number} {what}s"),
    }
}

fn entries(number: u64) -> String {
    match number {
        1 => "1 entry".to_owned(),
        _ => format!("{number} entries"),
    }
}
