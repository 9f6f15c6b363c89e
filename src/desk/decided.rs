//! What the engine decides for whoever acts on a job.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::actor::Actor;
use super::floor::Work;
use super::notice::FIRST;
use super::tables::PersonRow;
use super::ways::Brings;
use crate::flow::model::Role;
use crate::record::entry::Channel;
use crate::record::person::PersonId;
use crate::walk::check_ins::is_sign_of_life;
use crate::walk::context::Context;
use crate::walk::input::Input;
use crate::walk::refusal::Refusal;
use crate::walk::{self, Decided};

/// Who acts on a job; time acts without a person.
#[derive(Clone, Copy)]
pub(super) struct By<'a> {
    pub(super) actor: Option<(&'a Actor, &'a PersonRow)>,
    /// What the person has shown, and how they are asked.
    pub(super) brings: &'a Brings,
    /// What the person saw when they acted, as far as it matters.
    pub(super) seen: Seen,
}

/// What somebody saw when they acted, as far as it matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// It counts whatever they saw.
    Anything,
    /// It only counts on the screen of this revision; on any other it is stale.
    Screen(u64),
    /// It only counts for the question that was first asked at this revision
    /// ([`crate::walk::prompt::Prompt::asked_since`]), whatever happened beside it.
    Question(u64),
}

impl By<'_> {
    pub(super) fn who(&self) -> Option<PersonId> {
        self.actor.map(|(actor, _)| actor.person)
    }

    /// How a notice names them: the person is the first of its people.
    pub(super) fn name(&self) -> &'static str {
        self.actor.map_or("The server", |_| FIRST)
    }
}

/// What the engine makes of an input.
pub(super) fn decide(
    by: By<'_>,
    work: &Work,
    input: &Input,
    now: Timestamp,
) -> Result<Decided, Refusal> {
    match by.seen {
        Seen::Screen(revision) if revision != work.state.revision => return Err(Refusal::Stale),
        Seen::Question(since) if since != work.state.asked_since => {
            return Err(Refusal::CameBefore);
        }
        Seen::Anything | Seen::Screen(_) | Seen::Question(_) => {}
    }
    let nobody = Default::default();
    let context = context(by, work, &nobody, now);
    walk::decide_and_apply(&work.edition, &work.state, input, &context)
}

/// Somebody is asked whether they are all right, and does something that has no effect: it is a
/// sign of life. Gives the refusal back, which they are still told.
pub(super) fn sign_of_life(
    by: By<'_>,
    work: &Work,
    decided: &mut Result<Decided, Refusal>,
    now: Timestamp,
) -> Option<Refusal> {
    let refused = decided.as_ref().err()?.clone();
    let nobody = Default::default();
    let context = context(by, work, &nobody, now);
    if !is_sign_of_life(&work.state, &context) {
        return None;
    }
    let well = walk::decide_and_apply(&work.edition, &work.state, &Input::AmWell, &context);
    *decided = Ok(well.ok()?);
    Some(refused)
}

fn context<'a>(
    by: By<'a>,
    work: &'a Work,
    nobody: &'a BTreeSet<Role>,
    now: Timestamp,
) -> Context<'a> {
    Context {
        who: by.who(),
        roles: by.actor.map_or(nobody, |(_, person)| &person.roles),
        shown: &by.brings.shown,
        way: by.brings.way,
        channel: by.actor.map_or(Channel::Server, |(actor, _)| actor.channel),
        now,
        goods: work.goods.goods(),
    }
}
