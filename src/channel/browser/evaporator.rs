//! An evaporator's page: what is known of it, its readings over the jobs, and the jobs.

use axum::extract::{Path, Query, State};
use axum::response::Response;
use serde::{Deserialize, Serialize};

use super::Browser;
use super::address::with_query;
use super::clocks;
use super::form::new_token;
use super::home::JobCard;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::labels::short_code;
use crate::desk::noted::{READINGS_SHOWN, ReadingOfJob, StaysKnown, Trend};
use crate::flow::model::Role;
use crate::report::chart::{Point, trend};
use crate::trade::quantity::Unit;

#[derive(Serialize)]
struct Evaporator {
    line: String,
    added: Moment,
    /// Where it is.
    near: Option<String>,
    /// The short code on its label.
    code: String,
    /// Where its label is printed.
    label: Option<String>,
    recheck: Vec<Known>,
    setting: Vec<Known>,
    nameplate: Vec<Known>,
    /// What was read more than once.
    trends: Vec<Drawn>,
    /// What was read once.
    once: Vec<Drawn>,
    readings_shown: usize,
    jobs: Vec<JobCard>,
    /// All its jobs, to search in.
    all: String,
    next: Option<String>,
    first: Option<String>,
}

#[derive(Serialize)]
struct Known {
    label: String,
    words: String,
    at: Moment,
    job: String,
}

#[derive(Serialize)]
struct Drawn {
    label: String,
    /// A chart as SVG, drawn by this program: its texts are escaped.
    chart: Option<String>,
    readings: Vec<Reading>,
    has_earlier: bool,
}

#[derive(Serialize)]
struct Reading {
    value: String,
    expected: String,
    /// Whether it lay outside what was expected.
    outside: bool,
    at: Moment,
    job: String,
}

/// Where the list of jobs goes on.
#[derive(Deserialize)]
pub(super) struct After {
    after: Option<String>,
}

/// The page.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Path(id): Path<String>,
    Query(After { after }): Query<After>,
) -> Result<Response, Trouble> {
    let id = id.parse().map_err(|_| Trouble::not_found("evaporator"))?;
    let is_first = after.is_none();
    let after = after.map(|text| text.parse()).transpose();
    let after = after.map_err(DeskError::from)?;
    let evaporator = browser.desk().evaporator(&actor, id, after).await?;
    let line = evaporator.label.line();
    let address = format!("/evaporator/{id}");
    let known = |known: Vec<StaysKnown>| known.into_iter().map(Known::of).collect();
    let drawn = evaporator.trends.iter().map(Drawn::of);
    let (trends, once) = drawn.partition(|drawn| drawn.readings.len() > 1);
    let page = Evaporator {
        added: Moment::of(evaporator.added),
        near: evaporator.near.map(|near| near.to_string()),
        recheck: known(evaporator.recheck),
        setting: known(evaporator.setting),
        nameplate: known(evaporator.nameplate),
        trends,
        once,
        readings_shown: READINGS_SHOWN,
        jobs: JobCard::all(evaporator.jobs, &actor),
        all: with_query("/jobs", &[("evaporator", &id.to_string())]),
        next: evaporator
            .next
            .map(|cursor| format!("{address}?after={cursor}#jobs")),
        first: (!is_first).then_some(address),
        line: line.clone(),
        code: short_code(id),
        label: actor
            .is(Role::Supervisor)
            .then(|| with_query("/labels", &[("evaporator", &id.to_string())])),
    };
    let frame = Frame::of(&line, &actor).with_token(&new_token(&browser, &session)?);
    Ok(render("evaporator.html", &frame, &page))
}

impl Known {
    fn of(known: StaysKnown) -> Known {
        Known {
            label: known.label,
            words: known.words,
            at: Moment::of(known.at),
            job: known.job.to_string(),
        }
    }
}

impl Drawn {
    fn of(read: &Trend) -> Drawn {
        let last = read.readings.last();
        // All in the unit that was typed last.
        let unit = last.and_then(|last| unit(&last.reading.unit, last));
        let points: Vec<Point> = read
            .readings
            .iter()
            .filter_map(|it| point(it, unit))
            .collect();
        let symbol = unit.map_or("", |unit| unit.symbol);
        let chart = (points.len() > 1).then(|| trend(&read.label, symbol, &points));
        let chart = chart.and_then(|drawn| {
            let told = |error| tracing::error!(%error, "a trend could not be drawn");
            drawn.map_err(told).ok()
        });
        Drawn {
            label: read.label.clone(),
            chart,
            readings: read.readings.iter().rev().map(Reading::of).collect(),
            has_earlier: read.has_earlier,
        }
    }
}

fn unit(symbol: &str, of: &ReadingOfJob) -> Option<&'static Unit> {
    let mut units = of.reading.value.kind.units();
    units.find(|unit| unit.symbol == symbol)
}

fn point(taken: &ReadingOfJob, unit: Option<&Unit>) -> Option<Point> {
    let value = taken.reading.value;
    Some(Point {
        when: clocks::shown(taken.at, "%m-%d"),
        value: value.in_unit(unit?),
        as_expected: taken.band.map(|band| band.holds(value)),
    })
}

impl Reading {
    fn of(taken: &ReadingOfJob) -> Reading {
        let shown = unit(&taken.reading.unit, taken);
        let shown = shown.unwrap_or_else(|| taken.reading.value.kind.usual_unit());
        Reading {
            value: taken.reading.words(),
            expected: taken.band.map_or(String::new(), |band| {
                format!("{} to {}", band.low.show(shown), band.high.show(shown))
            }),
            outside: taken
                .band
                .is_some_and(|band| !band.holds(taken.reading.value)),
            at: Moment::of(taken.at),
            job: taken.job.to_string(),
        }
    }
}
