//! A loaded flow: every name in it resolves, every expression is typed.

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

pub use super::duty::{Duty, Leads};
use super::expression::Expression;
use super::heading::Heading;
pub use super::heading::Stays;
use super::name::{
    ChoiceKey, CompetenceName, FactName, FlowName, OutcomeName, PictureName, SourceName, StepName,
};
use super::template::Template;
use crate::trade::formula::Formula;
use crate::trade::quantity::{Kind, Unit};
use crate::trade::rows::Row;

/// A place in a flow's file; both count from 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct At {
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
}

/// Something with the place where the file says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Located<T> {
    /// Where it stands.
    pub at: At,
    /// What stands there.
    pub it: T,
}

/// A person's role. Roles are a set: a supervisor is not by that an electrician.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Learns the trade; works under supervision.
    Apprentice,
    /// A refrigeration technician, qualified for live checks.
    Technician,
    /// Licensed for line-voltage wiring.
    Electrician,
    /// Reviews jobs and releases exceptions.
    Supervisor,
}

impl Role {
    /// Every role, in the order in which people read them.
    pub const ALL: [Role; 4] = [
        Role::Apprentice,
        Role::Technician,
        Role::Electrician,
        Role::Supervisor,
    ];

    /// Its word, in flows and in forms.
    pub fn word(self) -> &'static str {
        match self {
            Role::Apprentice => "apprentice",
            Role::Technician => "technician",
            Role::Electrician => "electrician",
            Role::Supervisor => "supervisor",
        }
    }

    /// The role of a word.
    pub fn of_word(word: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// One flow file.
#[derive(Clone, Debug)]
pub struct Flow {
    /// Its name.
    pub name: FlowName,
    /// The title above every screen.
    pub title: String,
    /// The language of its texts, a BCP 47 tag.
    pub language: String,
    /// The file it was read from.
    pub file: String,
    /// A longer pause voids every proof; seconds.
    pub pause_limit_seconds: u32,
    /// Where walking it means that somebody looks again later.
    pub look_again: Option<LookAgain>,
    /// Where this holds, whoever walks it is asked now and then whether they are all right.
    pub check_ins: Option<Expression>,
    /// How it can end, with a label each.
    pub outcomes: IndexMap<OutcomeName, String>,
    /// What its steps need somebody to have shown.
    pub competences: IndexMap<CompetenceName, Competence>,
    /// What can hurt.
    pub energy: IndexMap<SourceName, Source>,
    /// What it collects.
    pub facts: IndexMap<FactName, Fact>,
    /// Facts that the runner must give.
    pub needs: Vec<Located<FactName>>,
    /// Facts that the runner may take.
    pub gives: Vec<Located<FactName>>,
    /// The first step.
    pub start: StepName,
    /// All steps, in the order of the file.
    pub steps: IndexMap<StepName, Step>,
}

/// Somebody looks at the evaporator again, once a job in which the flow was walked is over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LookAgain {
    /// How long after it was agreed, where the words of `date` are not understood; seconds.
    pub after_seconds: u32,
    /// The text that says who.
    pub owner: FactName,
    /// The text that says when. Its answer is the moment of the agreement.
    pub date: FactName,
}

/// Something that a person shows to a supervisor, who signs for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Competence {
    /// Where it is declared.
    pub at: At,
    /// What people call it.
    pub label: String,
}

/// What kind of energy a source holds; each kind has its own ladder to "proved".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceKind {
    /// A circuit: opened, locked, proved.
    Electrical,
    /// A stored charge: waited, measured.
    Charge,
    /// Something that moves: stopped, blocked.
    Motion,
}

/// One energy source that a flow declares.
#[derive(Clone, Debug)]
pub struct Source {
    /// Where it is declared.
    pub at: At,
    /// Its kind.
    pub kind: SourceKind,
    /// What people call it.
    pub label: String,
    /// The source that charges or drives it: re-energising that one voids this one's proof.
    pub fed_by: Option<SourceName>,
    /// The flow that proves it.
    pub proved_by: Option<FlowName>,
    /// It is on this evaporator only where this holds; without it, always.
    pub exists_when: Option<Expression>,
}

