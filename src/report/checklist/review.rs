//! A job as its reviewer reads it: the outcome, what a second hand-in changed, the timeline.

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::Serialize;

use super::{
    Around, FirstPage, Line, PhotoLine, SealLine, SourceLine, Weight, Writer, line, seal, second,
};
use crate::flow::edition::Edition;
use crate::record::entry::{Answer, Entry, StepRef, What};
use crate::record::stands_out::Finding;
use crate::record::stream::Seq;
use crate::report::band::{self, Mark};
use crate::report::stands_out;
use crate::trade::quantity::Quantity;
use crate::walk::{self, State};

/// What a reviewer reads of one job.
#[derive(Clone, Debug, Serialize)]
pub struct Review {
    /// The title of its flow.
    pub title: String,
    /// What it worked on, in one line.
    pub evaporator: String,
    /// How far it is, in words.
    pub status: String,
    /// How it ended, in words.
    pub outcome: Option<String>,
    /// In whose hands it is.
    pub holder: String,
    /// A training walk.
    pub training: bool,
    /// When it began.
    pub began: Timestamp,
    /// When something last happened.
    pub last: Timestamp,
    /// What it came to, as the report's first page has it; its course is left empty, because the
    /// sections tell it.
    pub first_page: FirstPage,
    /// How often it was handed in.
    pub hand_ins: usize,
    /// Why it was last sent back.
    pub sent_back: Option<String>,
    /// What stands out in it.
    pub stands_out: Vec<Finding>,
    /// What the last hand-in changed, where there was one before.
    pub changes: Vec<Change>,
    /// The walk, flow by flow.
    pub sections: Vec<Part>,
    /// How every energy source stood after the last entry.
    pub sources: Vec<SourceLine>,
    /// The seals.
    pub seals: Vec<SealLine>,
}

/// A stretch of the walk within one flow.
#[derive(Clone, Debug, Serialize)]
pub struct Part {
    /// The title of the flow.
    pub title: String,
    /// What happened there.
    pub items: Vec<Item>,
    /// How many of them are to be looked at twice.
    pub warnings: usize,
}

/// One thing that happened.
#[derive(Clone, Debug, Serialize)]
pub struct Item {
    /// The place of its entry in the record.
    pub seq: u64,
    /// The line, as the checklist has it.
    pub line: Line,
    /// The step that it answered, where that answer stands and may be sent back.
    pub step: Option<StepRef>,
    /// What it was before, if it changes an earlier answer.
    pub earlier: Option<Said>,
    /// The reading against its band, as SVG.
    pub band: Option<String>,
    /// Where the reading lies, in words: `within 187 V to 253 V`.
    pub judged: Option<String>,
    /// Whether it happened since the job was handed in before.
    pub is_new: bool,
}

/// An answer with who gave it and when.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Said {
    /// The answer in words.
    pub words: String,
    /// By name.
    pub who: String,
    /// When.
    pub at: Timestamp,
    /// The photo.
    pub photo: Option<PhotoLine>,
}

/// A step that was answered again between two hand-ins.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// What people call the step.
    pub label: String,
    /// What it was; none if it was not answered before.
    pub before: Option<Said>,
    /// What it is.
    pub after: Said,
    /// Whether both say the same.
    pub is_same: bool,
}

impl Review {
    /// The review of a record; none if it does not begin with the job's beginning.
    pub fn of(edition: &Edition, entries: &[Entry], around: &Around<'_>) -> Option<Review> {
        let mut reader = Reader {
            writer: Writer {
                edition,
                around,
                state: None,
                sections: Vec::new(),
                seq: Seq::NONE,
                course: Vec::new(),
            },
            parts: Vec::new(),
            answers: BTreeMap::new(),
            given: Vec::new(),
            sent_back: None,
            hand_ins: Vec::new(),
        };
        for (at, entry) in entries.iter().enumerate() {
            reader.read(at as u64 + 1, entry);
        }
        reader.finish(entries)
    }
}

/// An answer with its place in the record.
type Placed = (u64, Said);

/// An answer with the one that the same step had before.
struct Given {
    step: StepRef,
    before: Option<Placed>,
    after: Placed,
}

/// Reads entry after entry while it folds them.
struct Reader<'a> {
    writer: Writer<'a>,
    parts: Vec<Part>,
    /// The last answer of every step.
    answers: BTreeMap<StepRef, Placed>,
    /// Every answer that was given.
    given: Vec<Given>,
    sent_back: Option<String>,
    hand_ins: Vec<u64>,
}

