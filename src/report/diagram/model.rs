//! What a diagram of a flow says, before it has a place: cards, their exits, phases.

use std::collections::HashMap;

use indexmap::IndexMap;

use super::energy::{self, Energy};
use super::words::Words;
use crate::flow::library::Library;
use crate::flow::model::{Act, Danger, FactType, Flow, Role, Setting, Step};
use crate::flow::name::{FactName, FlowName, SourceName, StepName};

/// A flow as a diagram shows it.
#[derive(Clone, Debug)]
pub struct Diagram {
    /// The flow's title.
    pub title: String,
    /// Its name.
    pub name: String,
    /// The phases, in the order of the file; the first may have no title.
    pub phases: Vec<String>,
    /// The steps, in the order of the file.
    pub cards: Vec<Card>,
    /// The card it begins with.
    pub start: usize,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its name in the flow.
    pub step: StepName,
    /// What the person does.
    pub kind: Kind,
    /// What it is about: `Supply voltage`.
    pub about: String,
    /// What the screen says.
    pub says: String,
    /// What else must be seen at a glance: hands, live tests, what it sets, who may answer.
    pub notes: Vec<String>,
    /// Whether a caution stands above the question.
    pub caution: bool,
    /// Where the hands are.
    pub hands: Hands,
    /// What may still be live.
    pub energy: Energy,
    /// Its phase: a place in [`Diagram::phases`].
    pub phase: usize,
    /// The ways on.
    pub exits: Vec<Exit>,
}

/// What a person does on a step, as a diagram tells it apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Reads.
    Read,
    /// Does something and says so.
    Act,
    /// Chooses.
    Choose,
    /// Takes a reading, a count or a number.
    Reading,
    /// Takes a photo.
    Photo,
    /// Writes words.
    Write,
    /// Waits.
    Wait,
    /// Gets a number worked out.
    WorkOut,
    /// Is led through the live-dead-live test.
    Prove,
    /// Waits for another person.
    HoldPoint,
    /// Walks another flow.
    Flow,
    /// The end.
    End,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Read,
        Self::Act,
        Self::Choose,
        Self::Reading,
        Self::Photo,
        Self::Write,
        Self::Wait,
        Self::WorkOut,
        Self::Prove,
        Self::HoldPoint,
        Self::Flow,
        Self::End,
    ];

    /// The word above the card.
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "Read",
            Self::Act => "Do",
            Self::Choose => "Choose",
            Self::Reading => "Reading",
            Self::Photo => "Photo",
            Self::Write => "Write",
            Self::Wait => "Wait",
            Self::WorkOut => "Worked out",
            Self::Prove => "Live-dead-live test",
            Self::HoldPoint => "Hold point",
            Self::Flow => "Another flow",
            Self::End => "End",
        }
    }
}

/// Where the hands are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Hands {
    /// Off.
    Off,
    /// In the unit, behind proof and lock.
    In,
    /// Measuring on live parts.
    LiveTest,
}

/// A way on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exit {
    /// When it is taken; nothing where it is the only one.
    pub when: Option<String>,
    /// The card it leads to.
    pub to: usize,
}

/// The diagram of the flow called `name`, if there is one.
pub fn diagram(library: &Library, name: &FlowName) -> Option<Diagram> {
    let flow = library.flows().get(name)?;
    let energy = energy::by_step(library.flows());
    let none = HashMap::new();
    let energy = energy.get(name).unwrap_or(&none);
    let text = library.sources().files.get(&flow.file);
    let sections = sections(text.map_or("", String::as_str));
    let mut phases = vec![String::new()];
    let mut phase_of_section = HashMap::new();
    let mut cards = Vec::new();
    for step in flow.steps.values() {
        let before = |(line, _): &&(u32, String)| *line < step.at.line;
        let phase = match sections.iter().rev().find(before) {
            None => 0,
            Some((line, title)) => *phase_of_section.entry(*line).or_insert_with(|| {
                phases.push(title.clone());
                phases.len() - 1
            }),
        };
        let energy = energy.get(&step.name).copied().unwrap_or(Energy::Live);
        cards.push(card(library.flows(), flow, step, energy, phase));
    }
    Some(Diagram {
        title: flow.title.clone(),
        name: flow.name.as_str().to_owned(),
        phases,
        start: flow.steps.get_index_of(&flow.start).unwrap_or(0),
        cards,
    })
}

/// The headings between steps, `# --- The lead`, with their lines.
fn sections(text: &str) -> Vec<(u32, String)> {
    let heading = |line: &str| Some(line.trim_start().strip_prefix("# --- ")?.trim().to_owned());
    (1..)
        .zip(text.lines())
        .filter_map(|(number, line)| Some((number, heading(line)?)))
        .collect()
}

fn card(
    flows: &IndexMap<FlowName, Flow>,
    flow: &Flow,
    step: &Step,
    energy: Energy,
    phase: usize,
) -> Card {
    let run = match &step.act {
        Act::Run(run) => flows.get(&run.flow.it),
        _ => None,
    };
    let words = Words {
        flow,
        asked: step.asks_for(),
        outcomes: run.map(|flow| &flow.outcomes),
    };
    let (kind, about) = kind(flow, step, run, &words);
    Card {
        step: step.name.clone(),
        kind,
        about,
        says: words.text(&step.say),
        notes: notes(flow, step),
        caution: step.caution.is_some(),
        hands: match step.danger {
            Danger::HandsOff => Hands::Off,
            Danger::Touches(_) => Hands::In,
            Danger::TestsLive { .. } => Hands::LiveTest,
        },
        energy,
        phase,
        exits: exits(flow, step, &words),
    }
}

