//! The entries of a file that is checked: their chain and the seals in it.

use std::collections::BTreeSet;

use super::report::{Change, Place, SealFound};
use crate::record::chain::{Hash, Head, entry_hash};
use crate::record::entry::{Entry, What};
use crate::record::export::{EntryLine, SealLine, seal_line};
use crate::record::seal::{PublicKey, Seal, Statement, Subject};
use crate::record::stream::{Seq, StreamId};

/// The chain as far as it was read.
#[derive(Default)]
pub(super) struct Chain {
    job: Option<StreamId>,
    last: Seq,
    /// What the hash of the last entry may be: as the line says it and, where that does not fit,
    /// as it should be. Nothing if the line could not be read.
    hashes: Vec<Hash>,
    seals: Vec<Sealed>,
    texts: Vec<String>,
    broken: bool,
}

/// An entry that is a seal and agrees with the chain.
struct Sealed {
    seq: Seq,
    line: usize,
    entry: Entry,
    /// What the hash of the entry before it may be.
    before: Vec<Hash>,
}

impl Chain {
    pub(super) fn begin(&mut self, job: Option<StreamId>) {
        self.job = job;
        self.hashes = vec![Hash::NONE];
    }

    /// The place of the last entry.
    pub(super) fn last(&self) -> Seq {
        self.last
    }

    /// The hash of the last entry.
    pub(super) fn end(&self) -> Option<Hash> {
        self.hashes.first().copied()
    }

    /// Whether nothing of it was changed so far.
    pub(super) fn is_whole(&self) -> bool {
        !self.broken
    }

    /// Whether some entry names this hash.
    pub(super) fn names(&self, photo: Hash) -> bool {
        let named = photo.to_string();
        self.broken || self.texts.iter().any(|text| text.contains(&named))
    }

    /// The next line; `object` is what stands before its comma, if it could be told.
    pub(super) fn next(
        &mut self,
        line: usize,
        object: Option<&str>,
        whole: &str,
    ) -> Option<Change> {
        let before = std::mem::take(&mut self.hashes);
        let expected = self.last.next();
        let read = object.and_then(read);
        let Some((entry, bytes)) = read else {
            return self.unreadable(line, whole);
        };
        let place = |seq| Place::Entry {
            line: Some(line),
            seq,
            what: kind_in(&bytes),
        };
        let text = String::from_utf8_lossy(&bytes).into_owned();
        self.texts.push(text);
        self.hashes = vec![entry.hash];
        self.last = expected;
        let hash = |before: &Hash| {
            let job = self.job?;
            Some(entry_hash(job, expected, *before, &bytes))
        };
        let fits = |it: &Hash| hash(it).is_none_or(|hash| hash == entry.hash);
        let fits = before.is_empty() || before.iter().any(fits);
        if entry.entry != expected {
            // With the hash of the entry that should stand here, only its number was changed.
            if !fits || before.is_empty() || self.job.is_none() {
                self.last = entry.entry;
            }
            let what = format!("entry {expected} should stand there");
            return self.changed(place(self.last), what);
        }
        if !fits {
            let should_be: Vec<Hash> = before.iter().filter_map(hash).collect();
            self.hashes.extend(should_be);
            return self.changed(place(expected), "it does not match its hash");
        }
        if let Ok(sealed) = serde_json::from_slice::<Entry>(&bytes)
            && matches!(sealed.what, What::Sealed { .. })
        {
            self.seals.push(Sealed {
                seq: entry.entry,
                line,
                entry: sealed,
                before,
            });
        }
        None
    }

    /// A line that says no entry, or says it in another way than it was written.
    fn unreadable(&mut self, line: usize, whole: &str) -> Option<Change> {
        let expected = self.last.next();
        let named = number_in(whole);
        if named.is_none() && !whole.starts_with('{') {
            let what = "what stands there belongs to no entry";
            return self.changed(Place::Layout { line }, what);
        }
        let seq = named.unwrap_or(expected);
        self.last = self.last.max(seq.min(expected));
        let place = Place::Entry {
            line: Some(line),
            seq,
            what: None,
        };
        self.changed(place, "its line was changed")
    }

    fn changed(&mut self, place: Place, what: impl Into<String>) -> Option<Change> {
        self.broken = true;
        Some(Change::of(place, what))
    }

    /// The seal of this number, from 0, as the list of seals says it.
    pub(super) fn seal(&self, number: usize) -> Option<SealLine> {
        seal_line(&self.seals.get(number)?.entry)
    }

    /// The seals that do not fit the record, or whose key the file does not know.
    pub(super) fn broken_seals(&self, keys: &BTreeSet<PublicKey>) -> Vec<Change> {
        let Some(stream) = self.job else {
            return Vec::new();
        };
        let broken = |sealed: &Sealed| {
            let What::Sealed { head, seal } = &sealed.entry.what else {
                return None;
            };
            let place = Place::Entry {
                line: Some(sealed.line),
                seq: sealed.seq,
                what: Some("sealed".to_owned()),
            };
            if !holds(stream, sealed, head, seal) {
                let what = format!("its seal does not fit entry {} and those before", head.seq);
                return Some(Change::of(place, what));
            }
            // A changed list of keys is told already.
            (!keys.is_empty() && !keys.contains(&seal.key)).then(|| {
                let print = seal.key.fingerprint();
                Change::of(place, format!("its key {print} is not among the keys"))
            })
        };
        self.seals.iter().filter_map(broken).collect()
    }

    pub(super) fn seals_found(&self) -> Vec<SealFound> {
        let found = |sealed: &Sealed| match &sealed.entry.what {
            What::Sealed { head, seal } => Some(SealFound {
                up_to: head.seq,
                at: sealed.entry.at,
                key: seal.key.fingerprint(),
            }),
            _ => None,
        };
        self.seals.iter().filter_map(found).collect()
    }
}

fn holds(stream: StreamId, sealed: &Sealed, head: &Head, seal: &Seal) -> bool {
    let over_the_one_before = head.seq.next() == sealed.seq
        && (sealed.before.is_empty() || sealed.before.contains(&head.hash));
    let statement = Statement {
        subject: Subject::Record,
        stream,
        head: *head,
        at: sealed.entry.at,
    };
    over_the_one_before && seal.holds(&statement)
}

/// A line that says an entry in the one way it is written.
fn read(object: &str) -> Option<(EntryLine, Vec<u8>)> {
    let line: EntryLine = serde_json::from_str(object).ok()?;
    let same = serde_json::to_string(&line).ok()? == object;
    let bytes = line.bytes()?;
    same.then_some((line, bytes))
}

/// The number at the beginning of a damaged line, whatever its first character became.
fn number_in(line: &str) -> Option<Seq> {
    let mut characters = line.chars();
    characters.next()?;
    let rest = characters.as_str().strip_prefix("\"entry\":")?;
    let (number, _) = rest.split_once(',')?;
    number.parse().ok().map(Seq)
}

/// What kind of entry it is, in words, as far as that can still be read.
fn kind_in(bytes: &[u8]) -> Option<String> {
    let value: serde_json::Value = serde_json::from_slice(bytes).ok()?;
    let word = value.get("what")?.get("what")?.as_str()?.replace('_', " ");
    let at = value.get("at").and_then(serde_json::Value::as_str);
    let short = word.chars().count() <= 40 && !word.chars().any(char::is_control);
    short.then(
        || match at.and_then(|at| at.parse::<jiff::Timestamp>().ok()) {
            Some(at) => format!("{word}, {}", at.strftime("%Y-%m-%d %H:%M:%S UTC")),
            None => word,
        },
    )
}
