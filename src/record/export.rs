//! A record written out as one JSON file that stands on its own.
//!
//! The file is laid out in one way only, a line for each thing in it, so that whoever checks it
//! can say which line was changed. Every line carries a hash of what stands on it; the last one
//! is a seal over all bytes before it. `fanwright schema record` prints its JSON Schema.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::chain::{Hash, Head, Stored};
use super::entry::{Entry, What};
use super::person::PersonId;
use super::seal::{Fingerprint, PublicKey, Seal, SigningKey, Statement, Subject};
use super::stream::{Seq, StreamId};

/// The version of the file's layout, raised when it changes.
pub const EXPORT_FORMAT: u16 = 1;

/// The JSON Schema of the file.
pub const SCHEMA: &str = include_str!("record.schema.json");

/// Set before everything that is hashed into the hash of a line.
const PART_TAG: &str = "fanwright export part 1\n";

/// What comes before a hash at the beginning of a line's object.
const HASH_KEY: &str = "{\"hash\":\"";

/// All that a file says of a record.
pub struct Export<'a> {
    /// The record's stream.
    pub job: StreamId,
    /// Its checklist as JSON, on one line.
    pub checklist: String,
    /// All its entries.
    pub entries: &'a [Stored],
    /// The names of the people in it; none where a name was erased.
    pub people: Vec<(PersonId, Option<String>)>,
    /// Its photos.
    pub photos: Vec<Photo>,
    /// The public halves of the keys that ever sealed records of this server.
    pub keys: Vec<(PublicKey, Timestamp)>,
    /// When the file is written.
    pub at: Timestamp,
}

/// A photo of a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// The hash of its bytes.
    pub stored: Hash,
    /// The entry that it came with.
    pub entry: Seq,
    /// Its bytes, if they go into the file.
    pub bytes: Option<Vec<u8>>,
}

/// The line that says what the file is about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AboutLine {
    pub(super) job: StreamId,
    pub(super) entries: Seq,
    pub(super) last: Hash,
    pub(super) written: Timestamp,
}

/// An entry. Its hash is the one of the chain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EntryLine {
    pub(super) entry: Seq,
    pub(super) hash: Hash,
    /// The stored bytes, where they are text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) text: Option<String>,
    /// The stored bytes in base64, where they are not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) base64: Option<String>,
}

/// A person.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PersonLine {
    pub(super) person: PersonId,
    pub(super) name: Option<String>,
}

/// A photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhotoLine {
    pub(super) photo: Hash,
    pub(super) entry: Seq,
    /// The picture in base64, if it is in the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) jpeg: Option<String>,
}

/// A key.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct KeyLine {
    pub(super) key: PublicKey,
    pub(super) fingerprint: Fingerprint,
    pub(super) since: Timestamp,
}

/// A seal of the record, for readers who do not look into its entries.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SealLine {
    pub(super) up_to: Seq,
    pub(super) at: Timestamp,
    pub(super) key: Fingerprint,
}

/// The seal over the file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FileSealLine {
    pub(super) at: Timestamp,
    pub(super) key: PublicKey,
    pub(super) signature: super::hex::Hex<64>,
}

/// The lists of a file, in its order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum List {
    Entries,
    People,
    Photos,
    Keys,
    Seals,
}

impl List {
    pub(super) const ALL: [List; 5] = [
        List::Entries,
        List::People,
        List::Photos,
        List::Keys,
        List::Seals,
    ];

    pub(super) const fn name(self) -> &'static str {
        match self {
            List::Entries => "entries",
            List::People => "people",
            List::Photos => "photos",
            List::Keys => "keys",
            List::Seals => "seals",
        }
    }

    /// The line that begins it.
    pub(super) fn opener(self) -> String {
        format!("\"{}\": [", self.name())
    }
}

/// The line that ends a list.
pub(super) const CLOSER: &str = "],";

/// The second line of every file.
pub(super) fn format_line() -> String {
    format!("\"fanwright_record\": {EXPORT_FORMAT},")
}

/// The hash of a line's object, over its text behind the hash.
pub(super) fn part_hash(section: &str, rest: &str) -> Hash {
    Hash::of(format!("{PART_TAG}{section}\n{rest}").as_bytes())
}

/// An object with its hash in front.
pub(super) fn with_hash(section: &str, object: &str) -> String {
    let rest = object.strip_prefix('{').unwrap_or(object);
    format!("{HASH_KEY}{}\",{rest}", part_hash(section, rest))
}

/// Takes the hash off an object; none if there is no hash, or not the right one.
pub(super) fn without_hash(section: &str, object: &str) -> Option<String> {
    let (hash, rest) = object.strip_prefix(HASH_KEY)?.split_once("\",")?;
    (hash == part_hash(section, rest).to_string()).then(|| format!("{{{rest}"))
}

