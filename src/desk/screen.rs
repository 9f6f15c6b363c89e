//! What the desk hands to a channel about a job.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::id::{EvaporatorId, JobId};
use super::noted::{StaysKnown, Trend};
use super::whereabouts::Near;
use crate::flow::model::Role;
use crate::flow::name::FlowName;
use crate::record::person::PersonId;
use crate::store::Cursor;
use crate::walk::prompt::Prompt;

/// One screen of a job for one viewer, with everything named that has a name.
#[derive(Clone, Debug, PartialEq)]
pub struct Screen {
    /// The job.
    pub job: JobId,
    /// What it works on.
    pub evaporator: EvaporatorLabel,
    /// In whose hands it is.
    pub holder: Named,
    /// How far it is.
    pub phase: Phase,
    /// What the engine shows to this viewer.
    pub prompt: Prompt,
    /// What this viewer may do with a job that was handed in; handing it in is one of the
    /// prompt's own actions.
    pub closing: Vec<Closing>,
    /// How many photos can be looked at: those of a job that is over.
    pub photos: usize,
}

/// A person with the name to show.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Named {
    /// Who.
    pub person: PersonId,
    /// The name; `somebody` where it was erased.
    pub name: String,
}

/// How people tell one evaporator from the next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EvaporatorLabel {
    /// Which.
    pub id: EvaporatorId,
    /// Where: the shop, the building.
    pub site: String,
    /// What is written on it.
    pub tag: String,
    /// Where it hangs: the box, the wall.
    pub hangs: String,
}

impl EvaporatorLabel {
    /// One line: `Harbor Market · EV-3 · meat cooler, left`.
    pub fn line(&self) -> String {
        let parts = [&self.site, &self.tag, &self.hangs];
        let given: Vec<&str> = parts
            .into_iter()
            .map(String::as_str)
            .filter(|part| !part.is_empty())
            .collect();
        given.join(" · ")
    }
}

/// How far a job is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Somebody works on it.
    Open,
    /// Paused.
    Paused,
    /// Work was stopped.
    Stopped,
    /// The walk is over; to be handed in.
    Finished,
    /// Left locked out, with somebody who owns what is open.
    LockedOut,
    /// Waits for review.
    HandedIn,
    /// A reviewer sent it back; to be put right and handed in again.
    SentBack,
    /// Reviewed and accepted.
    Accepted,
}

impl Phase {
    /// Whether the walk goes on.
    pub fn is_open(self) -> bool {
        matches!(self, Phase::Open | Phase::Paused | Phase::Stopped)
    }

    /// All of them, in the order in which a job may go through them.
    pub const ALL: [Phase; 8] = [
        Phase::Open,
        Phase::Paused,
        Phase::Stopped,
        Phase::Finished,
        Phase::LockedOut,
        Phase::HandedIn,
        Phase::SentBack,
        Phase::Accepted,
    ];

    /// Its one word, as addresses and files have it.
    pub fn word(self) -> &'static str {
        match self {
            Phase::Open => "open",
            Phase::Paused => "paused",
            Phase::Stopped => "stopped",
            Phase::Finished => "finished",
            Phase::LockedOut => "locked_out",
            Phase::HandedIn => "handed_in",
            Phase::SentBack => "sent_back",
            Phase::Accepted => "accepted",
        }
    }

    /// In words, as a list shows it.
    pub fn words(self) -> &'static str {
        match self {
            Phase::Open => "open",
            Phase::Paused => "paused",
            Phase::Stopped => "work stopped",
            Phase::Finished => "finished, not handed in",
            Phase::LockedOut => "left locked out",
            Phase::HandedIn => "handed in",
            Phase::SentBack => "sent back",
            Phase::Accepted => "accepted",
        }
    }
}

