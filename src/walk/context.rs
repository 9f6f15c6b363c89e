//! What the engine is told besides the state and the input.

use std::collections::BTreeSet;

use jiff::Timestamp;

use crate::flow::model::Role;
use crate::record::entry::{Channel, SignOff};
use crate::record::person::PersonId;
use crate::trade::goods::Goods;

/// Who acts, when, through what, and with which goods at hand.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// Who acts; nobody for time itself.
    pub who: Option<PersonId>,
    /// That person's roles.
    pub roles: &'a BTreeSet<Role>,
    /// What that person has shown.
    pub shown: &'a [SignOff],
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
}
