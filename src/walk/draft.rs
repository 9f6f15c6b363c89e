//! Entries in the making, folded into a working copy as they come.

use super::apply::apply;
use super::context::Context;
use super::refusal::Refusal;
use super::state::{Call, State};
use crate::flow::edition::Edition;
use crate::flow::expression::{Expression, Missing};
use crate::flow::model::{Flow, Step};
use crate::flow::name::SourceName;
use crate::record::entry::{ENTRY_FORMAT, Entry, What};
use crate::record::person::PersonId;

/// What one input leads to, so far.
pub(super) struct Draft<'a> {
    pub(super) edition: &'a Edition,
    pub(super) context: &'a Context<'a>,
    pub(super) state: State,
    pub(super) entries: Vec<Entry>,
    /// Only to see where the walk would go: no proof is asked for on the way.
    pub(super) looks_ahead: bool,
}

impl<'a> Draft<'a> {
    pub(super) fn new(edition: &'a Edition, state: &State, context: &'a Context<'a>) -> Self {
        Self {
            edition,
            context,
            state: state.clone(),
            entries: Vec::new(),
            looks_ahead: false,
        }
    }

    /// Adds an entry of the person who acts.
    pub(super) fn push(&mut self, what: What) {
        let entry = Entry {
            v: ENTRY_FORMAT,
            // Clocks may go back; the times of a record never do.
            at: self.context.now.max(self.state.last_at),
            who: self.context.who,
            channel: self.context.channel,
            what,
        };
        apply(&mut self.state, &entry);
        self.entries.push(entry);
    }

    /// The person who acts; time itself answers nothing.
    pub(super) fn who(&self) -> Result<PersonId, Refusal> {
        self.context
            .who
            .ok_or_else(|| Refusal::NotNow("Only a person can do this.".to_owned()))
    }

    /// The flow on top with the step at hand.
    pub(super) fn here(&self) -> Result<(&'a Flow, &'a Step), Refusal> {
        here(self.edition, &self.state).ok_or_else(lost)
    }

    pub(super) fn top(&self) -> Result<&Call, Refusal> {
        self.state.top().ok_or_else(lost)
    }

    /// Whether a source of the flow on top is on this evaporator. Where the answer is not known
    /// it counts as there: an unknown source is no absent one.
    pub(super) fn exists(&self, root_name: &SourceName) -> bool {
        source_exists(self.edition, &self.state, root_name)
    }

    /// A condition over the facts at hand.
    pub(super) fn holds(&self, condition: &Expression) -> Result<bool, Refusal> {
        condition
            .holds(&self.state.facts())
            .map_err(|missing| self.unknown(missing))
    }

    /// Why an expression has no value, with the word that the checklist uses.
    pub(super) fn unknown(&self, missing: Missing) -> Refusal {
        match missing {
            Missing::Fact(name) => {
                let fact = self.here().ok().and_then(|(flow, _)| flow.facts.get(&name));
                Refusal::Unknown {
                    fact: fact.map_or_else(|| name.to_string(), |fact| fact.label.clone()),
                }
            }
            other => Refusal::NotNow(other.to_string()),
        }
    }
}

/// The flow on top with the step at hand.
pub fn here<'e>(edition: &'e Edition, state: &State) -> Option<(&'e Flow, &'e Step)> {
    let call = state.top()?;
    let flow = edition.flow(&call.flow)?;
    Some((flow, flow.step(&call.step)?))
}

/// Whether a source is on this evaporator, by the root flow's `exists_when`.
pub(super) fn source_exists(edition: &Edition, state: &State, name: &SourceName) -> bool {
    let Some(source) = edition.root_flow().and_then(|flow| flow.energy.get(name)) else {
        return false;
    };
    let condition = source.exists_when.as_ref();
    condition.is_none_or(|condition| condition.holds(&state.root_facts()).unwrap_or(true))
}

/// A record that its own edition cannot follow: only a damaged one can be so.
fn lost() -> Refusal {
    Refusal::NotNow(
        "This job's record does not fit its flow. Nothing was changed. Tell your supervisor."
            .to_owned(),
    )
}