/// A fact that a flow declares.
#[derive(Clone, Debug)]
pub struct Fact {
    /// Where it is declared.
    pub at: At,
    /// What the checklist calls it.
    pub label: String,
    /// What it holds.
    pub holds: FactType,
    /// Keys after which nothing goes on until a person of that role releases a hold point.
    pub held: Vec<(Located<ChoiceKey>, Role)>,
    /// As what it stays known of the evaporator once the job is over, if it does.
    pub stays: Option<Stays>,
    /// Under which heading it stands on the first page of a job's report, if it does.
    pub first_page: Option<Heading>,
}

/// What a fact holds.
#[derive(Clone, Debug, PartialEq)]
pub enum FactType {
    /// One key of these, each with its label.
    OneOf(IndexMap<ChoiceKey, String>),
    /// Several keys of these.
    SomeOf(IndexMap<ChoiceKey, String>),
    /// A quantity.
    Measures {
        /// Its kind.
        kind: Kind,
        /// The unit it is shown in.
        show_in: &'static Unit,
    },
    /// A whole number of a noun within bounds.
    Counts {
        /// What is counted: `fans`.
        noun: String,
        /// The least.
        from: u32,
        /// The most.
        to: u32,
    },
    /// A plain number of a noun.
    Number {
        /// What the number says: `factor`.
        noun: String,
    },
    /// Text of at most so many characters.
    Text {
        /// The most characters.
        characters_max: u32,
    },
    /// A photo of this.
    Photo {
        /// What it shows.
        of: String,
    },
}

/// One thing on one screen.
#[derive(Clone, Debug)]
pub struct Step {
    /// Its name.
    pub name: StepName,
    /// Where it begins.
    pub at: At,
    /// Its place in the danger.
    pub danger: Danger,
    /// What the person does.
    pub act: Act,
    /// The sentence on the screen.
    pub say: Template,
    /// The warning above it.
    pub caution: Option<Template>,
    /// Why it is asked; shown on request.
    pub why: Option<Template>,
    /// How to read or do it; shown on request.
    pub how: Option<Template>,
    /// A picture.
    pub picture: Option<Located<PictureName>>,
    /// The formula whose last result is drawn beside the question.
    pub chart: Option<&'static str>,
    /// Published sources, or `common practice`.
    pub cite: Vec<String>,
    /// Who may answer; empty means anybody of the crew on the job.
    pub by: Vec<Role>,
    /// What the person must have shown before, every one of these.
    pub needs_shown: Vec<Located<CompetenceName>>,
    /// What this takes a careful person, seconds.
    pub takes_at_least_seconds: Option<u32>,
    /// What the rules of lockout call this step, if they ask for it.
    pub duty: Option<Located<Duty>>,
    /// What it does to line-voltage leads, where that is its work.
    pub leads: Option<Located<Leads>>,
    /// What answering does to energy sources.
    pub sets: Vec<(Located<SourceName>, Setting)>,
    /// Where it goes; empty for `finish`.
    pub then: Vec<Branch>,
}

/// A step's place in the danger.
#[derive(Clone, Debug)]
pub enum Danger {
    /// Nothing is touched.
    HandsOff,
    /// Hands go in: every one of these must be proved.
    Touches(Vec<Located<SourceName>>),
    /// Deliberate measuring on live parts.
    TestsLive {
        /// What is live.
        sources: Vec<Located<SourceName>>,
        /// Facts that must be known before: meter rating, protective gear.
        gear: Vec<Located<FactName>>,
    },
}

/// What answering a step does to a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Setting {
    /// The isolating device was opened.
    Opened,
    /// The person's own lock went on.
    Locked,
    /// The person's own lock came off.
    Unlocked,
    /// The source was re-energised.
    Closed,
    /// The discharge time was waited out.
    Waited,
    /// Motion has stopped.
    Stopped,
    /// Motion is blocked.
    Blocked,
    /// The block was taken away.
    Freed,
}

/// One way out of a step. The last has no condition, unless all of them together leave no case
/// open; the checker sees to that.
#[derive(Clone, Debug)]
pub struct Branch {
    /// The condition, if any.
    pub when: Option<Expression>,
    /// The step it leads to.
    pub go: Located<StepName>,
}

