//! What a job came to, for the first page of its report: found, done, gained, still open, signed.
//!
//! A flow says which of its facts stand there, and under which heading; the rest follows from how
//! the job stands. Nothing is worked out here that the record does not hold.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::line::value_words;
use super::{Around, second};
use crate::flow::edition::Edition;
use crate::flow::heading::Heading;
use crate::flow::model::{Fact, FactType, Flow};
use crate::flow::name::OutcomeName;
use crate::record::entry::{Entry, What};
use crate::record::person::PersonId;
use crate::record::seal::Fingerprint;
use crate::record::stream::Seq;
use crate::trade::formula::Value;
use crate::walk::State;
use crate::walk::state::{Known, Mode, Review};

/// What a job came to.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FirstPage {
    /// What was found, in the order in which it was.
    pub found: Vec<Told>,
    /// What was done.
    pub done: Vec<Told>,
    /// What was gained.
    pub gained: Vec<Told>,
    /// What is still open, the gravest first.
    pub open: Vec<Told>,
    /// Who handed in and who decided, in order.
    pub signed: Vec<Signed>,
    /// How each part of the job ended, in order.
    pub course: Vec<Told>,
}

/// One thing to tell: `Failed part`, `Motor`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// What it is about.
    pub what: String,
    /// What there is to say.
    pub said: String,
}

/// A hand-in or a decision, with the seal that was set on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Signed {
    /// What was done: `Handed in`.
    pub what: String,
    /// By whom, by name.
    pub who: String,
    /// When.
    pub at: Timestamp,
    /// The remark; empty where there is none.
    pub remark: String,
    /// The seal that followed; none in records older than seals.
    pub seal: Option<SignedUnder>,
}

/// What a seal holds, in short.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignedUnder {
    /// The last entry under it.
    pub up_to: Seq,
    /// What to know its key by.
    pub key: Fingerprint,
}

impl Told {
    fn new(what: impl Into<String>, said: impl Into<String>) -> Told {
        Told {
            what: what.into(),
            said: said.into(),
        }
    }
}

impl FirstPage {
    /// What a job came to, without its course, which the writer of the checklist notes.
    pub(super) fn of(
        edition: &Edition,
        entries: &[Entry],
        state: &State,
        around: &Around<'_>,
    ) -> FirstPage {
        let mut page = FirstPage {
            open: open(entries, state, around),
            signed: signed(entries, around),
            ..FirstPage::default()
        };
        for (heading, _, told) in marked(edition, state) {
            let under = match heading {
                Heading::Found => &mut page.found,
                Heading::Done => &mut page.done,
                Heading::Gained => &mut page.gained,
                Heading::Open => &mut page.open,
            };
            if !under.contains(&told) {
                under.push(told);
            }
        }
        page.open.extend(review(state));
        page
    }
}

/// How a part of the job ended that the root ran, in words.
pub(super) fn part(flow: &Flow, instance: u32, outcome: &OutcomeName) -> Option<Told> {
    let label = flow.outcomes.get(outcome)?;
    Some(Told::new(in_round(&flow.title, instance), label.as_str()))
}

/// What a job came to in a few words: the last that was found by choosing from a list.
pub fn gist(edition: &Edition, state: &State) -> Option<Told> {
    let chosen = |fact: &Fact| matches!(fact.holds, FactType::OneOf(_));
    let all = marked(edition, state).into_iter().rev();
    let mut found = all.filter(|(heading, fact, _)| *heading == Heading::Found && chosen(fact));
    found.next().map(|(_, _, told)| told)
}

/// The facts that their flows want there, in the order in which they became known.
fn marked<'e>(edition: &'e Edition, state: &State) -> Vec<(Heading, &'e Fact, Told)> {
    let mut all = Vec::new();
    for ((name, instance), room) in &state.rooms {
        let Some(flow) = edition.flow(name) else {
            continue;
        };
        for (place, (fact, declared)) in flow.facts.iter().enumerate() {
            let own = flow.needs.iter().all(|need| need.it != *fact);
            let known = room.facts.get(fact).filter(|known| known.confirmed);
            if let (true, Some(heading), Some(known)) = (own, declared.first_page, known) {
                let label = begun_large(&in_round(&declared.label, *instance));
                let mut said = words(declared, known);
                if heading == Heading::Open {
                    said = with_its_day(&said, known.at);
                }
                let told = Told::new(label, said);
                all.push(((known.at, place), heading, declared, told));
            }
        }
    }
    all.sort_by_key(|(order, ..)| *order);
    let kept = all.into_iter();
    let kept = kept.map(|(_, heading, declared, told)| (heading, declared, told));
    kept.filter(|(_, _, told)| !told.said.is_empty()).collect()
}

/// A label of the first walk through a flow, or of a later one.
fn in_round(label: &str, instance: u32) -> String {
    match instance {
        0 | 1 => label.to_owned(),
        later => format!("{label}, round {later}"),
    }
}

