//! Energy sources over all paths: each as a track of its own.

mod ladder;
mod source;

use std::collections::HashSet;

use super::ground::{Ground, Place};
use super::track::{self, Wrong};
use crate::flow::name::SourceName;
pub(super) use ladder::Fault;
use source::SourceTrack;

/// One thing wrong with an energy source on some path.
pub(super) struct Danger {
    /// The step.
    pub(super) at: Place,
    /// What is wrong there.
    pub(super) fault: Fault,
    /// The source by the name of the flow that begins the walk.
    pub(super) source: SourceName,
    /// What people call it.
    pub(super) label: String,
    /// Its state there, in words.
    pub(super) state: &'static str,
    /// A shortest walk to it.
    pub(super) walk: Vec<super::finding::Stop>,
}

/// Everything that is wrong with any energy source on any path.
pub(super) fn dangers(ground: &Ground<'_>) -> Vec<Danger> {
    let mut dangers: Vec<Danger> = Vec::new();
    let mut told = HashSet::new();
    for root in source::begins(ground) {
        for name in ground.flow(root).flow.energy.keys() {
            let Some(track) = SourceTrack::new(ground, root, name) else {
                continue;
            };
            for wrong in track::solve(ground, &track) {
                let danger = danger(&track, wrong);
                if told.insert((danger.at, danger.fault.number(), danger.source.clone())) {
                    dangers.push(danger);
                }
            }
        }
    }
    dangers
}

fn danger(track: &SourceTrack<'_, '_>, wrong: Wrong) -> Danger {
    let name = track.name();
    Danger {
        at: wrong.at,
        fault: Fault::numbered(wrong.what),
        source: name.clone(),
        label: track.source().label.clone(),
        state: ladder::words(track.source().kind, wrong.state),
        walk: wrong.walk,
    }
}