/// What a reviewer can do with a job that was handed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Closing {
    /// Accept it: [`super::Desk::accept`].
    Accept,
    /// Send it back with a remark: [`super::Desk::send_back`].
    SendBack,
    /// Decide what becomes of the row that it proposes: [`super::Desk::decide_row`].
    Row(RowDecision),
}

/// What becomes of the row of the speed book that a job proposes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RowDecision {
    /// It goes into the crew's speed book.
    Accept,
    /// It does not.
    Decline,
}

impl Closing {
    /// What its button says.
    pub fn label(self) -> &'static str {
        match self {
            Closing::Accept => "Accept the job",
            Closing::SendBack => "Send it back",
            Closing::Row(RowDecision::Accept) => "Put the row into the speed book",
            Closing::Row(RowDecision::Decline) => "Decline the row",
        }
    }
}

/// What became of an input.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// The job went on.
    Advanced,
    /// Nothing changed; the sentence says why.
    Refused(String),
    /// This very input was handled before; nothing changed.
    AlreadyHandled,
}

/// The answer to one input: what became of it, and the screen as it stands after it.
#[derive(Clone, Debug, PartialEq)]
pub struct Handled {
    /// What became of the input.
    pub outcome: Outcome,
    /// The screen for the person who sent it.
    pub screen: Screen,
}

/// One line of a list of jobs.
#[derive(Clone, Debug, PartialEq)]
pub struct JobLine {
    /// The job.
    pub job: JobId,
    /// What it works on.
    pub evaporator: EvaporatorLabel,
    /// The flow that it walks.
    pub flow: FlowName,
    /// That flow's title.
    pub title: String,
    /// In whose hands it is.
    pub holder: Named,
    /// How far it is.
    pub phase: Phase,
    /// How it ended, in words.
    pub outcome: Option<String>,
    /// A training walk.
    pub training: bool,
    /// Whom it is offered to: anybody, or one person.
    pub offered: Option<Offer>,
    /// When it began.
    pub began: Timestamp,
    /// When something last happened.
    pub last: Timestamp,
    /// How much stood out when it was handed in, while it waits for review.
    pub stands_out: usize,
    /// Handed in, but nobody of the crew may review it.
    pub nobody_to_review: bool,
    /// It goes on only when somebody in one of these roles released a hold or answered a step.
    pub waits_for: BTreeSet<Role>,
}

impl JobLine {
    /// Whether it waits for somebody in one of these roles.
    pub fn waits_for_any(&self, roles: &BTreeSet<Role>) -> bool {
        !self.waits_for.is_disjoint(roles)
    }

    /// Whether this person may take the job over, as far as the offer goes.
    pub fn is_offered_to(&self, person: PersonId) -> bool {
        match self.offered {
            Some(Offer::Anybody) => true,
            Some(Offer::One(one)) => one == person,
            None => false,
        }
    }
}

/// To whom a job is offered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Offer {
    /// To anybody of the crew.
    Anybody,
    /// To this person.
    One(PersonId),
}

/// An evaporator with its jobs, the newest first.
#[derive(Clone, Debug, PartialEq)]
pub struct EvaporatorPage {
    /// The evaporator.
    pub label: EvaporatorLabel,
    /// When it was added.
    pub added: Timestamp,
    /// Where it is, if somebody said so.
    pub near: Option<Near>,
    /// Its jobs, the latest begun first; a page of them.
    pub jobs: Vec<JobLine>,
    /// Where the jobs go on.
    pub next: Option<Cursor>,
    /// What it is, as last recorded.
    pub nameplate: Vec<StaysKnown>,
    /// The speed setting that its fan was left at, as last recorded.
    pub setting: Vec<StaysKnown>,
    /// Who looks again and when, if nobody began a job on it since.
    pub recheck: Vec<StaysKnown>,
    /// Its readings over the jobs.
    pub trends: Vec<Trend>,
}

/// A flow that a job can begin with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlowChoice {
    /// Its name.
    pub flow: FlowName,
    /// Its title.
    pub title: String,
}
