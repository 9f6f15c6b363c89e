//! A job that is open to the crew: who answers which step.
//!
//! The holder is the person at the evaporator. What is done there with hands, a meter or a lock,
//! what is seen only there, and what warns of it stays theirs. The rest may be answered by anybody
//! of the crew, and each entry names who did.

use super::decide::not_now;
use super::draft::{Draft, here};
use super::prompt::Action;
use super::refusal::Refusal;
use super::state::{Review, State};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Danger, FactType, Flow, Measure, Role, Step};
use crate::record::entry::What;

/// Who answers the step at hand of a job that is open to the crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answers {
    /// Anybody of the crew.
    Anybody,
    /// The person at the evaporator.
    Holder,
    /// The person at the evaporator, in one of these roles or with somebody of them beside.
    HolderAs(Vec<Role>),
    /// The person at the evaporator, in one of these roles alone.
    HolderOnlyAs(Vec<Role>),
    /// Whoever has one of these roles.
    Roles(Vec<Role>),
}

impl Answers {
    /// What the screen says about it.
    pub fn words(&self) -> String {
        match self {
            Answers::Anybody => "Open to the crew: anybody of it may answer this step.".to_owned(),
            Answers::Holder => {
                "Hands-on: only the person at the evaporator answers this step.".to_owned()
            }
            Answers::HolderAs(roles) => {
                let roles = in_words(roles);
                format!(
                    "Hands-on: only the person at the evaporator answers this step, as {roles} or \
                     with one beside them."
                )
            }
            Answers::HolderOnlyAs(roles) => format!(
                "Hands-on: {} has the job in their own hands for this step.",
                in_words(roles)
            ),
            Answers::Roles(roles) => format!("This step is answered by {}.", in_words(roles)),
        }
    }
}

fn in_words(roles: &[Role]) -> String {
    let words: Vec<&str> = roles.iter().map(|role| role.with_article()).collect();
    words.join(" or ")
}

/// Whether a step is done at the evaporator itself, as far as the step says so: it touches or
/// tests something live, sets or proves a source, cuts or joins leads, is a duty of lockout, takes
/// a reading or a photo, needs somebody who has shown that they can do it, or warns of a hazard.
pub fn is_hands_on(flow: &Flow, step: &Step) -> bool {
    let acts_there = match &step.act {
        Act::Measure(measure) => is_reading(flow, measure),
        Act::Photo { .. } | Act::ProveDead(_) => true,
        Act::Tell { .. }
        | Act::Confirm { .. }
        | Act::Choose { .. }
        | Act::Write { .. }
        | Act::Wait { .. }
        | Act::WorkOut(_)
        | Act::Hold { .. }
        | Act::Run(_)
        | Act::Finish { .. } => false,
    };
    acts_there
        || !matches!(step.danger, Danger::HandsOff)
        || !step.sets.is_empty()
        || step.leads.is_some()
        || step.duty.is_some()
        || !step.needs_shown.is_empty()
        || step.caution.is_some()
}

/// Whether it is read there: a quantity with a unit, or whatever an instrument is named for.
fn is_reading(flow: &Flow, measure: &Measure) -> bool {
    let fact = flow.facts.get(&measure.fact);
    let has_unit = fact.is_some_and(|fact| matches!(fact.holds, FactType::Measures { .. }));
    has_unit || measure.instrument.is_some()
}

/// Whether anybody of the crew may answer this step: never one that is hands-on, none that names
/// who answers it, and none at all while the holder's own lock hangs.
pub(super) fn is_open_to_all(state: &State, flow: &Flow, step: &Step) -> bool {
    let mut sources = state.sources.values();
    let holder_is_locked_on = sources.any(|source| source.locks.contains(&state.holder));
    state.shared && step.by.is_empty() && !holder_is_locked_on && !is_hands_on(flow, step)
}

/// Whether somebody in a role that the step names may answer it who does not hold the job. Nobody
/// has their hands in for somebody else; and in a job that is open to the crew, whoever answers
/// may be anywhere, so what is hands-on stays with the person at the evaporator.
pub(super) fn is_open_to_its_roles(state: &State, flow: &Flow, step: &Step) -> bool {
    let hands_in = matches!(step.danger, Danger::Touches(_));
    let stays_with_holder = hands_in || state.shared && is_hands_on(flow, step);
    !stays_with_holder
}

/// Who answers the step at hand, in a job that is open to the crew and at a step.
pub fn answers(edition: &Edition, state: &State) -> Option<Answers> {
    let (flow, step) = here(edition, state).filter(|_| state.shared)?;
    Some(match &step.act {
        Act::Hold { role, .. } => Answers::Roles(vec![*role]),
        _ if !step.by.is_empty() && is_open_to_its_roles(state, flow, step) => {
            Answers::Roles(step.by.clone())
        }
        _ if !step.by.is_empty() && step.leads.is_some() => Answers::HolderOnlyAs(step.by.clone()),
        _ if !step.by.is_empty() => Answers::HolderAs(step.by.clone()),
        _ if is_open_to_all(state, flow, step) => Answers::Anybody,
        _ => Answers::Holder,
    })
}

/// What the holder and supervisors may do about it.
pub(super) fn offered(state: &State) -> Action {
    match state.shared {
        true => Action::EndSharing,
        false => Action::Share,
    }
}

impl Draft<'_> {
    /// The holder or a supervisor opens the job to the crew.
    pub(super) fn share(&mut self) -> Result<(), Refusal> {
        self.may_share()?;
        if self.state.review == Review::Accepted {
            return Err(not_now("This job is accepted. Nothing is left to do."));
        }
        if !self.state.shared {
            self.push(What::Shared);
        }
        Ok(())
    }

    /// The holder or a supervisor closes it again.
    pub(super) fn end_sharing(&mut self) -> Result<(), Refusal> {
        self.may_share()?;
        if self.state.shared {
            self.push(What::SharingEnded);
        }
        Ok(())
    }

    fn may_share(&self) -> Result<(), Refusal> {
        match self.only_role(Role::Supervisor) {
            Ok(_) => Ok(()),
            Err(_) => self.only_holder().map(drop),
        }
    }
}
