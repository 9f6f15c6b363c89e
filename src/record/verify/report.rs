//! What came out of checking a file, in words.

use std::fmt;

use jiff::Timestamp;

use crate::record::seal::{Fingerprint, PublicKey};
use crate::record::stream::{Seq, StreamId};

/// What came out of checking a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What was changed, in the order of the file; nothing at all means that it is intact.
    pub changes: Vec<Change>,
    /// The job.
    pub job: Option<StreamId>,
    /// When the file was written.
    pub written: Option<Timestamp>,
    /// The last entry.
    pub entries: Seq,
    /// How many photos it names.
    pub photos: usize,
    /// How many of them are in the file, and match their hash.
    pub pictures: usize,
    /// The seals in the record.
    pub seals: Vec<SealFound>,
    /// The key that sealed the file, if its seal holds.
    pub sealed_by: Option<PublicKey>,
}

/// A seal in the record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SealFound {
    /// The last entry under it.
    pub up_to: Seq,
    /// When it was made.
    pub at: Timestamp,
    /// What to know its key by.
    pub key: Fingerprint,
}

/// One thing that was changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Where.
    pub place: Place,
    /// What about it, without a full stop.
    pub what: String,
}

/// A place in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// What is the same in every file, or the way in which it is laid out.
    Layout {
        /// The line.
        line: usize,
    },
    /// The end of a file that was cut off.
    Cut {
        /// The line that is not whole.
        line: usize,
    },
    /// The line that says what the file is about.
    About,
    /// The summary.
    Summary,
    /// An entry.
    Entry {
        /// The line; none for an entry that is not there.
        line: Option<usize>,
        /// Its number.
        seq: Seq,
        /// What it is, in words.
        what: Option<String>,
    },
    /// A person's name.
    Person {
        /// The line.
        line: usize,
        /// Which, from 1.
        number: usize,
    },
    /// A photo.
    Photo {
        /// The line.
        line: usize,
        /// Which, from 1.
        number: usize,
    },
    /// A key.
    Key {
        /// The line.
        line: usize,
        /// Which, from 1.
        number: usize,
    },
    /// A line of the list of seals.
    ListedSeal {
        /// The line.
        line: usize,
        /// Which, from 1.
        number: usize,
    },
    /// The seal of the file.
    FileSeal,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Layout { line } => write!(f, "Layout, line {line}"),
            Place::Cut { line } => write!(f, "Cut off, line {line}"),
            Place::About => f.write_str("What the file is about (job and time), line 3"),
            Place::Summary => f.write_str("Summary, line 4"),
            Place::Entry { line, seq, what } => {
                write!(f, "Entry {seq}")?;
                if let Some(what) = what {
                    write!(f, " ({what})")?;
                }
                line.map_or(Ok(()), |line| write!(f, ", line {line}"))
            }
            Place::Person { line, number } => write!(f, "Name {number}, line {line}"),
            Place::Photo { line, number } => write!(f, "Photo {number}, line {line}"),
            Place::Key { line, number } => write!(f, "Key {number}, line {line}"),
            Place::ListedSeal { line, number } => {
                write!(f, "List of seals, seal {number}, line {line}")
            }
            Place::FileSeal => f.write_str("The seal at the end of the file"),
        }
    }
}

impl Change {
    pub(super) fn of(place: Place, what: impl Into<String>) -> Change {
        let what = what.into();
        Change { place, what }
    }

    pub(super) fn is_cut(&self) -> bool {
        matches!(self.place, Place::Cut { .. })
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}.", self.place, self.what)
    }
}

/// What a checked file is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing was changed, and it was sealed with a key that the reader knows.
    Confirmed,
    /// Nothing was changed; the reader named no key.
    Intact,
    /// Nothing was changed since it was sealed, but with another key than the reader knows.
    OtherSigner,
    /// Something was changed.
    Changed,
}

impl Report {
    /// What it is worth to a reader who knows these keys; without any, who sealed it stays open.
    pub fn verdict(&self, known: &[Fingerprint]) -> Verdict {
        match self.sealed_by {
            Some(key) if self.changes.is_empty() => {
                if known.is_empty() {
                    Verdict::Intact
                } else if known.contains(&key.fingerprint()) {
                    Verdict::Confirmed
                } else {
                    Verdict::OtherSigner
                }
            }
            _ => Verdict::Changed,
        }
    }

    /// Everything worth saying to such a reader, a line each.
    pub fn lines(&self, known: &[Fingerprint]) -> Vec<String> {
        let verdict = self.verdict(known);
        let mut lines = vec![verdict.sentence().to_owned()];
        if let Some(key) = self.sealed_by {
            lines.push(format!("Key: {}", key.fingerprint()));
        }
        lines.extend(self.changes.iter().map(ToString::to_string));
        if verdict == Verdict::Changed {
            return lines;
        }
        if let (Some(job), Some(written)) = (self.job, self.written) {
            let written = written.strftime("%Y-%m-%d %H:%M:%S UTC");
            lines.push(format!(
                "Job: {}, {} entries, written {written}",
                job.id, self.entries
            ));
        }
        lines.extend(self.seals.iter().map(|seal| {
            let at = seal.at.strftime("%Y-%m-%d %H:%M:%S UTC");
            let whose = if known.is_empty() || known.contains(&seal.key) {
                ""
            } else {
                ", which is none of yours"
            };
            format!(
                "Sealed up to entry {}, {at}, key {}{whose}",
                seal.up_to, seal.key
            )
        }));
        if self.seals.is_empty() {
            lines.push(
                "The record holds no seal: it was not handed in when it was written out, \
                        or before there were seals."
                    .to_owned(),
            );
        }
        lines.extend(self.photo_line());
        lines
    }

    fn photo_line(&self) -> Option<String> {
        let named_only = self.photos - self.pictures;
        match (self.pictures, named_only) {
            (0, 0) => None,
            (pictures, 0) => Some(format!("Photos: {pictures}, each as its hash says")),
            (0, named) => Some(format!(
                "Photos: {named}, named by their hash, not in the file"
            )),
            (pictures, named) => Some(format!(
                "Photos: {pictures} as their hash says, {named} not in the file"
            )),
        }
    }
}

impl Verdict {
    /// It in one sentence.
    pub const fn sentence(self) -> &'static str {
        match self {
            Verdict::Confirmed => "Intact, and sealed with the key that you named.",
            Verdict::Intact => {
                "Intact, signer not confirmed: compare the key with the one you were given."
            }
            Verdict::OtherSigner => {
                "Not confirmed: the file was sealed with another key than the one you named."
            }
            Verdict::Changed => "Changed after it was sealed.",
        }
    }
}
