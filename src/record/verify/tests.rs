//! Files changed at every place.

use std::sync::LazyLock;

use jiff::Timestamp;
use proptest::prelude::*;
use uuid::Uuid;

use super::super::chain::{Head, Stored};
use super::super::entry::{Channel, ENTRY_FORMAT, Entry, What};
use super::super::export::{Export, Photo};
use super::super::person::PersonId;
use super::super::seal::{SEED_BYTES, SigningKey, Statement, Subject};
use super::super::stream::StreamKind;
use super::*;

fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_700_000_000 + second).unwrap()
}

fn key(byte: u8) -> SigningKey {
    SigningKey::from_seed(&[byte; SEED_BYTES]).unwrap()
}

fn job() -> StreamId {
    StreamId::new(StreamKind::Job, Uuid::from_u128(7))
}

/// A record in the making.
struct Record {
    head: Head,
    stored: Vec<Stored>,
}

impl Record {
    fn new() -> Record {
        let (head, stored) = (Head::NONE, Vec::new());
        Record { head, stored }
    }

    fn keep(&mut self, bytes: Vec<u8>) {
        let stored = Stored::after(job(), self.head, bytes);
        self.head = stored.head();
        self.stored.push(stored);
    }

    fn says(&mut self, what: What) -> &mut Record {
        let entry = Entry {
            v: ENTRY_FORMAT,
            at: at(self.stored.len() as i64),
            who: Some(PersonId(Uuid::from_u128(1))),
            channel: Channel::Browser,
            what,
        };
        self.keep(serde_json::to_vec(&entry).unwrap());
        self
    }

    fn seals(&mut self, key: &SigningKey) -> &mut Record {
        let statement = Statement {
            subject: Subject::Record,
            stream: job(),
            head: self.head,
            at: at(self.stored.len() as i64),
        };
        let head = self.head;
        let seal = key.seal(&statement);
        self.says(What::Sealed { head, seal })
    }

