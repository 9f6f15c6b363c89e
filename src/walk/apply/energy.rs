//! Folding what happens to energy sources, their locks and their proofs.

use jiff::Timestamp;

use super::super::state::{Proof, SourceState, State, Told};
use crate::flow::model::{Setting, SourceKind};
use crate::flow::name::SourceName;
use crate::record::entry::{Entry, What};
use crate::record::person::PersonId;

/// Folds in what happened to a source, its locks or its proof.
pub(super) fn apply(state: &mut State, entry: &Entry) {
    match &entry.what {
        What::SourceSet { source, setting } => {
            if let Some(visit) = state.trail.last_mut() {
                visit.set = true;
            }
            if let Some(source) = state.sources.get_mut(source) {
                set_source(source, *setting, entry);
            }
        }
        What::ProofPart { answer, .. } => {
            state.told.clear();
            state.doing.failure = None;
            state.doing.proof.push(answer.clone());
            state.doing.prover = entry.who;
        }
        What::ProofFailed { why, .. } => {
            state.doing.proof.clear();
            state.doing.prover = None;
            state.doing.failure = Some(why.clone());
            state.told.push(Told::ProofFailed(why.clone()));
        }
        What::Proved { sources, .. } => {
            prove(state, sources, entry);
            state.told.push(Told::Proved(sources.clone()));
        }
        What::ProofVoided { sources, why } => {
            // What is void may be proved again, however the last try ended.
            state.doing.reproof_outcome = None;
            for name in sources {
                if let Some(source) = state.sources.get_mut(name) {
                    source.proof = None;
                    source.void = Some(*why);
                }
            }
            state.told.push(Told::Voided(sources.clone(), *why));
        }
        What::StateConfirmed => state.ask_state = false,
        What::OwnLockOn { source } => {
            if let (Some(source), Some(who)) = (state.sources.get_mut(source), entry.who) {
                source.locks.insert(who);
            }
        }
        What::OwnLockOff { source } => take_lock(state, source, (entry.who, entry.at)),
        What::LockTakenOff { source, owner } => {
            take_lock(state, source, (Some(*owner), entry.at));
        }
        _ => {}
    }
}

fn set_source(source: &mut SourceState, setting: Setting, entry: &Entry) {
    source.setting = Some((setting, entry.at));
    let Some(who) = entry.who else { return };
    match setting {
        Setting::Locked => drop(source.locks.insert(who)),
        Setting::Unlocked => drop(source.locks.remove(&who)),
        Setting::Blocked if source.declared.kind == SourceKind::Motion => {
            source.proof = Some(Proof {
                by: who,
                at: entry.at,
            });
            source.void = None;
        }
        _ => {}
    }
    // While somebody else's lock hangs, the device is still locked.
    if setting == Setting::Unlocked && !source.locks.is_empty() {
        source.setting = Some((Setting::Locked, entry.at));
    }
}

fn prove(state: &mut State, sources: &[SourceName], entry: &Entry) {
    let Some(by) = entry.who else { return };
    for name in sources {
        if let Some(source) = state.sources.get_mut(name) {
            source.proof = Some(Proof { by, at: entry.at });
            source.void = None;
        }
    }
    if let Some(visit) = state.trail.last_mut() {
        visit.proved.extend(sources.iter().cloned());
    }
}

fn take_lock(state: &mut State, source: &SourceName, of: (Option<PersonId>, Timestamp)) {
    let (Some(source), (Some(owner), at)) = (state.sources.get_mut(source), of) else {
        return;
    };
    source.locks.remove(&owner);
    if source.locks.is_empty() && matches!(source.setting, Some((Setting::Locked, _))) {
        source.setting = Some((Setting::Unlocked, at));
    }
}
