//! Messages to people who did not ask: what the outbox holds.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::id::JobId;
use crate::record::person::PersonId;
use crate::store::NoticeId;

/// Stands in a sentence for the name of the first of its people: a private sign, which means
/// nothing where somebody types it.
pub(super) const FIRST: &str = "\u{e000}";

/// The same for the second of its people.
pub(super) const SECOND: &str = "\u{e001}";

/// A message to one person, about one job or none.
///
/// A channel shows the sentence and, where `show_screen` says so, the job's screen after it, made
/// anew with [`super::Desk::screen`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notice {
    /// To whom.
    pub to: PersonId,
    /// What it is about.
    pub about: About,
    /// The job; none for news of the crew.
    #[serde(default)]
    pub job: Option<JobId>,
    /// The revision of the job when it was written; with the job it makes the token that both
    /// copies of a message carry.
    pub revision: u64,
    /// The sentence.
    pub sentence: String,
    /// What the sentence lists, one by one; nothing where it tells of one thing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<NoticeLine>,
    /// The people whose names belong into the sentences. They are filled in when it is told: what
    /// is kept holds no name, so that an erased one is gone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub people: Vec<PersonId>,
    /// Whether the screen of the job belongs under it.
    pub show_screen: bool,
}

impl Notice {
    /// With these names of its people in it.
    pub(super) fn with(mut self, names: &[String]) -> Notice {
        for (mark, name) in [FIRST, SECOND].into_iter().zip(names) {
            self.sentence = self.sentence.replace(mark, name);
            for line in &mut self.lines {
                line.sentence = line.sentence.replace(mark, name);
            }
        }
        self.people.clear();
        self
    }
}

/// One of the things that a notice lists.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoticeLine {
    /// The job.
    pub job: JobId,
    /// The sentence.
    pub sentence: String,
}

/// What a notice is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// Somebody asks for a supervisor.
    SupervisorCalled,
    /// Work was stopped.
    WorkStopped,
    /// The stopped work may go on.
    StopLifted,
    /// Somebody asked for the emergency screen.
    Emergency,
    /// Somebody else began a job in the person's hands.
    BegunFor,
    /// A job is offered.
    HandoverOffered,
    /// The job that somebody held was taken over.
    HandoverTaken,
    /// A hold point waits for a role that the person has.
    HoldWaiting,
    /// A hold point was released.
    Released,
    /// A wait is over.
    WaitOver,
    /// A job was left locked out.
    LeftLockedOut,
    /// A job waits for review.
    HandedIn,
    /// A job was accepted.
    Accepted,
    /// A job was sent back.
    SentBack,
    /// The server was away and is back; here is the screen again.
    BackAgain,
    /// Is the person all right? A friendly question.
    CheckIn,
    /// The same, loudly.
    CheckInLoud,
    /// Somebody does not answer: go and look.
    CheckInAlarm,
    /// Somebody who did not answer is all right.
    CheckInOver,
    /// Something still waits for the person.
    Reminder,
    /// Something about a group of the crew.
    Group,
}

/// A notice that waits to be pushed to a Telegram chat.
///
/// Whoever last spoke through a page or the terminal finds theirs in an inbox instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outgoing {
    /// Which; it only ever grows.
    pub id: NoticeId,
    /// The Telegram chat that it goes to.
    pub chat: i64,
    /// What.
    pub notice: Notice,
    /// How often it was tried in vain.
    pub attempts: u32,
    /// Not to be sent before.
    pub due: Timestamp,
}

/// A notice that waits in a person's inbox until they have seen it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InboxItem {
    /// Its key, for [`super::Desk::seen`].
    pub key: String,
    /// When it was written.
    pub at: Timestamp,
    /// What.
    pub notice: Notice,
}
