//! Checking a record that was written out: is it as it was, and if not, what was changed?

mod entries;
mod reader;
mod report;

pub use report::{Change, Place, Report, SealFound, Verdict};

use std::collections::BTreeSet;

use entries::Chain;
use reader::Lines;

use super::chain::Hash;
use super::export::{
    AboutLine, CLOSER, EXPORT_FORMAT, FileSealLine, KeyLine, List, PersonLine, PhotoLine,
    file_statement, format_line, without_hash,
};
use super::seal::{PublicKey, Seal};
use super::stream::{Seq, StreamId};

/// A file that is no record: one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NotARecord(String);

/// Checks the bytes of a file.
///
/// # Errors
/// [`NotARecord`] for a file that this program did not write, or a later version did.
pub fn verify(file: &[u8]) -> Result<Report, NotARecord> {
    let mut lines = Lines::of(file);
    let mut report = Report::default();
    if let Some(layout) = recognise(&lines)? {
        report.changes.push(layout);
        return Ok(report);
    }
    let mut checker = Checker {
        report,
        about: None,
        summary: None,
        keys: BTreeSet::new(),
        chain: Chain::default(),
    };
    checker.read(&mut lines);
    Ok(checker.report)
}

/// Whether the file can be read line by line; if not, what is wrong with all of it.
fn recognise(lines: &Lines<'_>) -> Result<Option<Change>, NotARecord> {
    let line = |at: usize| lines.text(at).unwrap_or_default();
    let about_follows = line(3).starts_with("\"about\": ");
    let other_breaks = line(2).ends_with('\r') && line(3).ends_with('\r');
    if (line(2) == format_line() || about_follows) && !other_breaks {
        let other = line(2)
            .strip_prefix("\"fanwright_record\": ")
            .and_then(|rest| rest.strip_suffix(','))
            .and_then(|version| version.parse::<u16>().ok())
            .filter(|version| *version != EXPORT_FORMAT);
        return match other {
            None => Ok(None),
            Some(version) => Err(NotARecord(format!(
                "Line 2 says that the file has layout {version}, and this program knows layout \
                 {EXPORT_FORMAT}. Check it with the version of the program that wrote it."
            ))),
        };
    }
    let whole = lines.whole();
    let named = |word: &[u8]| whole.windows(word.len()).any(|found| found == word);
    let is_record =
        named(b"fanwright_record") || named(b"\"checklist\"") && named(b"\"signature\"");
    if !is_record {
        return Err(NotARecord(
            "This is no record that Fanwright wrote out as JSON. Choose the file that was \
             downloaded, unchanged."
                .to_owned(),
        ));
    }
    Ok(Some(Change::of(
        Place::Layout { line: 1 },
        "the file was laid out anew, by an editor or another program. What it says may be the \
         same, but that cannot be checked. Ask for the file as it was written out",
    )))
}

/// What was read so far.
struct Checker {
    report: Report,
    about: Option<AboutLine>,
    summary: Option<String>,
    keys: BTreeSet<PublicKey>,
    chain: Chain,
}

impl Checker {
    fn read(&mut self, lines: &mut Lines<'_>) {
        self.fixed(lines, "{");
        self.fixed(lines, &format_line());
        let about = self.part(lines, "about", Place::About);
        self.about = about
            .as_ref()
            .and_then(|about| serde_json::from_str(about).ok());
        self.summary = self.part(lines, "summary", Place::Summary);
        for list in List::ALL {
            self.list(lines, list);
        }
        self.seals_hold();
        self.file_seal(lines);
        self.fixed(lines, "}");
        if let Some(added) = lines.left() {
            let place = Place::Layout { line: lines.at() };
            let bytes = if added == 1 { "byte was" } else { "bytes were" };
            self.change(place, format!("{added} {bytes} added after the end"));
        }
    }

    fn change(&mut self, place: Place, what: impl Into<String>) {
        self.report.changes.push(Change::of(place, what));
    }

    /// A line that is the same in every file.
    fn fixed(&mut self, lines: &mut Lines<'_>, expected: &str) {
        match lines.next() {
            Some(line) if line == expected.as_bytes() => {}
            Some(_) => {
                let place = Place::Layout {
                    line: lines.at() - 1,
                };
                self.change(place, format!("the line should read {expected}"));
            }
            None => self.ends_early(lines),
        }
    }

    fn ends_early(&mut self, lines: &Lines<'_>) {
        let cut = self.report.changes.iter().any(|change| change.is_cut());
        if !cut {
            let last = self.chain.last();
            let place = Place::Cut { line: lines.at() };
            let entries = match last {
                Seq::NONE => "before the first entry".to_owned(),
                last => format!("the last entry in it is entry {last}"),
            };
            self.change(place, format!("the file ends early; {entries}"));
        }
    }

    /// A line of its own with a hash in it.
    fn part(&mut self, lines: &mut Lines<'_>, section: &str, place: Place) -> Option<String> {
        let Some(line) = lines.next() else {
            self.ends_early(lines);
            return None;
        };
        let object = str::from_utf8(line)
            .ok()
            .and_then(|line| line.strip_prefix(&format!("\"{section}\": ")))
            .and_then(|line| line.strip_suffix(','))
            .and_then(|object| without_hash(section, object));
        if object.is_none() {
            self.change(place, "it does not match its hash");
        }
        object
    }

