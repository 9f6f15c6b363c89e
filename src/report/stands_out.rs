//! A record brought into the form in which its rules look at it: every entry with its screen.

use crate::flow::edition::Edition;
use crate::flow::model::Danger;
use crate::record::entry::{Entry, What};
use crate::record::stands_out::{Finding, Known, Moment, Place, what_stands_out};
use crate::record::stream::Seq;
use crate::walk::{self, State};

/// Everything that stands out in a whole record of a job, from its first entry on.
pub fn findings(edition: &Edition, entries: &[Entry], known: &Known) -> Vec<Finding> {
    what_stands_out(&moments(edition, entries), known)
}

/// Every entry of a whole record, with the step that the walk stood at before it.
pub fn moments<'a>(edition: &'a Edition, entries: &'a [Entry]) -> Vec<Moment<'a>> {
    let mut state: Option<State> = None;
    let mut seq = Seq::NONE;
    let mut moments = Vec::with_capacity(entries.len());
    for entry in entries {
        seq = seq.next();
        moments.push(Moment {
            seq,
            entry,
            place: state
                .as_ref()
                .and_then(|state| place(edition, state, entry)),
        });
        match &mut state {
            Some(state) => walk::apply(state, entry),
            None => state = State::fold([entry]),
        }
    }
    moments
}

fn place<'a>(edition: &'a Edition, state: &State, entry: &Entry) -> Option<Place<'a>> {
    let call = state.top()?;
    let flow = edition.flow(&call.flow)?;
    let step = flow.step(&call.step)?;
    let touches = match &step.danger {
        Danger::Touches(sources) => sources
            .iter()
            .map(|source| state.root_source(&source.it))
            .collect(),
        Danger::HandsOff | Danger::TestsLive { .. } => Vec::new(),
    };
    Some(Place {
        flow,
        instance: call.instance,
        step,
        asked: match &entry.what {
            // A part of a proof asks for itself.
            What::ProofPart { asked, .. } => asked.clone(),
            _ => step.say.fill(&state.facts()),
        },
        touches,
    })
}

#[cfg(test)]
mod tests;
