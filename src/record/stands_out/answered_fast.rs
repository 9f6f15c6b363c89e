//! Answered faster than the step can be done.
//!
//! A flow may state what a step takes (`takes_at_least`). Where it does not, the crew's accepted
//! jobs tell: a step that nine of ten took longer for is fast at half of that time. Steps that were
//! shown as one list are done before the first is answered: what their flow states is added up
//! from the moment at which the list came up, and what is usual says nothing about them.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};

use super::super::entry::{Answer, What};
use super::super::stream::Seq;
use super::answers::Given;
use super::words::{quoted, span};
use super::{Finding, Look, Moment, Rule, Usual};
use crate::flow::name::{FlowName, StepName};

/// So many accepted answers to a step say what is usual.
pub const SAMPLES_MIN: usize = 20;

/// A step that usually takes less than this is too short to say anything about.
const LOW_SECONDS_MIN: u32 = 10;

/// More than so many are told as one.
const APART_MAX: usize = 3;

/// One answer that was fast.
struct Fast {
    seq: Seq,
    sentence: String,
    /// Its share of what it takes.
    share: f64,
}

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let fast: Vec<Fast> = timed(look.moments, &look.answers())
        .into_iter()
        .filter_map(|timed| judge(look, &timed))
        .collect();
    if fast.len() <= APART_MAX {
        let one = |fast: Fast| Finding::new(Rule::AnsweredFast, vec![fast.seq], fast.sentence);
        return fast.into_iter().map(one).collect();
    }
    let least = fast
        .iter()
        .min_by(|one, other| one.share.total_cmp(&other.share));
    let example = least.map(|fast| fast.sentence.as_str()).unwrap_or_default();
    let sentence = format!(
        "{} steps were answered faster than they can be done. The fastest: {example}",
        fast.len()
    );
    let entries = fast.iter().map(|fast| fast.seq).collect();
    vec![Finding::new(Rule::AnsweredFast, entries, sentence)]
}

fn judge(look: &Look<'_>, timed: &Timed<'_, '_>) -> Option<Fast> {
    let (given, took) = (timed.given, timed.took);
    let step = given.place.step;
    let asked = quoted(&given.place.asked);
    let said = span(took);
    let seconds = took.as_secs_f64();
    let (least, sentence) = match step.takes_at_least_seconds {
        Some(least) => {
            let least = least.saturating_add(timed.listed_seconds.unwrap_or_default());
            let least_words = span(SignedDuration::from_secs(i64::from(least)));
            let sentence = format!(
                "{asked} was answered after {said}. A careful person needs at least {least_words}."
            );
            (f64::from(least), sentence)
        }
        None if timed.listed_seconds.is_some() => return None,
        None => {
            let key = (given.place.flow.name.clone(), step.name.clone());
            let usual = look.known.usual.get(&key)?;
            if usual.samples < SAMPLES_MIN || usual.low_seconds < LOW_SECONDS_MIN {
                return None;
            }
            let low = span(SignedDuration::from_secs(i64::from(usual.low_seconds)));
            let sentence = format!(
                "{asked} was answered after {said}. In the crew's accepted jobs nine of ten took \
                 {low} or longer."
            );
            (f64::from(usual.low_seconds) / 2.0, sentence)
        }
    };
    (seconds < least).then(|| Fast {
        seq: given.seq,
        sentence,
        share: seconds / least,
    })
}

/// An answer with the time that it took.
struct Timed<'g, 'a> {
    given: &'g Given<'a>,
    took: SignedDuration,
    /// On a list: what the steps before it on that list take.
    listed_seconds: Option<u32>,
}

/// A list of steps: when it came up, which are left, and what those before them take.
struct Listed<'m> {
    came_up: Timestamp,
    steps: &'m [StepName],
    seconds: u32,
}

/// Every first answer with the time from its step's coming up. An answer that is given again
/// while walking over known ground is no work.
fn timed<'g, 'a>(moments: &[Moment<'_>], answers: &'g [Given<'a>]) -> Vec<Timed<'g, 'a>> {
    let mut came_up: Option<Timestamp> = None;
    let mut list: Option<Listed<'_>> = None;
    let mut times = Vec::new();
    let mut next = answers.iter().enumerate().peekable();
    for moment in moments {
        if let Some((at, given)) = next.next_if(|(_, given)| given.seq == moment.seq) {
            let again = |before: &Given<'_>| before.same_as(given) && same(before, given);
            let is_again = answers[..at].iter().any(again);
            let step = given.place.step;
            list = list.take().filter(|list| list.steps.contains(&step.name));
            let from = list.as_ref().map(|list| list.came_up).or(came_up);
            if let Some(from) = from.filter(|_| !is_again) {
                times.push(Timed {
                    given,
                    took: given.at.duration_since(from),
                    listed_seconds: list.as_ref().map(|list| list.seconds),
                });
            }
            if let Some(list) = &mut list {
                let least = step.takes_at_least_seconds.unwrap_or_default();
                list.seconds = list.seconds.saturating_add(least);
            }
        }
        if let (What::AskedTogether { steps }, Some(came_up)) = (&moment.entry.what, came_up) {
            list = Some(Listed {
                came_up,
                steps,
                seconds: 0,
            });
        }
        if let What::Went { .. } | What::WentBack { .. } = moment.entry.what {
            came_up = Some(moment.entry.at);
        }
    }
    times
}

fn same(one: &Given<'_>, other: &Given<'_>) -> bool {
    matches!((one.answer, other.answer), (Answer::Done, Answer::Done)) || one.answer == other.answer
}

/// How long each step of a record took, in seconds: what an accepted job teaches.
pub fn step_times(moments: &[Moment<'_>]) -> Vec<(FlowName, StepName, u32)> {
    let known = super::Known::default();
    let look = Look {
        moments,
        known: &known,
    };
    timed(moments, &look.answers())
        .into_iter()
        .filter(|timed| timed.listed_seconds.is_none())
        .map(|timed| {
            let seconds = u32::try_from(timed.took.as_secs().max(0)).unwrap_or(u32::MAX);
            let place = timed.given.place;
            (place.flow.name.clone(), place.step.name.clone(), seconds)
        })
        .collect()
}

/// What is usual by the times of accepted jobs: the tenth part lies at or below it.
pub fn usual_of(
    flow: &FlowName,
    times: &BTreeMap<StepName, Vec<u32>>,
) -> BTreeMap<(FlowName, StepName), Usual> {
    let usual = |(step, seconds): (&StepName, &Vec<u32>)| {
        let mut sorted = seconds.clone();
        sorted.sort_unstable();
        let low_seconds = *sorted.get(sorted.len() / 10)?;
        let usual = Usual {
            samples: sorted.len(),
            low_seconds,
        };
        Some(((flow.clone(), step.clone()), usual))
    };
    times.iter().filter_map(usual).collect()
}
