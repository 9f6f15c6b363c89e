//! What stands out in a record: things to look at before the job is accepted.
//!
//! A finding says what was recorded and what is usual. It never says why, and never who: there is
//! nearly always a good reason, and the reviewer asks for it. Each names the entries that caused
//! it. Every limit is common practice, no source, unless it says otherwise.

mod all_the_same;
mod answered_fast;
mod answers;
mod changed_after_hand_in;
mod hold_missing;
mod long_gap;
mod out_of_band;
mod photo_before_job;
mod photo_seen_before;
mod proof_long_before;
mod round_numbers;
mod words;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::entry::Entry;
use super::stream::Seq;
use crate::flow::model::{Flow, Step};
use crate::flow::name::{FlowName, SourceName, StepName};

pub use answered_fast::{SAMPLES_MIN, step_times, usual_of};
pub use words::{count, span};

/// Something that stands out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finding {
    /// The rule that found it.
    pub rule: Rule,
    /// What was recorded and what is usual, for people.
    pub sentence: String,
    /// The entries that caused it, in the order of the record.
    pub entries: Vec<Seq>,
}

/// What a record is looked at for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Answered faster than the step can be done.
    AnsweredFast,
    /// A reading outside of what was expected.
    OutOfBand,
    /// Several readings that are the same to the last digit.
    AllTheSame,
    /// Whole numbers from instruments that show decimals.
    RoundNumbers,
    /// A photo that says it was taken before the job began.
    PhotoBeforeJob,
    /// A photo that another job has too.
    PhotoSeenBefore,
    /// Hands went in long after the proof.
    ProofLongBefore,
    /// An answer that changed after the job was handed in.
    ChangedAfterHandIn,
    /// A long time without an entry and without a pause.
    LongGap,
    /// No release by the role that an answer asked for.
    HoldMissing,
}

/// One entry with the place of the walk just before it: what its screen showed.
#[derive(Clone, Debug)]
pub struct Moment<'a> {
    /// Its place in the record.
    pub seq: Seq,
    /// The entry.
    pub entry: &'a Entry,
    /// Where the walk stood; nowhere before its first step.
    pub place: Option<Place<'a>>,
}

/// A step that a walk stood at.
#[derive(Clone, Debug)]
pub struct Place<'a> {
    /// Its flow.
    pub flow: &'a Flow,
    /// Which time the flow was walked in this job, from 1.
    pub instance: u32,
    /// The step.
    pub step: &'a Step,
    /// What the screen asked, filled in.
    pub asked: String,
    /// What hands came near, by the root's names.
    pub touches: Vec<SourceName>,
}

/// What is known besides the record itself.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// How long steps took in the crew's accepted jobs.
    pub usual: BTreeMap<(FlowName, StepName), Usual>,
    /// Photos of this record that another job has too.
    pub seen: Vec<Seen>,
}

/// How long a step took in jobs that were accepted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Usual {
    /// How often it was answered.
    pub samples: usize,
    /// Nine of ten took longer; seconds.
    pub low_seconds: u32,
}

/// A photo that another job has too.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The hash of what was sent with the record at hand.
    pub original: String,
    /// The other job, as people find it.
    pub job: String,
    /// Whether the other file is the same to the last byte, or only looks alike.
    pub same_file: bool,
}

/// One look at one record.
pub(crate) struct Look<'a> {
    moments: &'a [Moment<'a>],
    known: &'a Known,
}

/// What each rule finds, in the order of their names above.
const RULES: &[fn(&Look<'_>) -> Vec<Finding>] = &[
    answered_fast::look,
    out_of_band::look,
    all_the_same::look,
    round_numbers::look,
    photo_before_job::look,
    photo_seen_before::look,
    proof_long_before::look,
    changed_after_hand_in::look,
    long_gap::look,
    hold_missing::look,
];

/// Everything that stands out, in the order in which it happened.
pub fn what_stands_out(moments: &[Moment<'_>], known: &Known) -> Vec<Finding> {
    let look = Look { moments, known };
    let mut findings: Vec<Finding> = RULES.iter().flat_map(|rule| rule(&look)).collect();
    findings.sort_by(|one, other| {
        (one.entries.first(), one.rule).cmp(&(other.entries.first(), other.rule))
    });
    findings
}

impl Finding {
    fn new(rule: Rule, entries: Vec<Seq>, sentence: String) -> Finding {
        Finding {
            rule,
            sentence,
            entries,
        }
    }
}
