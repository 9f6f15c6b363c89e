//! A record that was written out, read back for a store that lost it.
//!
//! Only for a file that [`super::verify`] found intact: what it says is taken as it stands there.

use super::chain::{Hash, Head, Stored};
use super::export::{AboutLine, EntryLine, List, PersonLine, PhotoLine, without_hash};
use super::person::PersonId;
use super::stream::StreamId;

/// What a file brings back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadBack {
    /// The job's stream.
    pub job: StreamId,
    /// Its entries, byte for byte, each with the hash that it had.
    pub entries: Vec<Stored>,
    /// The names of the people in it.
    pub people: Vec<(PersonId, String)>,
    /// The photos that are in the file.
    pub photos: Vec<Vec<u8>>,
    /// The photos that it names only.
    pub named_only: Vec<Hash>,
}

/// Reads an intact file; none if it is not intact after all.
pub fn read_back(file: &[u8]) -> Option<ReadBack> {
    let text = str::from_utf8(file).ok()?;
    let mut lines = text.lines();
    let about = lines.find_map(|line| line.strip_prefix("\"about\": "))?;
    let about = without_hash("about", about.strip_suffix(',')?)?;
    let about: AboutLine = serde_json::from_str(&about).ok()?;
    let mut back = ReadBack {
        job: about.job,
        entries: Vec::new(),
        people: Vec::new(),
        photos: Vec::new(),
        named_only: Vec::new(),
    };
    let mut list = None;
    let mut head = Head::NONE;
    for line in lines {
        if let Some(begun) = List::ALL.into_iter().find(|it| line == it.opener()) {
            list = Some(begun);
            continue;
        }
        let object = line.strip_suffix(',').unwrap_or(line);
        if !object.starts_with('{') {
            continue;
        }
        match list {
            Some(List::Entries) => {
                let entry: EntryLine = serde_json::from_str(object).ok()?;
                let stored = Stored::after(about.job, head, entry.bytes()?);
                if (stored.seq, stored.hash) != (entry.entry, entry.hash) {
                    return None;
                }
                head = stored.head();
                back.entries.push(stored);
            }
            Some(List::People) => {
                let object = without_hash(List::People.name(), object)?;
                let person: PersonLine = serde_json::from_str(&object).ok()?;
                let named = person.name.map(|name| (person.person, name));
                back.people.extend(named);
            }
            Some(List::Photos) => {
                let object = without_hash(List::Photos.name(), object)?;
                let photo: PhotoLine = serde_json::from_str(&object).ok()?;
                match photo.bytes() {
                    Some(bytes) => back.photos.push(bytes.ok()?),
                    None => back.named_only.push(photo.photo),
                }
            }
            _ => {}
        }
    }
    let whole = Head {
        seq: about.entries,
        hash: about.last,
    };
    (head == whole).then_some(back)
}
