//! What is known of an evaporator, as lines of text: by the record, with the day of each.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::desk::noted::{ReadingOfJob, StaysKnown, Trend};
use crate::desk::screen::{EvaporatorPage, JobLine, Phase};
use crate::trade::quantity::Unit;

/// So many jobs are told of.
pub const JOBS_TOLD: usize = 5;

/// So many readings are told of.
const TRENDS_TOLD: usize = 8;

/// One part of what is known, under its title.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// What it is about.
    pub title: &'static str,
    /// Line by line.
    pub lines: Vec<String>,
}

/// Everything that is known, part by part; parts with nothing in them are left out. Days are
/// those of `zone`.
pub fn parts(page: &EvaporatorPage, zone: &TimeZone) -> Vec<Part> {
    let stays = |known: &[StaysKnown]| known.iter().map(|it| stays(it, zone)).collect();
    let jobs = page.jobs.iter().take(JOBS_TOLD);
    let near = page.near.map(|near| format!("{near}, within about 100 m"));
    let parts = [
        Part {
            title: "Where it is",
            lines: near.into_iter().collect(),
        },
        Part {
            title: "To be looked at again",
            lines: stays(&page.recheck),
        },
        Part {
            title: "Last recorded setting",
            lines: stays(&page.setting),
        },
        Part {
            title: "Readings over the jobs",
            lines: trends(&page.trends, zone),
        },
        Part {
            title: "Last jobs",
            lines: jobs.map(|line| job(line, zone)).collect(),
        },
    ];
    let told = parts.into_iter().filter(|part| !part.lines.is_empty());
    told.collect()
}

/// `2031-05-04` by the clocks of a zone.
pub fn day(at: Timestamp, zone: &TimeZone) -> String {
    let at = at.to_zoned_datetime(zone.clone());
    at.strftime("%Y-%m-%d").to_string()
}

fn stays(known: &StaysKnown, zone: &TimeZone) -> String {
    let on = day(known.at, zone);
    format!("{}: {} ({on})", known.label, known.words)
}

/// A job in one line: when it began, what it was, how it ended or how far it is, in whose hands.
fn job(line: &JobLine, zone: &TimeZone) -> String {
    let training = if line.training { "TRAINING · " } else { "" };
    let end = match (&line.outcome, line.phase) {
        (Some(outcome), Phase::Accepted) => format!("{outcome}, accepted"),
        (Some(outcome), _) => outcome.clone(),
        (None, phase) => phase.words().to_owned(),
    };
    let (on, title, who) = (day(line.began, zone), &line.title, &line.holder.name);
    format!("{on} · {training}{title}: {end} · {who}")
}

fn trends(all: &[Trend], zone: &TimeZone) -> Vec<String> {
    let told = all.iter().filter(|trend| trend.readings.len() > 1);
    let mut lines: Vec<String> = told.filter_map(|trend| in_words(trend, zone)).collect();
    if lines.len() > TRENDS_TOLD {
        let more = lines.len() - TRENDS_TOLD;
        lines.truncate(TRENDS_TOLD);
        lines.push(format!("{more} more are on the evaporator’s page."));
    }
    lines
}

/// `Fan current: rose from 0.95 A (2031-05-04) to 1.32 A (2031-06-03), 3 readings. The last is
/// outside 0.5 A to 1.2 A.`
pub fn in_words(trend: &Trend, zone: &TimeZone) -> Option<String> {
    let (first, last) = (trend.readings.first()?, trend.readings.last()?);
    let (from, to) = (first.reading.value.si, last.reading.value.si);
    let went = match from.total_cmp(&to) {
        std::cmp::Ordering::Less => "rose",
        std::cmp::Ordering::Equal => "is as it was,",
        std::cmp::Ordering::Greater => "fell",
    };
    let at = |taken: &ReadingOfJob| format!("{} ({})", taken.reading.words(), day(taken.at, zone));
    let count = match (trend.has_earlier, trend.readings.len()) {
        (true, many) => format!("the last {many} readings"),
        (false, many) => format!("{many} readings"),
    };
    let outside = outside(last).map(|band| format!(" The last is outside {band}."));
    Some(format!(
        "{}: {went} from {} to {}, {count}.{}",
        trend.label,
        at(first),
        at(last),
        outside.unwrap_or_default()
    ))
}

/// Where a reading was expected, if it lay elsewhere.
fn outside(taken: &ReadingOfJob) -> Option<String> {
    let value = taken.reading.value;
    let band = taken.band.filter(|band| !band.holds(value))?;
    let mut units = value.kind.units();
    let shown: &Unit = units
        .find(|unit| unit.symbol == taken.reading.unit)
        .unwrap_or_else(|| value.kind.usual_unit());
    Some(format!(
        "{} to {}",
        band.low.show(shown),
        band.high.show(shown)
    ))
}
