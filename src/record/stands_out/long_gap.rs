//! A long time without an entry and without a pause.
//!
//! Waits that the flow asks for, steps that wait for somebody else's release, stopped work and a
//! job that is over are no gaps.

use jiff::{SignedDuration, Timestamp};

use super::super::entry::What;
use super::words::{quoted, span};
use super::{Finding, Look, Moment, Rule};
use crate::flow::model::Act;

/// The longest time that does not stand out.
const GAP_MAX: SignedDuration = SignedDuration::from_hours(1);

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let mut at_work = true;
    let mut last: Option<&Moment<'_>> = None;
    let mut until: Option<Timestamp> = None;
    let mut findings = Vec::new();
    for moment in look.moments {
        if moment.entry.who.is_some() {
            if let Some(last) = last.filter(|_| at_work && !waits_for_another(moment)) {
                let from = until.map_or(last.entry.at, |until| until.max(last.entry.at));
                let gap = moment.entry.at.duration_since(from);
                if gap > GAP_MAX {
                    findings.push(finding(last, moment, gap));
                }
            }
            last = Some(moment);
        }
        match &moment.entry.what {
            What::WaitBegan { until: end, .. } => until = Some(*end),
            What::Went { .. } => until = None,
            _ => {}
        }
        at_work = goes_on(&moment.entry.what).unwrap_or(at_work);
    }
    findings
}

/// Whether somebody is at work after this; none where it changes nothing.
fn goes_on(what: &What) -> Option<bool> {
    match what {
        What::Begun { .. }
        | What::Resumed
        | What::StopLifted
        | What::LeaveWithdrawn
        | What::Went { .. }
        | What::HandoverTaken => Some(true),
        What::Paused
        | What::Stopped
        | What::LeaveAsked
        | What::LeftLockedOut { .. }
        | What::HandoverOffered { .. }
        | What::SupervisorCalled
        | What::Emergency
        | What::Finished { .. }
        | What::HandedIn
        | What::SentBack { .. }
        | What::Accepted { .. } => Some(false),
        _ => None,
    }
}

/// Whether the step that this entry ends is one that somebody else has to come for.
fn waits_for_another(moment: &Moment<'_>) -> bool {
    let step = moment.place.as_ref().map(|place| place.step);
    step.is_some_and(|step| matches!(step.act, Act::Hold { .. }) || !step.by.is_empty())
}

fn finding(last: &Moment<'_>, next: &Moment<'_>, gap: SignedDuration) -> Finding {
    let before = match &next.place {
        Some(place) => format!("Before the answer to {}", quoted(&place.asked)),
        None => "Between two entries".to_owned(),
    };
    let sentence = format!(
        "{before} nothing was entered for {}, and the job was not paused.",
        span(gap)
    );
    Finding::new(Rule::LongGap, vec![last.seq, next.seq], sentence)
}