    /// A list with its first and last line.
    fn list(&mut self, lines: &mut Lines<'_>, list: List) {
        self.fixed(lines, &list.opener());
        if list == List::Entries {
            self.chain.begin(self.job());
        }
        let mut found = 0_usize;
        loop {
            let Some(line) = lines.next() else {
                self.ends_early(lines);
                return;
            };
            if line == CLOSER.as_bytes() {
                break;
            }
            let at = lines.at() - 1;
            let is_end = lines.begins_another(list);
            if is_end && !line.starts_with(b"{") {
                let what = format!("the line should read {CLOSER}");
                self.change(Place::Layout { line: at }, what);
                break;
            }
            found += 1;
            self.item(list, found, (at, line));
            let is_last = is_end || lines.peek() == Some(CLOSER.as_bytes());
            if line.ends_with(b"}") && !is_last || line.ends_with(b"},") && is_last {
                let what = "there is a comma too few or too many";
                self.change(Place::Layout { line: at }, what);
            }
            if is_end {
                let what = format!("the end of the {} is missing", list.name());
                self.change(Place::Layout { line: at }, what);
                break;
            }
        }
        if list == List::Entries {
            self.entries_complete();
        }
    }

    /// One line of a list.
    fn item(&mut self, list: List, number: usize, (at, line): (usize, &[u8])) {
        let text = str::from_utf8(line).ok();
        let object = text.map(|text| text.strip_suffix(',').unwrap_or(text));
        match list {
            List::Entries => {
                let told = self.chain.next(at, object, &String::from_utf8_lossy(line));
                self.report.changes.extend(told);
            }
            List::People => self.person(at, object, number),
            List::Photos => self.photo(at, object, number),
            List::Keys => self.key(at, object, number),
            List::Seals => self.listed_seal(at, object, number),
        }
    }

    fn person(&mut self, line: usize, object: Option<&str>, number: usize) {
        let read: Option<PersonLine> = hashed(List::People, object);
        if read.is_none() {
            self.change(Place::Person { line, number }, "it does not match its hash");
        }
    }

    fn photo(&mut self, line: usize, object: Option<&str>, number: usize) {
        let place = Place::Photo { line, number };
        let Some(photo) = hashed::<PhotoLine>(List::Photos, object) else {
            self.change(place, "it does not match its hash");
            return;
        };
        self.report.photos += 1;
        if !self.chain.names(photo.photo) {
            self.change(place.clone(), "no entry of the record came with it");
        }
        match photo.bytes() {
            None => {}
            Some(Ok(bytes)) if Hash::of(&bytes) == photo.photo => self.report.pictures += 1,
            Some(_) => self.change(place, "the picture does not match the hash in the record"),
        }
    }

    fn key(&mut self, line: usize, object: Option<&str>, number: usize) {
        let place = Place::Key { line, number };
        match hashed::<KeyLine>(List::Keys, object) {
            None => self.change(place, "it does not match its hash"),
            Some(known) if known.fingerprint != known.key.fingerprint() => {
                self.change(place, "the fingerprint is not that of the key");
            }
            Some(known) => {
                self.keys.insert(known.key);
            }
        }
    }

    fn listed_seal(&mut self, line: usize, object: Option<&str>, number: usize) {
        let place = Place::ListedSeal { line, number };
        let read = hashed(List::Seals, object);
        if read.is_none() {
            self.change(place, "it does not match its hash");
        } else if self.chain.is_whole() && read != self.chain.seal(number - 1) {
            self.change(place, "it is not the seal that the record holds");
        }
    }

    /// Which job the file is about, by its first line or else by its summary.
    fn job(&self) -> Option<StreamId> {
        if let Some(about) = &self.about {
            return Some(about.job);
        }
        let (_, rest) = self.summary.as_ref()?.split_once("\"job\":\"")?;
        let (id, _) = rest.split_once('"')?;
        format!("job:{id}").parse().ok()
    }

    /// Whether the record goes on to where the file says.
    fn entries_complete(&mut self) {
        self.report.entries = self.chain.last();
        if let Some(about) = &self.about {
            self.report.job = Some(about.job);
            self.report.written = Some(about.written);
            let last = self.chain.last();
            if self.chain.is_whole()
                && (about.entries, Some(about.last)) != (last, self.chain.end())
            {
                let place = Place::Entry {
                    line: None,
                    seq: last.next(),
                    what: None,
                };
                let what = format!(
                    "the record ends with entry {}, this is not it",
                    about.entries
                );
                self.change(place, what);
            }
        }
    }

    /// Checks the seals that the record holds.
    fn seals_hold(&mut self) {
        let broken = self.chain.broken_seals(&self.keys);
        self.report.changes.extend(broken);
        self.report.seals = self.chain.seals_found();
    }

    fn file_seal(&mut self, lines: &mut Lines<'_>) {
        let before = lines.before();
        let Some(line) = lines.next() else {
            self.ends_early(lines);
            return;
        };
        let read = str::from_utf8(line)
            .ok()
            .and_then(|line| line.strip_prefix("\"seal\": "))
            .and_then(|object| {
                let seal = serde_json::from_str::<FileSealLine>(object).ok()?;
                let same = serde_json::to_string(&seal).ok()? == object;
                same.then_some(seal)
            });
        let Some(FileSealLine { at, key, signature }) = read else {
            self.change(Place::FileSeal, "it cannot be read");
            return;
        };
        let seal = Seal { key, signature };
        let holds = self.about.as_ref().is_some_and(|about| {
            let known = self.keys.contains(&key);
            known && seal.holds(&file_statement(about, before, at))
        });
        if holds {
            self.report.sealed_by = Some(key);
        } else if self.report.changes.is_empty() {
            let what = "it does not fit the file: the seal was changed, or several things in the \
                        file were so that they fit each other";
            self.change(Place::FileSeal, what);
        }
    }
}

/// Reads an object of a list whose hash is right, and which says nothing else.
fn hashed<T: serde::de::DeserializeOwned>(list: List, object: Option<&str>) -> Option<T> {
    let object = without_hash(list.name(), object?)?;
    serde_json::from_str(&object).ok()
}

#[cfg(test)]
mod tests;
