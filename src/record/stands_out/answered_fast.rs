//! Answered faster than the step can be done.
//!
//! A flow may state what a step takes (`takes_at_least`). Where it does not, the crew's accepted
//! jobs tell: a step that nine of ten took longer for is fast at half of that time.

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
        .filter_map(|(given, took)| judge(look, given, took))
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

fn judge(look: &Look<'_>, given: &Given<'_>, took: SignedDuration) -> Option<Fast> {
    let step = given.place.step;
    let asked = quoted(&given.place.asked);
    let said = span(took);
    let seconds = took.as_secs_f64();
    let (least, sentence) = match step.takes_at_least_seconds {
        Some(least) => {
            let least_words = span(SignedDuration::from_secs(i64::from(least)));
            let sentence = format!(
                "{asked} was answered after {said}. A careful person needs at least {least_words}."
            );
            (f64::from(least), sentence)
        }
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

/// Every first answer with the time from its step's coming up. An answer that is given again
/// while walking over known ground is no work.
fn timed<'g, 'a>(
    moments: &[Moment<'_>],
    answers: &'g [Given<'a>],
) -> Vec<(&'g Given<'a>, SignedDuration)> {
    let mut came_up: Option<Timestamp> = None;
    let mut times = Vec::new();
    let mut next = answers.iter().enumerate().peekable();
    for moment in moments {
        if let Some((at, given)) = next.next_if(|(_, given)| given.seq == moment.seq) {
            let again = |before: &Given<'_>| before.same_as(given) && same(before, given);
            let is_again = answers[..at].iter().any(again);
            if let Some(from) = came_up.filter(|_| !is_again) {
                times.push((given, given.at.duration_since(from)));
            }
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
        .map(|(given, took)| {
            let seconds = u32::try_from(took.as_secs().max(0)).unwrap_or(u32::MAX);
            let place = given.place;
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