/// A label as a line begins. A fact without a label goes by its name.
fn begun_large(label: &str) -> String {
    let mut signs = label.chars();
    let first = signs.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(signs).collect()
}

/// Words that name a day only together with the day on which they were said.
const COUNTED_FROM: [&str; 14] = [
    "today",
    "tonight",
    "tomorrow",
    "morning",
    "afternoon",
    "evening",
    "week",
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
];

/// What somebody said of a day to come, with the day on which it was said where that is needed:
/// whoever reads a report reads it later.
fn with_its_day(said: &str, at: Timestamp) -> String {
    let lower = said.to_lowercase();
    if !COUNTED_FROM.iter().any(|word| lower.contains(word)) {
        return said.to_owned();
    }
    format!("{said} (said on {})", at.strftime("%Y-%m-%d at %H:%M UTC"))
}

/// The value of a fact as its flow shows it.
fn words(declared: &Fact, known: &Known) -> String {
    if let (Some(answer), false) = (&known.answer, counts(&declared.holds)) {
        return answer.words();
    }
    match (&declared.holds, &known.value) {
        (FactType::Measures { show_in, .. }, Value::Quantity(quantity)) => quantity.show(show_in),
        (FactType::Counts { noun, .. } | FactType::Number { noun }, value) => {
            let number = value_words(value);
            let one = noun.strip_suffix('s').filter(|_| number == "1");
            format!("{number} {}", one.unwrap_or(noun))
        }
        (FactType::OneOf(labels), Value::Word(key)) => labels
            .get(key.as_str())
            .cloned()
            .unwrap_or_else(|| value_words(&known.value)),
        (FactType::SomeOf(labels), Value::Words(keys)) => {
            let label = |key: &String| labels.get(key.as_str()).unwrap_or(key).clone();
            keys.iter().map(label).collect::<Vec<_>>().join(", ")
        }
        (_, value) => value_words(value),
    }
}

/// Whether it holds a number that needs its noun beside it.
fn counts(holds: &FactType) -> bool {
    matches!(holds, FactType::Counts { .. } | FactType::Number { .. })
}

/// What is open by how the job stands.
fn open(entries: &[Entry], state: &State, around: &Around<'_>) -> Vec<Told> {
    let mut open = Vec::new();
    for source in state.sources.values().filter(|it| !it.locks.is_empty()) {
        let owners: Vec<String> = source.locks.iter().map(|it| around.name(*it)).collect();
        let said = format!("locked, the lock of {} is on it", owners.join(", "));
        open.push(Told::new(source.declared.label.clone(), said));
    }
    match &state.mode {
        Mode::Stopped { why } => {
            let why = why.as_deref().unwrap_or("why was not said yet");
            open.push(Told::new("Work is stopped", why));
        }
        Mode::Left { owner, again } => {
            open.push(Told::new("It belongs to", owner.as_str()));
            let mut left = entries.iter().rev();
            let left = left.find(|it| matches!(it.what, What::LeftLockedOut { .. }));
            let again = left.map_or_else(|| again.clone(), |it| with_its_day(again, it.at));
            open.push(Told::new("Looked at again", again));
        }
        Mode::Paused => open.push(Told::new("The job", "is paused")),
        Mode::Walking | Mode::Leaving { .. } => {
            open.push(Told::new("The job", "is not at its end"));
        }
        Mode::Finished { .. } => {}
    }
    open
}

/// What is open by how far the review is.
fn review(state: &State) -> Option<Told> {
    match &state.review {
        Review::SentBack { remark } if remark.is_empty() => {
            Some(Told::new("Sent back", "not handed in again yet"))
        }
        Review::SentBack { remark } => Some(Told::new("Sent back", remark.as_str())),
        Review::HandedIn => Some(Told::new("Review", "nobody accepted it yet")),
        Review::None if !state.is_open() => Some(Told::new("Review", "it is not handed in yet")),
        Review::None | Review::Accepted => None,
    }
}

/// Hand-ins and decisions, each with the seal that follows it.
fn signed(entries: &[Entry], around: &Around<'_>) -> Vec<Signed> {
    let mut all: Vec<Signed> = Vec::new();
    let by = |who: Option<PersonId>| around.who(who);
    for entry in entries {
        let (what, remark) = match &entry.what {
            What::HandedIn => ("Handed in", ""),
            What::Accepted { remark } => ("Accepted", remark.as_str()),
            What::SentBack { remark, .. } => ("Sent back", remark.as_str()),
            What::Sealed { head, seal } => {
                if let Some(last) = all.last_mut().filter(|last| last.seal.is_none()) {
                    last.seal = Some(SignedUnder {
                        up_to: head.seq,
                        key: seal.key.fingerprint(),
                    });
                }
                continue;
            }
            _ => continue,
        };
        all.push(Signed {
            what: what.to_owned(),
            who: by(entry.who),
            at: second(entry.at),
            remark: remark.to_owned(),
            seal: None,
        });
    }
    all
}
