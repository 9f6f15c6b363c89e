//! Group lockout: everybody's own lock, and the primary person, after 29 CFR 1910.147(f)(3).
//!
//! The primary person is the one in whose hands the job is. Whoever works beside them hangs a lock
//! of their own on what is locked already, and takes it off by their own hand. The primary
//! person's lock goes on first and comes off last, so that they know who is still under lock:
//! (f)(3)(ii)(A), (B) and (D).

use super::draft::Draft;
use super::prompt::{Action, Note, Prompt, Tone};
use super::refusal::Refusal;
use super::show::Screen;
use super::state::{SourceState, State};
use super::way_back;
use crate::flow::edition::Edition;
use crate::flow::model::{Setting, SourceKind};
use crate::flow::name::SourceName;
use crate::record::entry::What;
use crate::record::person::PersonId;

/// The sources on which this person may hang a lock beside the primary person's.
fn lockable(state: &State, who: PersonId) -> Vec<SourceName> {
    let takes_it = |source: &SourceState| {
        source.declared.kind == SourceKind::Electrical
            && matches!(source.setting, Some((Setting::Locked, _)))
            && source.locks.contains(&state.holder)
            && !source.locks.contains(&who)
    };
    let all = state.sources.iter();
    let taking = all.filter(|(_, source)| takes_it(source));
    taking.map(|(name, _)| name.clone()).collect()
}

/// How many other people have a lock on some source.
fn others(state: &State, who: PersonId) -> usize {
    let locks = state.sources.values().flat_map(|source| &source.locks);
    let others: std::collections::BTreeSet<_> = locks.filter(|owner| **owner != who).collect();
    others.len()
}

/// The locks of this person that they may take off now: where the primary person's hangs beside,
/// or where locks come off anyway from here on.
pub(super) fn may_come_off(edition: &Edition, state: &State, who: PersonId) -> Vec<SourceName> {
    let theirs = |(_, source): &(&SourceName, &SourceState)| source.locks.contains(&who);
    let mut own = state.sources.iter().filter(theirs).peekable();
    // On nearly every screen there is none, and nothing to look for further on.
    if who == state.holder || own.peek().is_none() {
        return Vec::new();
    }
    let on_the_way = way_back::unlocked_from_here(edition, state);
    let comes_off = |(name, source): &(&SourceName, &SourceState)| {
        source.locks.contains(&state.holder) || on_the_way.contains(name)
    };
    own.filter(comes_off)
        .map(|(name, _)| name.clone())
        .collect()
}

impl Draft<'_> {
    /// Somebody who works beside the primary person hangs their own lock.
    pub(super) fn hang_own_lock(&mut self) -> Result<(), Refusal> {
        let who = self.who()?;
        let rule = |sentence: &str| Err(Refusal::LockRule(sentence.to_owned()));
        if who == self.state.holder {
            return rule("This job is in your hands. Your lock goes on in its own step.");
        }
        let sources = lockable(&self.state, who);
        if sources.is_empty() || !self.state.is_open() {
            return rule("Nothing is locked here that your lock could go on beside another.");
        }
        for source in sources {
            self.push(What::OwnLockOn { source });
        }
        Ok(())
    }

    /// The primary person's lock comes off last.
    pub(super) fn may_unlock(&self, source: &SourceState, who: PersonId) -> Result<(), Refusal> {
        let others = source.locks.iter().filter(|owner| **owner != who).count();
        if others == 0 {
            return Ok(());
        }
        let hang = match others {
            1 => "1 other lock still hangs".to_owned(),
            many => format!("{many} other locks still hang"),
        };
        Err(Refusal::LockRule(format!(
            "{}: {hang} on it. Everybody takes off their own; yours, as the primary person's, \
             comes off last.",
            source.declared.label
        )))
    }
}

/// Who is under lock, and what this viewer may do about a lock of their own.
pub(super) fn tell(screen: &Screen<'_>, prompt: &mut Prompt) {
    let (state, who) = (screen.state, screen.viewer.who);
    if !screen.is_holder() && state.is_open() && !lockable(state, who).is_empty() {
        let at = prompt
            .actions
            .iter()
            .position(|it| *it == Action::CallSupervisor);
        let at = at.unwrap_or(prompt.actions.len());
        prompt.actions.insert(at, Action::HangOwnLock);
    }
    let own = state
        .sources
        .values()
        .any(|source| source.locks.contains(&who));
    let others = others(state, who);
    // Only where it matters: on every screen nobody would read it.
    let at_hand = match screen.is_holder() && others > 0 {
        true => way_back::unlocked_here(screen.edition, state),
        false => Vec::new(),
    };
    let holder_has_one = |name: &SourceName| {
        let source = state.sources.get(name);
        source.is_some_and(|source| source.locks.contains(&who))
    };
    let text = match screen.is_holder() {
        true if !at_hand.is_empty() => {
            let hang = match others {
                1 => "1 other person has a lock here".to_owned(),
                many => format!("{many} other people have locks here"),
            };
            match at_hand.iter().any(holder_has_one) {
                true => format!("{hang}. You are the primary person: your lock comes off last."),
                false => format!(
                    "{hang}, and none here is yours. Each takes off their own, from their own \
                     account. Then this step is done."
                ),
            }
        }
        false if own => {
            "Your lock hangs here. It comes off by your own hand, once you are clear.".to_owned()
        }
        _ => return,
    };
    let tone = Tone::Warning;
    prompt.notes.push(Note { tone, text });
}
