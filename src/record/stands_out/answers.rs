//! The answers of a record, each with the place where it was given.

use jiff::Timestamp;

use super::super::entry::{Answer, Band, TypedReading, What};
use super::super::stream::Seq;
use super::{Look, Place};
use crate::flow::model::{Act, Measure};
use crate::flow::name::FactName;

/// One answer to one step.
pub(super) struct Given<'a> {
    pub(super) seq: Seq,
    pub(super) at: Timestamp,
    pub(super) place: &'a Place<'a>,
    pub(super) answer: &'a Answer,
    pub(super) fact: Option<&'a FactName>,
    pub(super) amends: bool,
    pub(super) band: Option<Band>,
}

impl<'a> Look<'a> {
    /// Every answer, in order.
    pub(super) fn answers(&self) -> Vec<Given<'a>> {
        let given = |moment: &'a super::Moment<'a>| {
            let What::Answered {
                answer,
                fact,
                amends,
                band,
                ..
            } = &moment.entry.what
            else {
                return None;
            };
            Some(Given {
                seq: moment.seq,
                at: moment.entry.at,
                place: moment.place.as_ref()?,
                answer,
                fact: fact.as_ref(),
                amends: *amends,
                band: *band,
            })
        };
        self.moments.iter().filter_map(given).collect()
    }

    /// The answers that stand: of every question the last one.
    pub(super) fn standing(&self) -> Vec<Given<'a>> {
        let all = self.answers();
        let last = |at: usize, given: &Given<'a>| {
            all.iter().skip(at + 1).all(|later| !later.same_as(given))
        };
        let stands: Vec<bool> = all
            .iter()
            .enumerate()
            .map(|(at, given)| last(at, given))
            .collect();
        let mut stands = stands.into_iter();
        let mut all = all;
        all.retain(|_| stands.next().unwrap_or(false));
        all
    }
}

impl<'a> Given<'a> {
    /// Whether the other is an answer to the same question in the same walk.
    pub(super) fn same_as(&self, other: &Given<'_>) -> bool {
        self.place.flow.name == other.place.flow.name
            && self.place.instance == other.place.instance
            && match (self.fact, other.fact) {
                (Some(one), Some(other)) => one == other,
                (None, None) => self.place.step.name == other.place.step.name,
                _ => false,
            }
    }

    /// What was read, if this was read off something that measures: not a plate, not a sheet.
    pub(super) fn measured(&self) -> Option<(&'a TypedReading, &'a Measure)> {
        let (Answer::Reading { reading }, Act::Measure(measure)) =
            (self.answer, &self.place.step.act)
        else {
            return None;
        };
        let instrument = measure.instrument.as_ref()?.to_lowercase();
        let is_written = WRITTEN.iter().any(|word| instrument.contains(word));
        (!is_written).then_some((reading, measure))
    }
}

/// What is read off paper, a plate or a scale of its own is as round as it is printed.
const WRITTEN: [&str; 5] = ["plate", "sheet", "label", "setting", "table"];