fn kind(flow: &Flow, step: &Step, run: Option<&Flow>, words: &Words<'_>) -> (Kind, String) {
    let label = |fact: &FactName| words.fact(fact);
    match &step.act {
        Act::Tell { .. } => (Kind::Read, String::new()),
        Act::Confirm { .. } => (Kind::Act, String::new()),
        Act::Choose { fact } => (Kind::Choose, label(fact)),
        Act::Measure(measure) => {
            let unit = match flow.facts.get(&measure.fact).map(|fact| &fact.holds) {
                Some(FactType::Measures { show_in, .. }) => format!(", {}", show_in.symbol),
                _ => String::new(),
            };
            (Kind::Reading, label(&measure.fact) + &unit)
        }
        Act::Photo { fact } => {
            let about = match flow.facts.get(fact).map(|fact| &fact.holds) {
                Some(FactType::Photo { of }) => of.clone(),
                _ => label(fact),
            };
            (Kind::Photo, about)
        }
        Act::Write { fact } => (Kind::Write, label(fact)),
        Act::Wait { long, .. } => (Kind::Wait, words.node(long.node())),
        Act::WorkOut(work_out) => (Kind::WorkOut, work_out.formula.name.replace('_', " ")),
        Act::ProveDead(proof) => {
            let sources = proof.sources.iter().map(|(source, _)| &source.it);
            (Kind::Prove, labels(flow, sources))
        }
        Act::Hold { role, .. } => (Kind::HoldPoint, format!("for {}", role_word(*role))),
        Act::Run(run_of) => {
            let title = run.map_or(run_of.flow.it.as_str(), |flow| &flow.title);
            (Kind::Flow, title.to_owned())
        }
        Act::Finish { outcome } => {
            let label = flow.outcomes.get(outcome).cloned();
            (Kind::End, label.unwrap_or_default())
        }
    }
}

fn role_word(role: Role) -> &'static str {
    match role {
        Role::Apprentice => "an apprentice",
        Role::Technician => "a technician",
        Role::Electrician => "a licensed electrician",
        Role::Supervisor => "a supervisor",
    }
}

fn labels<'n>(flow: &Flow, names: impl Iterator<Item = &'n SourceName>) -> String {
    let labels: Vec<&str> = names
        .filter_map(|name| flow.energy.get(name))
        .map(|source| source.label.as_str())
        .collect();
    labels.join(", ")
}

fn notes(flow: &Flow, step: &Step) -> Vec<String> {
    let mut notes = Vec::new();
    match &step.danger {
        Danger::HandsOff => {}
        Danger::Touches(sources) => {
            let labels = labels(flow, sources.iter().map(|source| &source.it));
            notes.push(format!("Hands in, proved before: {labels}"));
        }
        Danger::TestsLive { sources, .. } => {
            let labels = labels(flow, sources.iter().map(|source| &source.it));
            notes.push(format!("Measures live parts: {labels}"));
        }
    }
    for (source, setting) in &step.sets {
        let label = labels(flow, std::iter::once(&source.it));
        notes.push(format!("{label}: {}", setting_words(*setting)));
    }
    if !step.by.is_empty() {
        let roles: Vec<&str> = step.by.iter().map(|role| role_word(*role)).collect();
        notes.push(format!("Answered by {}", roles.join(" or ")));
    }
    notes
}

fn setting_words(setting: Setting) -> &'static str {
    match setting {
        Setting::Opened => "opened here",
        Setting::Locked => "own lock goes on",
        Setting::Unlocked => "own lock comes off",
        Setting::Closed => "energised again",
        Setting::Waited => "waited out here",
        Setting::Stopped => "stands still",
        Setting::Blocked => "blocked here",
        Setting::Freed => "freed here",
    }
}

fn exits(flow: &Flow, step: &Step, words: &Words<'_>) -> Vec<Exit> {
    let place = |name: &StepName| flow.steps.get_index_of(name).unwrap_or(0);
    let mut exits: Vec<Exit> = Vec::new();
    let other = step.other_ways().count() > 0;
    for (index, branch) in step.then.iter().enumerate() {
        let when = match &branch.when {
            Some(when) => Some(words.node(when.node())),
            None if index == 0 => other.then(|| match step.act {
                Act::ProveDead(_) => "Every source is proved".to_owned(),
                _ => "Worked out".to_owned(),
            }),
            None => {
                let before = step.then.iter().take(index);
                let conditions = before.filter_map(|branch| branch.when.as_ref());
                let rest = words.rest(conditions.map(|when| when.node()));
                Some(rest.unwrap_or_else(|| "Otherwise".to_owned()))
            }
        };
        let to = place(&branch.go.it);
        exits.push(Exit { when, to });
    }
    for (way, key) in step.other_ways() {
        let when = match key {
            "not_dead" => "Something is live",
            _ => "It cannot be worked out",
        };
        exits.push(Exit {
            when: Some(when.to_owned()),
            to: place(&way.it),
        });
    }
    exits
}
