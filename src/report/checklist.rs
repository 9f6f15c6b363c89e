//! The checklist of a job: what was asked, what was answered, by whom and when.
//!
//! It is made from the record alone, together with the edition that the job walked and the names
//! to show. Refusals are not in it: they changed nothing. As JSON it is one object with the fields
//! of [`Checklist`]; times are to the second, in UTC.

mod first_page;
mod line;
mod page;
mod protection;
pub mod review;

pub use first_page::{FirstPage, Signed, SignedUnder, Told, gist};
pub use page::{Links, PageError};
pub use protection::{GapLine, LockLine, ProtectionLine};

use std::collections::{BTreeMap, BTreeSet};

use jiff::{Timestamp, Unit};
use serde::{Deserialize, Serialize};

use crate::flow::edition::Edition;
use crate::record::chain::Head;
use crate::record::entry::{Channel, Entry, What};
use crate::record::person::PersonId;
use crate::record::seal::Fingerprint;
use crate::record::stands_out::{Finding, Known};
use crate::record::stream::Seq;
use crate::report::stands_out;
use crate::trade::chart::Chart;
use crate::walk::{self, State};

/// The version of this structure, raised when a field changes its meaning.
pub const CHECKLIST_FORMAT: u16 = 1;

/// The checklist of one job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Checklist {
    /// [`CHECKLIST_FORMAT`].
    pub format: u16,
    /// The job's number.
    pub job: String,
    /// The title of its flow.
    pub title: String,
    /// The flow's name.
    pub flow: String,
    /// The hash of the edition, hexadecimal.
    pub edition: String,
    /// The revision of the crew's kit that the job was pinned to; none if the crew had no kit.
    #[serde(default)]
    pub kit: Option<String>,
    /// The revision of the crew's speed book; none if the crew had none.
    #[serde(default)]
    pub speed_book: Option<String>,
    /// A training walk: never handed in.
    pub training: bool,
    /// What it worked on, in one line.
    pub evaporator: String,
    /// How far it is, in words.
    pub status: String,
    /// How it ended, in words.
    pub outcome: Option<String>,
    /// In whose hands it is.
    pub holder: String,
    /// Everybody who wrote into the record, by name.
    pub people: Vec<String>,
    /// When it began.
    pub began: Timestamp,
    /// When something last happened.
    pub last: Timestamp,
    /// What to look at before the job is accepted.
    #[serde(default)]
    pub stands_out: Vec<Finding>,
    /// What the job came to.
    #[serde(default)]
    pub first_page: FirstPage,
    /// What happened, flow by flow.
    pub sections: Vec<Section>,
    /// How every energy source stood after the last entry.
    pub sources: Vec<SourceLine>,
    /// Whose locks hung on every source from when to when.
    #[serde(default)]
    pub protection: Vec<ProtectionLine>,
    /// The end of the record: place and hash of its last entry.
    pub head: Head,
    /// The seals, from the first to the last.
    #[serde(default)]
    pub seals: Vec<SealLine>,
}

/// A seal over the record up to one of its entries.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SealLine {
    /// When.
    pub at: Timestamp,
    /// The last entry under it.
    pub up_to: Seq,
    /// What to know its key by.
    pub key: Fingerprint,
}

/// A stretch of the walk within one flow.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// The title of the flow.
    pub title: String,
    /// Its lines.
    pub lines: Vec<Line>,
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// The place of its entry in the record; none in a checklist from before they were noted.
    #[serde(default = "no_place")]
    pub entry: Seq,
    /// When.
    pub at: Timestamp,
    /// Who, by name.
    pub who: String,
    /// Through which channel.
    pub through: Channel,
    /// How much it matters to a reader.
    pub weight: Weight,
    /// What was asked, as the screen said it.
    pub asked: Option<String>,
    /// What was answered or happened.
    pub said: String,
    /// What a reading was expected to be: `187 V to 253 V`.
    pub expected: Option<String>,
    /// What was read off an instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading: Option<ReadingLine>,
    /// Where the step is published.
    pub cite: Vec<String>,
    /// The photo.
    pub photo: Option<PhotoLine>,
    /// The computation.
    pub working: Option<WorkingLine>,
}

/// How much a line matters to a reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// The course of the job.
    Plain,
    /// An answer.
    Answer,
    /// Look twice: outside the expected range, a void proof, stopped work.
    Warning,
}

/// A reading, apart from the sentence about it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingLine {
    /// The number.
    pub value: String,
    /// The symbol of its unit.
    pub unit: String,
    /// Whether it lies where it was expected; none where nothing was.
    pub as_expected: Option<bool>,
    /// The reading and what was expected as numbers, to draw them; none where nothing was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<Scale>,
}

/// A reading and what was expected, in the unit of the reading.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scale {
    /// The reading.
    pub value: f64,
    /// The least that was expected.
    pub low: f64,
    /// The most that was expected.
    pub high: f64,
}

/// A photo of the job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoLine {
    /// The hash of the stored picture; empty while it is arriving.
    pub stored: String,
    /// The hash of what was sent.
    pub original: String,
    /// When it says it was taken, as its own text.
    pub taken: Option<String>,
}

/// A computation with all that is needed to check it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WorkingLine {
    /// The formula's name.
    pub formula: String,
    /// The version that was run.
    pub version: u16,
    /// In symbols, as this program knows it.
    pub symbols: String,
    /// Its published source.
    pub source: String,
    /// Name and value of every input.
    pub inputs: Vec<(String, String)>,
    /// Name and value of every result.
    pub results: Vec<(String, String)>,
    /// What to know about the result, or why there is none.
    pub warnings: Vec<String>,
    /// The chart of the result, as data; the page draws it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chart: Option<Chart>,
}