    /// The file of it, by the key that sealed last.
    fn file(&self, photos: Vec<Photo>, keys: &[&SigningKey]) -> String {
        let ada = PersonId(Uuid::from_u128(1));
        let gone = PersonId(Uuid::from_u128(2));
        let export = Export {
            job: job(),
            checklist: format!(r#"{{"format":1,"job":"{}","title":"A “fan”"}}"#, job().id),
            entries: &self.stored,
            people: vec![(ada, Some("Ada \"Frost\" Ñ".to_owned())), (gone, None)],
            photos,
            keys: keys.iter().map(|key| (key.public(), at(0))).collect(),
            at: at(100),
        };
        export.write(keys.last().unwrap()).unwrap()
    }
}

/// Two hand-ins under two keys, a photo in the file and one beside it, and an entry that is no
/// text.
fn whole() -> String {
    static WRITTEN: LazyLock<String> = LazyLock::new(written);
    WRITTEN.clone()
}

fn written() -> String {
    let picture = b"as good as any picture".to_vec();
    let (stored, other) = (Hash::of(&picture), Hash::of(b"another"));
    let mut record = Record::new();
    record.says(What::StopExplained {
        why: format!("No “ladder”: \"{stored}\", \"{other}\"\n\u{1f} \\ here"),
    });
    record.says(What::HandedIn).seals(&key(1));
    let remark = "Read again".to_owned();
    record
        .says(What::SentBack {
            remark,
            steps: Vec::new(),
        })
        .seals(&key(2));
    record.keep(vec![0xff, 0xfe, b'{', 0]);
    let photo = |stored, bytes| Photo {
        stored,
        entry: Seq(1),
        bytes,
    };
    let photos = vec![photo(stored, Some(picture)), photo(other, None)];
    record.file(photos, &[&key(1), &key(2)])
}

/// What is told about a file.
fn told(file: &[u8]) -> String {
    match verify(file) {
        Ok(report) if report.verdict(&[]) == Verdict::Intact => "intact".to_owned(),
        Ok(report) => {
            assert!(!report.changes.is_empty(), "changed, and nothing is named");
            let told = report.changes.iter().map(ToString::to_string);
            told.collect::<Vec<_>>().join("\n")
        }
        Err(error) => error.to_string(),
    }
}

/// The words by which what stands on a line must be named when a byte of it was changed.
fn named(file: &str, place: usize) -> String {
    let before = String::from_utf8_lossy(&file.as_bytes()[..place]);
    let line = before.matches('\n').count() + 1;
    let text = file.lines().nth(line - 1).unwrap();
    let list = before.lines().rfind(|line| line.ends_with(": ["));
    let is_item = text.starts_with('{') && line > 1;
    let number = || {
        let opener = file.lines().position(|line| Some(line) == list).unwrap() + 1;
        line - opener
    };
    match list {
        _ if text.starts_with("\"about\"") => "What the file is about".to_owned(),
        _ if text.starts_with("\"summary\"") => "Summary, line 4".to_owned(),
        _ if text.starts_with("\"seal\"") => "The seal at the end".to_owned(),
        Some("\"entries\": [") if is_item => format!("Entry {}", number()),
        Some("\"people\": [") if is_item => format!("Name {}", number()),
        Some("\"photos\": [") if is_item => format!("Photo {}", number()),
        Some("\"keys\": [") if is_item => format!("Key {}", number()),
        Some("\"seals\": [") if is_item => format!("seal {}", number()),
        _ => format!("ine {line}"),
    }
}

/// Changes one byte and finds the place named.
fn one_byte(file: &str, place: usize, byte: u8) {
    let mut changed = file.as_bytes().to_vec();
    if changed[place] == byte {
        return;
    }
    // Changing a line break joins two lines, and making one cuts a line in two: then the place
    // is told by its line only.
    let moves_lines = changed[place] == b'\n' || byte == b'\n';
    changed[place] = byte;
    let told = told(&changed);
    assert_ne!(told, "intact", "byte {place} as {byte}");
    if !moves_lines {
        let named = named(file, place);
        assert!(
            told.contains(&named),
            "byte {place} as {byte}: no “{named}” in: {told}"
        );
    }
}

#[test]
fn a_whole_file_is_intact_and_says_who_sealed_it() {
    let report = verify(whole().as_bytes()).unwrap();
    assert_eq!(report.changes, []);
    assert_eq!(report.sealed_by, Some(key(2).public()));
    assert_eq!(
        (report.entries, report.photos, report.pictures),
        (Seq(6), 2, 1)
    );
    let by: Vec<_> = report.seals.iter().map(|seal| seal.key).collect();
    let prints = [key(1), key(2)].map(|key| key.public().fingerprint());
    assert_eq!(by, prints);
    assert_eq!(report.verdict(&[]), Verdict::Intact);
    assert_eq!(report.verdict(&prints[1..]), Verdict::Confirmed);
    assert_eq!(report.verdict(&prints[..1]), Verdict::OtherSigner);
    let lines = report.lines(&prints[1..]);
    assert!(lines[3].ends_with("which is none of yours"), "{lines:#?}");
    serde_json::from_str::<serde_json::Value>(&whole()).unwrap();
}

#[test]
fn every_byte_changed_in_its_lowest_bit_is_named() {
    let file = whole();
    for place in 0..file.len() {
        one_byte(&file, place, file.as_bytes()[place] ^ 1);
    }
}

proptest! {
    #[test]
    fn any_byte_changed_to_any_other_is_named(place in any::<prop::sample::Index>(), byte: u8) {
        let file = whole();
        one_byte(&file, place.index(file.len()), byte);
    }

    #[test]
    fn a_byte_taken_out_or_put_in_is_found(place in any::<prop::sample::Index>(), byte: u8) {
        let file = whole().into_bytes();
        let place = place.index(file.len());
        let mut without = file.clone();
        without.remove(place);
        prop_assert_ne!(told(&without), "intact");
        let mut with = file;
        with.insert(place, byte);
        prop_assert_ne!(told(&with), "intact");
    }

    #[test]
    fn no_bytes_at_all_bring_it_down(bytes: Vec<u8>) {
        prop_assert_ne!(told(&bytes), "intact");
    }
}

#[test]
fn a_cut_or_padded_file_is_told_as_such() {
    let file = whole();
    // The first lines tell that it is a record at all.
    let shortest = file.find("\"summary\"").unwrap();
    for end in (shortest..file.len()).step_by(7).chain([file.len() - 1]) {
        let told = told(&file.as_bytes()[..end]);
        assert!(told.contains("the file ends early"), "{end}: {told}");
    }
    let third = file.find("{\"entry\":4").unwrap();
    assert!(told(&file.as_bytes()[..third]).contains("the last entry in it is entry 3"));
    let padded = told(format!("{file}\n\n").as_bytes());
    assert!(
        padded.contains("2 bytes were added after the end"),
        "{padded}"
    );
}

#[test]
fn a_file_laid_out_anew_says_so() {
    let value: serde_json::Value = serde_json::from_str(&whole()).unwrap();
    for file in [
        serde_json::to_string_pretty(&value).unwrap(),
        value.to_string(),
        whole().replace('\n', "\r\n"),
    ] {
        let told = told(file.as_bytes());
        assert!(told.contains("laid out anew"), "{told}");
    }
}

#[test]
fn what_is_no_record_is_told_in_a_sentence() {
    for file in ["", "hello", "{}", "[1, 2]"] {
        let told = verify(file.as_bytes()).unwrap_err().to_string();
        assert!(told.contains("no record that Fanwright wrote"), "{told}");
    }
    let newer = whole().replacen("\"fanwright_record\": 1", "\"fanwright_record\": 2", 1);
    let told = verify(newer.as_bytes()).unwrap_err().to_string();
    assert!(told.contains("layout 2"), "{told}");
}

#[test]
fn a_record_sealed_by_a_strange_key_is_found_though_everything_fits() {
    // Whoever lacks the key writes the whole file anew, with their own key at the end.
    let mut record = Record::new();
    record.says(What::HandedIn).seals(&key(1));
    let forged = record.file(Vec::new(), &[&key(1), &key(9)]);
    let report = verify(forged.as_bytes()).unwrap();
    let known = [key(1).public().fingerprint()];
    assert_eq!(report.verdict(&known), Verdict::OtherSigner);
    // A seal of the record under a key that the server never had.
    let mut record = Record::new();
    record.says(What::HandedIn).seals(&key(9));
    let forged = record.file(Vec::new(), &[&key(1)]);
    let told = told(forged.as_bytes());
    assert!(told.contains("Entry 2 (sealed)"), "{told}");
    assert!(told.contains("is not among the keys"), "{told}");
}

#[test]
fn an_entry_replaced_with_its_chain_is_found_by_the_seal_over_it() {
    let mut true_one = Record::new();
    true_one
        .says(What::Paused)
        .says(What::HandedIn)
        .seals(&key(1));
    let mut forged = Record::new();
    forged.says(What::Stopped).says(What::HandedIn);
    forged.keep(true_one.stored[2].bytes.clone());
    // Even where the file's own seal is right: somebody changed the server's folder.
    let told = told(forged.file(Vec::new(), &[&key(1)]).as_bytes());
    assert_eq!(
        told,
        "Entry 3 (sealed), line 8: its seal does not fit entry 2 and those before."
    );
}

#[test]
fn a_record_without_seals_is_intact_and_says_that_it_has_none() {
    let mut record = Record::new();
    // Written by the program of format 1.
    record.keep(
        br#"{"v":1,"at":"2031-05-04T08:00:00Z","who":null,"channel":"server","what":{"what":"paused"}}"#
            .to_vec(),
    );
    let report = verify(record.file(Vec::new(), &[&key(1)]).as_bytes()).unwrap();
    assert_eq!(report.verdict(&[]), Verdict::Intact);
    let lines = report.lines(&[]).join("\n");
    assert!(lines.contains("The record holds no seal"), "{lines}");
}
