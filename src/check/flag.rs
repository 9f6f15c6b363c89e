//! One duty over all paths: a flag that steps set and clear, and that other steps want.

use super::exists;
use super::ground::{Ground, Way};
use super::track::{self, Leaving, Track, Wrong};
use crate::flow::model::{Act, Step};

/// What a step must find the flag to be, and what becomes of it.
pub(super) struct Flag {
    /// What the flag says, for the walk that is shown: when set, and when not.
    pub(super) says: [&'static str; 2],
    /// Whether it is set where a walk begins.
    pub(super) at_first: bool,
    /// The steps that set it.
    pub(super) sets: fn(&Step) -> bool,
    /// The steps that clear it; one that does both leaves it set.
    pub(super) clears: fn(&Step) -> bool,
    /// The steps that must find it so.
    pub(super) wants: fn(&Step) -> Option<bool>,
}

/// The steps that find the flag other than they want it, each with a shortest walk.
pub(super) fn solve(ground: &Ground<'_>, flag: &Flag) -> Vec<Wrong> {
    track::solve(ground, &FlagTrack { ground, flag })
}

struct FlagTrack<'g, 'a> {
    ground: &'g Ground<'a>,
    flag: &'g Flag,
}

impl Track for FlagTrack<'_, '_> {
    type Frame = ();

    fn states(&self) -> usize {
        2
    }

    fn begins(&self) -> Vec<(usize, (), Vec<u8>)> {
        let flows = 0..self.ground.flows.len();
        let begins = flows.filter(|flow| !self.ground.flow(*flow).is_run);
        begins
            .map(|flow| (flow, (), vec![u8::from(self.flag.at_first)]))
            .collect()
    }

    fn enter(&self, (): &(), _at: super::ground::Place, _flow: usize) {}

    fn arrive(&self, (): &(), at: super::ground::Place, state: u8) -> Option<(u8, u8)> {
        let wanted = u8::from((self.flag.wants)(self.ground.step(at))?);
        (state != wanted).then_some((0, wanted))
    }

    fn leave(&self, (): &(), leaving: &Leaving, state: u8) -> Option<u8> {
        let step = self.ground.step(leaving.at);
        if let (Way::Then(branch), Some(outcome)) = (leaving.edge.way, leaving.outcome) {
            let run = self.ground.flow(leaving.at.flow).runs[leaving.at.step]?;
            let (name, _) = self.ground.flow(run).flow.outcomes.get_index(outcome)?;
            if !exists::may_take(step, branch, &[], Some(name.as_str())) {
                return None;
            }
        }
        if matches!(step.act, Act::Run(_)) {
            return Some(state);
        }
        Some(if (self.flag.sets)(step) {
            1
        } else if (self.flag.clears)(step) {
            0
        } else {
            state
        })
    }

    fn deals_with(&self, (): &(), at: super::ground::Place) -> bool {
        let step = self.ground.step(at);
        (self.flag.sets)(step) || (self.flag.clears)(step)
    }

    fn describe(&self, state: u8) -> String {
        let [when_set, when_not] = self.flag.says;
        let says = if state == 1 { when_set } else { when_not };
        says.to_owned()
    }
}

/// Whether a step is marked with a duty.
pub(super) fn does(step: &Step, duty: crate::flow::model::Duty) -> bool {
    step.duty.as_ref().is_some_and(|it| it.it == duty)
}

/// Whether a step sets any source so.
pub(super) fn sets(step: &Step, wanted: crate::flow::model::Setting) -> bool {
    step.sets.iter().any(|(_, setting)| *setting == wanted)
}
