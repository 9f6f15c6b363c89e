//! The format of a data folder: one number in one file, and the way from each released one.
//!
//! The file `format` says `fanwright data 8`. A folder without it is of the seventh format or
//! before, when no folder had one. Entries are never rewritten: what an older program wrote is
//! read as it is, and what it lacks is worked out beside it.

use std::io;

use super::StoreError;
use super::disk::Folder;
use crate::record::around::AROUND_FORMAT;
use crate::record::entry::ENTRY_FORMAT;

/// The file in the data folder.
const FILE: &str = "format";

/// What stands in it before the number.
const WORDS: &str = "fanwright data ";

/// The format of a data folder that this program writes, and the newest that it opens.
pub const DATA_FORMAT: u16 = LATEST.number;

/// A format that was released, and how a folder of the one before comes to be of it.
#[derive(Debug)]
pub struct Format {
    /// Its number.
    pub number: u16,
    /// The format of the entries of jobs in it.
    pub entry: u16,
    /// The format of the entries around jobs in it.
    pub around: u16,
    /// What is done to a folder of the format before.
    step: fn(&Folder) -> Result<(), StoreError>,
}

const fn read_as_it_is(number: u16, entry: u16, around: u16) -> Format {
    Format {
        number,
        entry,
        around,
        step: |_| Ok(()),
    }
}

/// Every released format, the latest last. Whoever raises [`ENTRY_FORMAT`] or [`AROUND_FORMAT`]
/// adds one, with its step and a folder of it in `tests/formats/`.
pub const FORMATS: &[Format] = &[
    read_as_it_is(1, 1, 1),
    // The rows of the speed book that jobs propose.
    read_as_it_is(2, 1, 2),
    // Seals, and the keys that make them.
    read_as_it_is(3, 2, 3),
    // Photos say how they look; jobs are sent back with steps.
    read_as_it_is(4, 3, 3),
    // Zones, tokens, passwords, looks.
    read_as_it_is(5, 3, 4),
    // Looks of the operator, groups of a chat.
    read_as_it_is(6, 3, 5),
    // Sign-offs, check-ins, jobs open to the crew.
    read_as_it_is(7, 4, 5),
    // The folder says its format; the mark itself is set once all steps are done.
    read_as_it_is(8, 4, 5),
];

const LATEST: &Format = &FORMATS[FORMATS.len() - 1];

/// The latest that a folder without the file can be of.
pub(super) const LAST_UNMARKED: u16 = 7;

const _: () = assert!(
    LATEST.entry == ENTRY_FORMAT && LATEST.around == AROUND_FORMAT,
    "the entries have a new format: add a data format for it to FORMATS in src/store/format.rs"
);

/// What became of a folder's format at opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Admitted {
    /// It is of the present format, or new.
    Present,
    /// It was of this format, or an older one without a mark, and was brought to the present one.
    Raised {
        /// The format before.
        from: u16,
    },
}

/// The format that a folder says; none without the file. A later one is refused; nothing in the
/// folder is touched.
pub(super) fn said_by(folder: &Folder) -> Result<Option<u16>, StoreError> {
    let path = folder.path().join(FILE);
    let text = match folder.read(FILE) {
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => return Ok(None),
        text => text.map_err(StoreError::io("read", &path))?,
    };
    let text = String::from_utf8_lossy(&text);
    let number = text.trim_end().strip_prefix(WORDS);
    match number.and_then(|number| number.parse::<u16>().ok()) {
        Some(found) if found > DATA_FORMAT => Err(StoreError::Newer {
            path: folder.path().to_owned(),
            found: found.into(),
            known: DATA_FORMAT.into(),
        }),
        Some(number) => Ok(Some(number)),
        None => Err(StoreError::damaged(format!(
            "The file {} should say a format like “{WORDS}{DATA_FORMAT}”, and does not.",
            path.display()
        ))),
    }
}

/// Brings a folder to the present format, step by step, and marks it. The caller holds its lock.
pub(super) fn admit(folder: &Folder, is_new: bool) -> Result<Admitted, StoreError> {
    let from = match said_by(folder)? {
        Some(DATA_FORMAT) => return Ok(Admitted::Present),
        None if is_new => {
            mark(folder)?;
            return Ok(Admitted::Present);
        }
        said => said.unwrap_or(LAST_UNMARKED),
    };
    // A step that is broken off is done again: each leaves alone what it finds done.
    for format in FORMATS.iter().filter(|format| format.number > from) {
        (format.step)(folder)?;
    }
    mark(folder)?;
    Ok(Admitted::Raised { from })
}

/// Says in a folder that it is of the present format.
fn mark(folder: &Folder) -> Result<(), StoreError> {
    mark_as(folder, DATA_FORMAT)
}

/// Says in a folder of which format it is.
pub(super) fn mark_as(folder: &Folder, number: u16) -> Result<(), StoreError> {
    folder.replace(FILE, format!("{WORDS}{number}\n").as_bytes())
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn formats_are_numbered_without_a_gap_and_never_go_back() {
        for (at, pair) in FORMATS.windows(2).enumerate() {
            assert_eq!(usize::from(pair[0].number), at + 1);
            assert_eq!(pair[1].number, pair[0].number + 1);
            assert!(pair[0].entry <= pair[1].entry && pair[0].around <= pair[1].around);
        }
    }

    #[test]
    fn a_folder_is_marked_once_and_a_later_mark_is_refused_and_kept() {
        let folder = tempfile::tempdir().unwrap();
        let at = &Folder::here(folder.path().to_owned());
        let from = LAST_UNMARKED;
        assert_eq!(admit(at, false).unwrap(), Admitted::Raised { from });
        assert_eq!(admit(at, false).unwrap(), Admitted::Present);
        let newer = format!("{WORDS}{}\n", DATA_FORMAT + 1);
        fs::write(at.path().join(FILE), &newer).unwrap();
        let refused = admit(at, false).unwrap_err().to_string();
        assert!(refused.contains("reads formats up to"), "{refused}");
        assert_eq!(fs::read_to_string(at.path().join(FILE)).unwrap(), newer);
        fs::write(at.path().join(FILE), "a letter\n").unwrap();
        let refused = admit(at, true).unwrap_err().to_string();
        assert!(refused.contains("should say a format"), "{refused}");
    }
}
