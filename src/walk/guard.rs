//! What must hold before hands go in.

use jiff::Timestamp;

use super::draft::{Draft, source_exists};
use super::refusal::Refusal;
use super::state::{Mode, State};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Danger, Setting, SourceKind, Step};
use crate::flow::name::SourceName;
use crate::record::entry::{VoidReason, What};
use crate::record::person::PersonId;

impl Draft<'_> {
    /// The touched sources, by the root's names, that exist here.
    pub(super) fn touched(&self, step: &Step) -> Vec<SourceName> {
        touched(self.edition, &self.state, step)
    }

    /// The first touched source that is not proved, or lacks `person`'s own lock.
    pub(super) fn unprotected(&self, step: &Step, person: PersonId) -> Option<SourceName> {
        unprotected(self.edition, &self.state, (step, person))
    }

    /// Whether there is nothing to do at this step: every source that it sets or proves is absent
    /// from this evaporator, and on what it takes locks off none hangs.
    pub(super) fn concerns_nothing_here(&self, step: &Step) -> bool {
        let root = |local: &SourceName| self.state.root_source(local);
        let sets = step.sets.iter();
        let mut concerned: Vec<bool> = sets
            .map(|(source, setting)| self.is_to_set(&root(&source.it), *setting))
            .collect();
        if let Act::ProveDead(proof) = &step.act {
            let sources = proof.sources.iter();
            concerned.extend(sources.map(|(source, _)| self.exists(&root(&source.it))));
        }
        !concerned.is_empty() && !concerned.contains(&true)
    }

    /// Whether there is something to set: on a source of this evaporator, or on the way back also
    /// on one that turned out to be absent after its lock was hung.
    fn is_to_set(&self, name: &SourceName, setting: Setting) -> bool {
        let source = self.state.sources.get(name);
        match setting {
            Setting::Unlocked => source.is_some_and(|source| !source.locks.is_empty()),
            Setting::Closed | Setting::Freed => {
                self.exists(name) || source.is_some_and(|source| !source.is_in_service())
            }
            _ => self.exists(name),
        }
    }

    /// Sets what answering `step` sets, and voids the proofs that this ends.
    pub(super) fn set_sources(&mut self, step: &Step) -> Result<(), Refusal> {
        let who = self.who()?;
        for (local, setting) in &step.sets {
            let name = self.state.root_source(&local.it);
            if !self.is_to_set(&name, *setting) {
                continue;
            }
            self.may_set(&name, *setting, who)?;
            self.push(What::SourceSet {
                source: name.clone(),
                setting: *setting,
            });
            self.void_after(&name, *setting);
        }
        Ok(())
    }

    fn may_set(&self, name: &SourceName, setting: Setting, who: PersonId) -> Result<(), Refusal> {
        let Some(source) = self.state.sources.get(name) else {
            return Ok(());
        };
        let label = &source.declared.label;
        match setting {
            Setting::Unlocked if !source.locks.contains(&who) => Err(Refusal::LockRule(format!(
                "{label}: a lock comes off only by the person who hung it, from their own account. \
                 Yours is not on it."
            ))),
            Setting::Unlocked => self.may_unlock(source, who),
            Setting::Closed if !source.locks.is_empty() => Err(Refusal::LockRule(format!(
                "{label}: a lock still hangs on it. It is switched on only when every lock is off."
            ))),
            Setting::Locked if source.setting.is_none() => Err(Refusal::LockRule(format!(
                "{label}: open it first, then lock it."
            ))),
            _ => Ok(()),
        }
    }

    /// Voids the proofs that end when this was set.
    pub(super) fn void_after(&mut self, name: &SourceName, setting: Setting) {
        let reason = match setting {
            Setting::Closed | Setting::Freed | Setting::Opened => VoidReason::Reenergised,
            Setting::Unlocked if !self.state.sources[name].is_isolated() => VoidReason::LockOff,
            Setting::Waited => VoidReason::SteppedBack,
            _ => return,
        };
        let mut ended = vec![name.clone()];
        if setting != Setting::Freed {
            ended.extend(fed_by(&self.state, name));
        }
        self.void(ended, reason);
    }

    /// Voids those of `sources` whose proof holds.
    pub(super) fn void(&mut self, mut sources: Vec<SourceName>, why: VoidReason) {
        sources.retain(|name| {
            self.state
                .sources
                .get(name)
                .is_some_and(|source| source.proof.is_some())
        });
        if !sources.is_empty() {
            self.push(What::ProofVoided { sources, why });
        }
    }

    /// Voids every proof that holds, and what was measured for one that is not whole yet.
    pub(super) fn void_all(&mut self, why: VoidReason) {
        let all = self.state.sources.keys().cloned().collect();
        self.void(all, why);
        self.break_off_test();
    }

    /// The test under way, if one is, begins again from its first part.
    pub(super) fn break_off_test(&mut self) {
        let step = self.state.top().map(|call| call.step.clone());
        if let Some(step) = step.filter(|_| !self.state.doing.proof.is_empty()) {
            self.push(What::Went { step });
        }
    }

    /// After a silence longer than the flow allows, nothing counts as proved, whatever is done
    /// first when somebody comes back; whether it was so long.
    pub(super) fn void_after_silence(&mut self) -> bool {
        let comes_back = self.context.who.is_some() && self.state.is_open();
        let is_stale = comes_back && is_stale(self.edition, &self.state, self.context.now);
        if is_stale {
            self.void_all(VoidReason::LongPause);
        }
        is_stale
    }
}

