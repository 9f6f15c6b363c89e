//! The numbers as a table for a spreadsheet: CSV as RFC 4180 has it.

use super::Numbers;
use crate::report::readings::{guarded, row};

/// All numbers, one a line, each with its unit.
pub fn csv(numbers: &Numbers) -> String {
    let mut text = row(["about", "what", "number", "unit"].map(str::to_owned));
    let mut line = |about: &str, what: &str, number: String, unit: &str| {
        text += &row([guarded(about), guarded(what), number, unit.to_owned()]);
    };
    let jobs = |number: i64| number.to_string();
    line("Jobs", "over", jobs(numbers.jobs), "jobs");
    line("Jobs", "handed in", jobs(numbers.handed_in), "jobs");
    line("Jobs", "accepted", jobs(numbers.accepted), "jobs");
    line(
        "Jobs",
        "accepted, never sent back",
        jobs(numbers.accepted_at_first),
        "jobs",
    );
    for (what, number) in &numbers.outcomes {
        line("How jobs ended", what, jobs(*number), "jobs");
    }
    for (what, number) in &numbers.found {
        line("What was found", what, jobs(*number), "jobs");
    }
    for (part, times) in &numbers.parts {
        let middle = times.middle_seconds().unwrap_or_default();
        line(
            "Time, half of the jobs took longer",
            part,
            format!("{:.1}", middle / 60.0),
            "min",
        );
    }
    for (old, fans) in &numbers.replaced {
        line("Fans replaced, by the old motor", old, jobs(*fans), "fans");
    }
    let thousands = |number: i64| format!("{:.1}", number as f64 / 1_000.0);
    line(
        "Gain",
        "power saved",
        thousands(numbers.saved_milliwatts),
        "W",
    );
    line(
        "Gain",
        "heat less in the boxes",
        thousands(numbers.heat_milliwatts),
        "W",
    );
    line(
        "Gain",
        "energy saved a year, by estimate",
        thousands(numbers.saved_watt_hours),
        "kWh",
    );
    text
}