impl Reader<'_> {
    fn read(&mut self, seq: u64, entry: &Entry) {
        self.writer.seq = Seq(seq);
        let step = self.step(entry);
        let said = self.said(entry);
        let earlier = match &entry.what {
            What::Answered { amends: true, .. } => {
                let known = step.as_ref().and_then(|step| self.answers.get(step));
                known.map(|(_, said)| said.clone())
            }
            _ => None,
        };
        if let Some(mut line) = self.writer.line(entry) {
            line.weight = match (line.weight, walk::looks_twice(&entry.what)) {
                (_, true) => Weight::Warning,
                (Weight::Warning, false) => Weight::Plain,
                (weight, false) => weight,
            };
            let mark = mark(entry);
            let item = Item {
                seq,
                band: mark.as_ref().map(band::svg),
                judged: mark.as_ref().map(Mark::words),
                line,
                step: step.clone(),
                earlier,
                is_new: false,
            };
            self.put(item);
        }
        if let (Some(step), Some(said)) = (step, said) {
            let after = (seq, said);
            let before = self.answers.insert(step.clone(), after.clone());
            self.given.push(Given {
                step,
                before,
                after,
            });
        }
        match &entry.what {
            What::HandedIn => self.hand_ins.push(seq),
            What::SentBack { remark, .. } => self.sent_back = Some(remark.clone()),
            _ => {}
        }
        match &mut self.writer.state {
            Some(state) => walk::apply(state, entry),
            None => self.writer.state = State::fold([entry]),
        }
    }

    fn put(&mut self, item: Item) {
        let title = self.writer.title();
        match self.parts.last_mut().filter(|part| part.title == title) {
            Some(part) => part.items.push(item),
            None => self.parts.push(Part {
                title,
                items: vec![item],
                warnings: 0,
            }),
        }
    }

    /// The step that an entry answers or releases.
    fn step(&self, entry: &Entry) -> Option<StepRef> {
        let (What::Answered { step, .. } | What::Released { step, .. }) = &entry.what else {
            return None;
        };
        let call = self.writer.state.as_ref()?.top()?;
        Some(StepRef {
            flow: call.flow.clone(),
            instance: call.instance,
            step: step.clone(),
        })
    }

    fn said(&self, entry: &Entry) -> Option<Said> {
        let (words, photo) = match &entry.what {
            What::Answered { answer, .. } => (answer.words(), line::photo(answer)),
            What::Released { role, .. } => (format!("released as {}", role.with_article()), None),
            _ => return None,
        };
        Some(Said {
            words,
            who: self.writer.around.who(entry.who),
            at: second(entry.at),
            photo,
        })
    }

    fn finish(mut self, entries: &[Entry]) -> Option<Review> {
        let state = self.writer.state.as_ref()?;
        let (edition, around) = (self.writer.edition, self.writer.around);
        let stands = state.walked();
        let since = match self.hand_ins.as_slice() {
            [.., before, _] => Some(*before),
            _ => None,
        };
        for part in &mut self.parts {
            for item in &mut part.items {
                item.is_new = since.is_some_and(|since| item.seq > since);
                let last = item.step.as_ref().and_then(|step| self.answers.get(step));
                // Only the answer that stands is sent back, and only where it was last given.
                let is_last = last.is_some_and(|(seq, _)| *seq == item.seq);
                item.step = item
                    .step
                    .take()
                    .filter(|step| is_last && stands.contains(step));
            }
            let twice = part.items.iter();
            part.warnings = twice
                .filter(|item| item.line.weight == Weight::Warning)
                .count();
        }
        let changes = since.map(|since| changes(edition, &self.given, since));
        Some(Review {
            title: edition
                .root_flow()
                .map_or_else(|| edition.root().to_string(), |flow| flow.title.clone()),
            evaporator: around.evaporator.clone(),
            status: around.status.clone(),
            outcome: line::outcome(state),
            holder: around.name(state.holder),
            training: state.pins.training,
            began: second(state.began_at),
            last: second(state.last_at),
            first_page: FirstPage::of(edition, entries, state, around),
            hand_ins: self.hand_ins.len(),
            sent_back: self.sent_back,
            stands_out: stands_out::findings(edition, entries, around.known),
            changes: changes.unwrap_or_default(),
            sections: self.parts,
            sources: line::sources(state, around),
            seals: entries.iter().filter_map(seal).collect(),
        })
    }
}

/// What was answered again after this place in the record, each step once: as it was at that
/// place, and as it is.
fn changes(edition: &Edition, given: &[Given], since: u64) -> Vec<Change> {
    let mut changes: Vec<(StepRef, Change)> = Vec::new();
    for Given {
        step,
        before,
        after: (seq, after),
    } in given
    {
        if *seq <= since {
            continue;
        }
        if let Some((_, change)) = changes.iter_mut().find(|(other, _)| other == step) {
            change.after = after.clone();
        } else {
            let before = before.as_ref().map(|(_, said)| said.clone());
            let change = Change {
                label: walk::step_label(edition, step),
                before,
                after: after.clone(),
                is_same: false,
            };
            changes.push((step.clone(), change));
        }
    }
    let mut changes: Vec<Change> = changes.into_iter().map(|(_, change)| change).collect();
    for change in &mut changes {
        let before = change.before.as_ref();
        let same = |before: &Said| {
            before.words == change.after.words && before.photo == change.after.photo
        };
        change.is_same = before.is_some_and(same);
    }
    // What became another comes first.
    changes.sort_by_key(|change| change.is_same);
    changes
}

/// The reading of an entry against what was expected.
fn mark(entry: &Entry) -> Option<Mark> {
    let (reading, band) = match &entry.what {
        What::Answered {
            answer: Answer::Reading { reading },
            band: Some(band),
            ..
        } => (reading, *band),
        What::ReadAgain { reading, band, .. } => (reading, *band),
        _ => return None,
    };
    let unit = line::unit_of(reading);
    let shown = |quantity: Quantity| (quantity.in_unit(unit), quantity.show(unit));
    let (value, low, high) = (shown(reading.value), shown(band.low), shown(band.high));
    Some(Mark {
        value,
        low,
        high,
        is_within: band.holds(reading.value),
    })
}
