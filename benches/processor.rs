//! The processor time of a process, as Linux tells it.

use std::time::Duration;

/// Ticks a second in which Linux counts processor time.
const TICKS: f64 = 100.0;

/// The time so far, in the program and in the system for it: fields 14 and 15 of proc(5). The
/// process is a number, or `self`.
pub(crate) fn processor(process: &str) -> Option<Duration> {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    // The name of the program is in brackets and may hold spaces.
    let rest = stat.rsplit(')').next()?;
    let fields = rest.split_whitespace().skip(11).take(2);
    let ticks: f64 = fields.filter_map(|field| field.parse::<f64>().ok()).sum();
    Some(Duration::from_secs_f64(ticks / TICKS))
}
