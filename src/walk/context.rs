//! What the engine is told besides the state and the input.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::flow::model::Role;
use crate::record::entry::{Channel, SignOff};
use crate::record::person::PersonId;
use crate::trade::goods::Goods;

/// In which way somebody wants to be asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// One step at a time: read it, do it, answer it.
    #[default]
    ReadThenDo,
    /// Plain steps that follow each other as one list: do them, then answer them in order.
    DoThenConfirm,
}

impl Way {
    /// Every way, the usual one first.
    pub const ALL: [Way; 2] = [Way::ReadThenDo, Way::DoThenConfirm];

    /// Its word, in forms and commands.
    pub fn word(self) -> &'static str {
        match self {
            Way::ReadThenDo => "read-then-do",
            Way::DoThenConfirm => "do-then-confirm",
        }
    }

    /// What it means, for whoever chooses.
    pub fn words(self) -> &'static str {
        match self {
            Way::ReadThenDo => "Read then do: one step at a time",
            Way::DoThenConfirm => {
                "Do then confirm: plain steps come as a list. Never steps with a warning, and \
                 never around locks, tests or live parts"
            }
        }
    }

    /// How somebody in these roles is asked: whoever learns reads first.
    pub fn of(self, roles: &BTreeSet<Role>) -> Way {
        match roles.contains(&Role::Apprentice) {
            true => Way::ReadThenDo,
            false => self,
        }
    }
}

/// Who acts, when, through what, and with which goods at hand.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// Who acts; nobody for time itself.
    pub who: Option<PersonId>,
    /// That person's roles.
    pub roles: &'a BTreeSet<Role>,
    /// What that person has shown.
    pub shown: &'a [SignOff],
    /// In which way they want to be asked.
    pub way: Way,
    /// The channel.
    pub channel: Channel,
    /// The time now.
    pub now: Timestamp,
    /// The crew's kit and speed book, as pinned.
    pub goods: Goods<'a>,
}

/// Who looks at a screen.
#[derive(Clone, Copy)]
pub struct Viewer<'a> {
    /// The person.
    pub who: PersonId,
    /// Their roles.
    pub roles: &'a BTreeSet<Role>,
    /// What they have shown.
    pub shown: &'a [SignOff],
    /// In which way they want to be asked.
    pub way: Way,
}