/// What the person does on a step.
#[derive(Clone, Debug)]
pub enum Act {
    /// Reads, and presses this button.
    Tell {
        /// The button.
        button: String,
    },
    /// Does what is asked, and presses this button.
    Confirm {
        /// The button.
        button: String,
    },
    /// Picks one or several choices of a fact.
    Choose {
        /// The fact.
        fact: FactName,
    },
    /// Types a reading, a count or a number.
    Measure(Box<Measure>),
    /// Sends a photo.
    Photo {
        /// The fact.
        fact: FactName,
    },
    /// Types words.
    Write {
        /// The fact.
        fact: FactName,
    },
    /// Waits.
    Wait {
        /// How long: a duration.
        long: Expression,
        /// Whether it begins again after a restart.
        safety: bool,
    },
    /// Reads a worked-out result.
    WorkOut(Box<WorkOut>),
    /// Is led through the live-dead-live test.
    ProveDead(Box<ProveDead>),
    /// Waits for a named role.
    Hold {
        /// Who may release it.
        role: Role,
        /// The button of that person.
        release: String,
    },
    /// Walks another flow and comes back.
    Run(Box<Run>),
    /// The end of this flow.
    Finish {
        /// How it ended.
        outcome: OutcomeName,
    },
}

/// A reading to take.
#[derive(Clone, Debug)]
pub struct Measure {
    /// The fact it becomes.
    pub fact: FactName,
    /// Refused outside; always there for a quantity.
    pub plausible: Option<Range>,
    /// Asked for once more outside.
    pub expect: Option<Range>,
    /// What it is read from.
    pub instrument: Option<String>,
    /// An example of what to type.
    pub example: Option<String>,
}

/// A range between two expressions of one kind, ends included.
#[derive(Clone, Debug)]
pub struct Range {
    /// The least.
    pub from: Expression,
    /// The most.
    pub to: Expression,
}

/// A computation to show.
#[derive(Clone)]
pub struct WorkOut {
    /// The formula.
    pub formula: &'static Formula,
    /// Its inputs by name.
    pub with: IndexMap<String, Expression>,
    /// Facts that take a result: fact, name of the result.
    pub store: IndexMap<FactName, String>,
    /// Where to go when it cannot be worked out.
    pub unable: Located<StepName>,
}

impl std::fmt::Debug for WorkOut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("WorkOut")
            .field("formula", &self.formula.name)
            .finish_non_exhaustive()
    }
}

/// A live-dead-live test.
#[derive(Clone)]
pub struct ProveDead {
    /// What is tested, with the points of each.
    pub sources: Vec<(Located<SourceName>, Points)>,
    /// The row with the highest reading that passes.
    pub limit: &'static Row,
    /// Where to go when something is live.
    pub not_dead: Located<StepName>,
}

impl std::fmt::Debug for ProveDead {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ProveDead")
            .field("sources", &self.sources)
            .finish_non_exhaustive()
    }
}

/// The points at which one source is tested.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Points {
    /// Pairs tested with the meter on AC: every pair, and each to ground.
    pub ac: Vec<String>,
    /// Pairs tested with the meter on DC: what stores a charge.
    pub dc: Vec<String>,
}

/// Another flow to walk.
#[derive(Clone, Debug)]
pub struct Run {
    /// The flow.
    pub flow: Located<FlowName>,
    /// Its needs, as expressions over the runner's facts; same names bind by themselves.
    pub with: IndexMap<FactName, Expression>,
    /// The runner's facts that take what it gives: own fact, given fact.
    pub take: IndexMap<FactName, FactName>,
    /// Its sources bound to the runner's: its source, own source.
    pub energy: IndexMap<SourceName, SourceName>,
}

impl Step {
    /// The fact that this step asks for, if any.
    pub fn asks_for(&self) -> Option<&FactName> {
        match &self.act {
            Act::Choose { fact } | Act::Photo { fact } | Act::Write { fact } => Some(fact),
            Act::Measure(measure) => Some(&measure.fact),
            Act::Tell { .. }
            | Act::Confirm { .. }
            | Act::Wait { .. }
            | Act::WorkOut(_)
            | Act::ProveDead(_)
            | Act::Hold { .. }
            | Act::Run(_)
            | Act::Finish { .. } => None,
        }
    }
}

impl Step {
    /// Ways out of this step besides `then`: when something cannot be worked out, or is live.
    pub fn other_ways(&self) -> impl Iterator<Item = (&Located<StepName>, &'static str)> {
        let way = match &self.act {
            Act::WorkOut(work_out) => Some((&work_out.unable, "unable")),
            Act::ProveDead(proof) => Some((&proof.not_dead, "not_dead")),
            _ => None,
        };
        way.into_iter()
    }
}

impl Flow {
    /// The step called `name`; every name inside a loaded flow has one.
    pub fn step(&self, name: &StepName) -> Option<&Step> {
        self.steps.get(name)
    }
}
