//! Numbers of the crew's work, for its supervisors: pictures, tables, and a file to keep.

use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use jiff::ToSpan;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::Browser;
use super::form::new_token;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::numbers::{CrewNumbers, Recheck};
use crate::report::chart::{Bar, bars};
use crate::report::numbers::{Numbers, csv};
use crate::trade::quantity::{Kind, Quantity, Unit, plain_number};

/// Without days in the address the last so many are shown.
const DAYS: i64 = 90;

/// Which days.
#[derive(Deserialize)]
pub(super) struct Days {
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
}

impl Days {
    /// The days of the form; the usual ones where a field is empty.
    fn read(&self, today: Date) -> Result<(Date, Date), DeskError> {
        let day = |text: &str, usual: Date| match text.trim() {
            "" => Ok(usual),
            text => text.parse().map_err(|_| {
                DeskError::NotUnderstood(format!(
                    "“{text}” is not a day. Write it like {today}, year first."
                ))
            }),
        };
        let to = day(&self.to, today)?;
        let usual = to.checked_sub((DAYS - 1).days()).unwrap_or(Date::MIN);
        Ok((day(&self.from, usual)?, to))
    }
}

#[derive(Serialize)]
struct Page {
    from: String,
    to: String,
    jobs: i64,
    handed_in: i64,
    accepted: i64,
    at_first: i64,
    /// `75 %`, or that there is none to tell.
    share: String,
    saved: String,
    heat: String,
    energy: String,
    tables: Vec<Table>,
    rechecks: Vec<Look>,
}

/// Numbers of one kind.
#[derive(Serialize)]
struct Table {
    id: &'static str,
    title: &'static str,
    about: &'static str,
    /// The heading of its first and second column.
    head: [&'static str; 2],
    rows: Vec<(String, String)>,
    /// The picture; none where it could not be drawn, and the table says it all.
    chart: Option<String>,
}

/// A look after 24 hours.
#[derive(Serialize)]
struct Look {
    job: String,
    place: String,
    due: Moment,
    overdue: bool,
    when: String,
}

/// The numbers.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Query(days): Query<Days>,
) -> Result<Response, Trouble> {
    let desk = browser.desk();
    let numbers = desk.numbers(&actor, days.read(desk.today())?).await?;
    let page = page(numbers, browser.now());
    let token = new_token(&browser, &session)?;
    let frame = Frame::of("Numbers of your crew", &actor).with_token(&token);
    Ok(render("numbers.html", &frame, &page))
}

/// The numbers as a file for a spreadsheet.
pub(super) async fn file(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Query(days): Query<Days>,
) -> Result<Response, Trouble> {
    let desk = browser.desk();
    let numbers = desk.numbers(&actor, days.read(desk.today())?).await?;
    let CrewNumbers { from, to, sum, .. } = numbers;
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"numbers-{from}-to-{to}.csv\""),
        ),
    ];
    Ok((headers, csv(&sum)).into_response())
}

fn page(numbers: CrewNumbers, now: jiff::Timestamp) -> Page {
    let CrewNumbers {
        from,
        to,
        sum,
        rechecks,
    } = numbers;
    let share = match sum.accepted_at_first_percent() {
        Some(percent) => format!("{} %", plain_number(percent.round())),
        None => "no job is accepted yet".to_owned(),
    };
    Page {
        from: from.to_string(),
        to: to.to_string(),
        jobs: sum.jobs,
        handed_in: sum.handed_in,
        accepted: sum.accepted,
        at_first: sum.accepted_at_first,
        share,
        saved: power(sum.saved_milliwatts, "watt"),
        heat: power(sum.heat_milliwatts, "btu_per_hour"),
        energy: format!(
            "{} kWh",
            plain_number(sum.saved_watt_hours as f64 / 1_000.0)
        ),
        tables: tables(&sum),
        rechecks: rechecks.into_iter().map(|one| look(one, now)).collect(),
    }
}

fn look(recheck: Recheck, now: jiff::Timestamp) -> Look {
    Look {
        job: recheck.job.to_string(),
        place: recheck.evaporator.line(),
        overdue: recheck.due < now,
        due: Moment::of(recheck.due),
        when: recheck.when,
    }
}

/// Milliwatts in a unit of power, to a whole number of it.
fn power(milliwatts: i64, literal: &str) -> String {
    let quantity = Quantity {
        kind: Kind::Power,
        si: milliwatts as f64 / 1_000.0,
    };
    let unit = Unit::of_literal(literal).unwrap_or_else(|| Kind::Power.usual_unit());
    let whole = plain_number(quantity.in_unit(unit).round());
    format!("{whole} {}", unit.symbol)
}

/// Two digits: the middle of many times is not known better.
fn to_a_tenth(minutes: f64) -> f64 {
    match minutes {
        short if short < 10.0 => (short * 10.0).round() / 10.0,
        long => long.round(),
    }
}

fn tables(sum: &Numbers) -> Vec<Table> {
    let counted = |counts: &std::collections::BTreeMap<String, i64>, one: &str, more: &str| {
        let mut rows: Vec<(&String, i64)> = counts.iter().map(|(what, n)| (what, *n)).collect();
        rows.sort_by_key(|(_, number)| std::cmp::Reverse(*number));
        let bar = |(what, number): (&String, i64)| Bar {
            what: what.clone(),
            value: number as f64,
            says: format!("{number} {}", if number == 1 { one } else { more }),
        };
        rows.into_iter().map(bar).collect::<Vec<Bar>>()
    };
    let times = sum.parts.iter().filter_map(|(part, times)| {
        let minutes = times.middle_seconds()? / 60.0;
        Some(Bar {
            what: part.clone(),
            value: minutes,
            says: format!("{} min", plain_number(to_a_tenth(minutes))),
        })
    });
    let mut times: Vec<Bar> = times.collect();
    times.sort_by(|one, other| other.value.total_cmp(&one.value));
    [
        (
            ("outcomes", "How jobs ended", ["Outcome", "Jobs"]),
            "",
            counted(&sum.outcomes, "job", "jobs"),
        ),
        (
            ("found", "What was found", ["Found", "Jobs"]),
            "",
            counted(&sum.found, "job", "jobs"),
        ),
        (
            ("parts", "Time in each part of a job", ["Part", "Time"]),
            "Half of the jobs took longer, half of them less, give or take a tenth. Pauses, stops \
             and the time in review are left out.",
            times,
        ),
        (
            ("replaced", "Fans replaced", ["Old motor", "Fans"]),
            "",
            counted(&sum.replaced, "fan", "fans"),
        ),
    ]
    .into_iter()
    .map(|((id, title, head), about, rows)| Table {
        id,
        title,
        about,
        head,
        chart: bars(title, &rows).ok(),
        rows: rows.into_iter().map(|bar| (bar.what, bar.says)).collect(),
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_the_last_ninety_unless_they_are_given() {
        let today: Date = "2031-05-04".parse().unwrap();
        let read = |from: &str, to: &str| {
            let days = Days {
                from: from.to_owned(),
                to: to.to_owned(),
            };
            days.read(today).map(|(from, to)| format!("{from} {to}"))
        };
        assert_eq!(read("", "").unwrap(), "2031-02-04 2031-05-04");
        assert_eq!(read("2031-01-01", "").unwrap(), "2031-01-01 2031-05-04");
        assert_eq!(read("", "2030-12-31").unwrap(), "2030-10-03 2030-12-31");
        let refusal = read("May", "").unwrap_err().to_string();
        assert_eq!(
            refusal,
            "“May” is not a day. Write it like 2031-05-04, year first."
        );
    }
}