/// What the file's seal says, over everything before its line.
pub(super) fn file_statement(about: &AboutLine, before: &[u8], at: Timestamp) -> Statement {
    Statement {
        subject: Subject::Export,
        stream: about.job,
        head: Head {
            seq: about.entries,
            hash: Hash::of(before),
        },
        at,
    }
}

impl EntryLine {
    pub(super) fn of(stored: &Stored) -> EntryLine {
        let text = str::from_utf8(&stored.bytes).ok();
        EntryLine {
            entry: stored.seq,
            hash: stored.hash,
            text: text.map(str::to_owned),
            base64: text.is_none().then(|| STANDARD.encode(&stored.bytes)),
        }
    }

    /// The stored bytes; none if the line does not say them in exactly one way.
    pub(super) fn bytes(&self) -> Option<Vec<u8>> {
        match (&self.text, &self.base64) {
            (Some(text), None) => Some(text.clone().into_bytes()),
            (None, Some(coded)) => STANDARD.decode(coded).ok(),
            _ => None,
        }
    }
}

impl PhotoLine {
    /// The picture, if it is in the file; its error is a text that is no base64.
    pub(super) fn bytes(&self) -> Option<Result<Vec<u8>, base64::DecodeError>> {
        self.jpeg.as_ref().map(|coded| STANDARD.decode(coded))
    }
}

/// The seal that an entry holds, as a line of the list of seals.
pub(super) fn seal_line(entry: &Entry) -> Option<SealLine> {
    let What::Sealed { head, seal } = &entry.what else {
        return None;
    };
    Some(SealLine {
        up_to: head.seq,
        at: entry.at,
        key: seal.key.fingerprint(),
    })
}

impl Export<'_> {
    /// The file's text, sealed.
    ///
    /// # Errors
    /// When something in it cannot be written as JSON.
    pub fn write(&self, key: &SigningKey) -> Result<String, serde_json::Error> {
        let about = AboutLine {
            job: self.job,
            entries: self.entries.last().map_or(Seq::NONE, |last| last.seq),
            last: self.entries.last().map_or(Hash::NONE, |last| last.hash),
            written: self.at,
        };
        let part = |section: &str, object: String| {
            format!("\"{section}\": {},\n", with_hash(section, &object))
        };
        let mut text = format!("{{\n{}\n", format_line());
        text += &part("about", serde_json::to_string(&about)?);
        text += &part("summary", format!("{{\"checklist\":{}}}", self.checklist));
        for list in List::ALL {
            let items = self.items(list)?.join(",\n");
            let end = if items.is_empty() { "" } else { "\n" };
            text += &format!("{}\n{items}{end}{CLOSER}\n", list.opener());
        }
        let Seal { key, signature } = key.seal(&file_statement(&about, text.as_bytes(), self.at));
        let seal = FileSealLine {
            at: self.at,
            key,
            signature,
        };
        text += &format!("\"seal\": {}\n}}\n", serde_json::to_string(&seal)?);
        Ok(text)
    }

    fn items(&self, list: List) -> Result<Vec<String>, serde_json::Error> {
        let hashed = |line: Result<String, serde_json::Error>| Ok(with_hash(list.name(), &line?));
        match list {
            List::Entries => {
                let lines = self.entries.iter().map(EntryLine::of);
                lines.map(|line| serde_json::to_string(&line)).collect()
            }
            List::People => {
                let line = |(person, name): &(PersonId, Option<String>)| PersonLine {
                    person: *person,
                    name: name.clone(),
                };
                let lines = self.people.iter().map(line);
                lines
                    .map(|line| hashed(serde_json::to_string(&line)))
                    .collect()
            }
            List::Photos => {
                let line = |photo: &Photo| PhotoLine {
                    photo: photo.stored,
                    entry: photo.entry,
                    jpeg: photo.bytes.as_ref().map(|bytes| STANDARD.encode(bytes)),
                };
                let lines = self.photos.iter().map(line);
                lines
                    .map(|line| hashed(serde_json::to_string(&line)))
                    .collect()
            }
            List::Keys => {
                let line = |(key, since): &(PublicKey, Timestamp)| KeyLine {
                    key: *key,
                    fingerprint: key.fingerprint(),
                    since: *since,
                };
                let lines = self.keys.iter().map(line);
                lines
                    .map(|line| hashed(serde_json::to_string(&line)))
                    .collect()
            }
            List::Seals => {
                let read = |stored: &Stored| serde_json::from_slice::<Entry>(&stored.bytes).ok();
                let lines = self.entries.iter().filter_map(read);
                let lines = lines.filter_map(|entry| seal_line(&entry));
                lines
                    .map(|line| hashed(serde_json::to_string(&line)))
                    .collect()
            }
        }
    }
}