/// Whether nobody was at the walk, or it was paused, for longer than the flow allows.
fn is_stale(edition: &Edition, state: &State, now: Timestamp) -> bool {
    let limit = edition
        .root_flow()
        .map_or(0, |flow| i64::from(flow.pause_limit_seconds));
    let since = match state.mode {
        Mode::Paused => state.stands_since,
        _ => state.last_work_at,
    };
    now.as_second() - since.as_second() > limit
}

/// What to say where hands would go in on a proof that is too old, or a test that was left for too
/// long would go on.
pub(super) fn out_of_date(
    edition: &Edition,
    state: &State,
    step: &Step,
    now: Timestamp,
) -> Option<&'static str> {
    if !is_stale(edition, state, now) {
        return None;
    }
    if !state.doing.proof.is_empty() {
        return Some("Too much time went by. The test begins again from its first part.");
    }
    let would_touch = !touched(edition, state, step).is_empty();
    would_touch.then_some("Too much time went by. It is proved again before hands go in.")
}

/// The touched sources, by the root's names, that exist here.
fn touched(edition: &Edition, state: &State, step: &Step) -> Vec<SourceName> {
    let Danger::Touches(sources) = &step.danger else {
        return Vec::new();
    };
    let names = sources.iter().map(|source| state.root_source(&source.it));
    names
        .filter(|name| source_exists(edition, state, name))
        .collect()
}

/// The first source touched by a step that is not proved, or lacks a person's own lock.
pub(super) fn unprotected(
    edition: &Edition,
    state: &State,
    (step, person): (&Step, PersonId),
) -> Option<SourceName> {
    let mut touched = touched(edition, state, step).into_iter();
    touched.find(|name| !is_protected(state, name, person))
}

/// Whether a source is proved and carries the person's own lock where it takes one.
pub(super) fn is_protected(state: &State, name: &SourceName, person: PersonId) -> bool {
    state.sources.get(name).is_some_and(|source| {
        let locked = source.declared.kind != SourceKind::Electrical
            || (source.is_isolated() && source.locks.contains(&person));
        source.proof.is_some() && locked
    })
}

/// The sources that `name` feeds, directly or through others.
fn fed_by(state: &State, name: &SourceName) -> Vec<SourceName> {
    let mut fed: Vec<SourceName> = Vec::new();
    let mut next = vec![name.clone()];
    while let Some(feeder) = next.pop() {
        for (other, source) in &state.sources {
            if source.declared.fed_by.as_ref() == Some(&feeder) && !fed.contains(other) {
                fed.push(other.clone());
                next.push(other.clone());
            }
        }
    }
    fed
}