/// How one energy source stood after the last entry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceLine {
    /// What people call it.
    pub label: String,
    /// What was last done to it.
    pub setting: String,
    /// Whose locks hang on it, by name.
    pub locks: Vec<String>,
    /// When it was recorded proved dead and by whom, or why that is void.
    pub proof: String,
}

/// What the record does not say by itself.
pub struct Around<'a> {
    /// The job's number.
    pub job: String,
    /// What it worked on, in one line.
    pub evaporator: String,
    /// How far it is, in words.
    pub status: String,
    /// The names to show.
    pub names: &'a BTreeMap<PersonId, String>,
    /// The end of the record.
    pub head: Head,
    /// What is known from other jobs, to see what stands out in this one.
    pub known: &'a Known,
}

impl Around<'_> {
    fn name(&self, person: PersonId) -> String {
        self.names
            .get(&person)
            .cloned()
            .unwrap_or_else(|| "somebody".to_owned())
    }

    fn who(&self, person: Option<PersonId>) -> String {
        person.map_or_else(|| "the server".to_owned(), |person| self.name(person))
    }
}

impl Checklist {
    /// The checklist of a record; none if it does not begin with the job's beginning.
    pub fn of(edition: &Edition, entries: &[Entry], around: &Around<'_>) -> Option<Checklist> {
        let mut writer = Writer {
            edition,
            around,
            state: None,
            seq: Seq::NONE,
            sections: Vec::new(),
            course: Vec::new(),
        };
        for entry in entries {
            writer.write(entry);
        }
        let state = writer.state?;
        let wrote: BTreeSet<PersonId> = entries.iter().filter_map(|entry| entry.who).collect();
        let mut people: Vec<String> = wrote.into_iter().map(|who| around.name(who)).collect();
        people.sort();
        let root = edition.root_flow();
        Some(Checklist {
            format: CHECKLIST_FORMAT,
            job: around.job.clone(),
            title: root.map_or_else(|| edition.root().to_string(), |flow| flow.title.clone()),
            flow: edition.root().to_string(),
            edition: edition.hash().to_owned(),
            kit: revision(&state.pins.kit),
            speed_book: revision(&state.pins.speed_book),
            training: state.pins.training,
            evaporator: around.evaporator.clone(),
            status: around.status.clone(),
            outcome: line::outcome(&state),
            holder: around.name(state.holder),
            people,
            began: second(state.began_at),
            last: second(state.last_at),
            stands_out: stands_out::findings(edition, entries, around.known),
            first_page: FirstPage {
                course: writer.course,
                ..FirstPage::of(edition, entries, &state, around)
            },
            sections: writer.sections,
            sources: line::sources(&state, around),
            protection: protection::lines(entries, around),
            head: around.head,
            seals: entries.iter().filter_map(seal).collect(),
        })
    }
}

/// Writes line after line while it folds the same entries.
struct Writer<'a> {
    edition: &'a Edition,
    around: &'a Around<'a>,
    state: Option<State>,
    /// The place of the entry that is written.
    seq: Seq,
    sections: Vec<Section>,
    course: Vec<Told>,
}

impl Writer<'_> {
    fn write(&mut self, entry: &Entry) {
        self.seq = self.seq.next();
        // A line is worded from the state before its entry: that is what the screen said.
        if let Some(line) = self.line(entry) {
            let title = self.title();
            match self
                .sections
                .last_mut()
                .filter(|section| section.title == title)
            {
                Some(section) => section.lines.push(line),
                None => self.sections.push(Section {
                    title,
                    lines: vec![line],
                }),
            }
        }
        self.course.extend(self.part(entry));
        match &mut self.state {
            Some(state) => walk::apply(state, entry),
            None if matches!(entry.what, What::Begun { .. }) => {
                self.state = State::fold([entry]);
            }
            None => {}
        }
    }

    /// How a part of the job ended, if the root ran it and it ends with this entry.
    fn part(&self, entry: &Entry) -> Option<Told> {
        let What::CameBack { outcome, .. } = &entry.what else {
            return None;
        };
        let stack = &self.state.as_ref()?.stack;
        let call = stack.last().filter(|_| stack.len() == 2)?;
        first_page::part(self.edition.flow(&call.flow)?, call.instance, outcome)
    }

    /// The title of the flow at hand.
    fn title(&self) -> String {
        let top = self.state.as_ref().and_then(State::top);
        let flow = top.and_then(|call| self.edition.flow(&call.flow));
        let flow = flow.or_else(|| self.edition.root_flow());
        flow.map(|flow| flow.title.clone()).unwrap_or_default()
    }
}

fn no_place() -> Seq {
    Seq::NONE
}

fn seal(entry: &Entry) -> Option<SealLine> {
    let What::Sealed { head, seal } = &entry.what else {
        return None;
    };
    Some(SealLine {
        at: second(entry.at),
        up_to: head.seq,
        key: seal.key.fingerprint(),
    })
}

/// A pinned revision; jobs of a crew without one pin nothing.
fn revision(pinned: &str) -> Option<String> {
    (!pinned.is_empty()).then(|| pinned.to_owned())
}

/// A time to the second; the record keeps the fractions.
fn second(at: Timestamp) -> Timestamp {
    at.round(Unit::Second).unwrap_or(at)
}
