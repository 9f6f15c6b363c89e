//! Numbers of a crew's work: what each job adds to them, and their sums.
//!
//! A sum forgets which jobs it came from, and still gives back what one of them added: every part
//! of it is a whole number. So a day's sum is kept beside the jobs and never worked out again.

mod csv;
mod of_job;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

pub use csv::csv;

/// What one job that is over adds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobNumbers {
    /// How it ended, in words.
    pub outcome: String,
    /// Whether it was handed in at least once.
    pub handed_in: bool,
    /// Whether it was accepted.
    pub accepted: bool,
    /// How often it was sent back.
    pub sent_back: u32,
    /// What was found, in words: `Failed part: Motor`.
    pub found: Vec<String>,
    /// Seconds of work in each part of the job, by the part's title.
    pub parts: BTreeMap<String, u64>,
    /// Fans that were replaced, with the type of the old motor in words.
    pub replaced: Option<(String, u32)>,
    /// Milliwatts that the fans take less.
    pub saved_milliwatts: i64,
    /// Milliwatts of heat less in the box.
    pub heat_milliwatts: i64,
    /// Watt-hours saved in a year, by estimate.
    pub saved_watt_hours: i64,
}

/// The sum over several jobs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Numbers {
    /// Jobs that are over.
    pub jobs: i64,
    /// Those that were handed in.
    pub handed_in: i64,
    /// Those that were accepted.
    pub accepted: i64,
    /// Those that were accepted and never sent back.
    pub accepted_at_first: i64,
    /// Jobs by how they ended.
    pub outcomes: BTreeMap<String, i64>,
    /// Jobs by what was found.
    pub found: BTreeMap<String, i64>,
    /// Times by the part of the job.
    pub parts: BTreeMap<String, Times>,
    /// Fans replaced, by the type of the old motor.
    pub replaced: BTreeMap<String, i64>,
    /// Milliwatts that the fans take less.
    pub saved_milliwatts: i64,
    /// Milliwatts of heat less in the boxes.
    pub heat_milliwatts: i64,
    /// Watt-hours saved in a year, by estimate.
    pub saved_watt_hours: i64,
}

/// Many lengths of time: how many lie in each step of a scale, four steps to a doubling.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Times(BTreeMap<u16, i64>);

/// Steps of the scale to a doubling.
const STEPS: f64 = 4.0;

impl Times {
    fn count(&mut self, seconds: u64, sign: i64) {
        let step = ((seconds.max(1) as f64).log2() * STEPS).floor() as u16;
        count(&mut self.0, step, sign);
    }

    /// How many there are.
    pub fn len(&self) -> i64 {
        self.0.values().sum()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Half of them are longer than this, in seconds, give or take a tenth; none without any.
    pub fn middle_seconds(&self) -> Option<f64> {
        let half = (self.len() + 1) / 2;
        let mut so_far = 0;
        for (step, times) in &self.0 {
            so_far += times;
            if so_far >= half {
                return Some(((f64::from(*step) + 0.5) / STEPS).exp2());
            }
        }
        None
    }
}

impl Numbers {
    /// Adds a job.
    pub fn add(&mut self, job: &JobNumbers) {
        self.change(job, 1);
    }

    /// Takes back what a job added.
    pub fn take(&mut self, job: &JobNumbers) {
        self.change(job, -1);
    }

    fn change(&mut self, job: &JobNumbers, sign: i64) {
        let counts = |is: bool| if is { sign } else { 0 };
        self.jobs += sign;
        self.handed_in += counts(job.handed_in);
        self.accepted += counts(job.accepted);
        self.accepted_at_first += counts(job.accepted && job.sent_back == 0);
        count(&mut self.outcomes, job.outcome.clone(), sign);
        for found in &job.found {
            count(&mut self.found, found.clone(), sign);
        }
        for (part, seconds) in &job.parts {
            let times = self.parts.entry(part.clone()).or_default();
            times.count(*seconds, sign);
            if times.is_empty() {
                self.parts.remove(part);
            }
        }
        if let Some((old, fans)) = &job.replaced {
            count(&mut self.replaced, old.clone(), sign * i64::from(*fans));
        }
        self.saved_milliwatts += sign * job.saved_milliwatts;
        self.heat_milliwatts += sign * job.heat_milliwatts;
        self.saved_watt_hours += sign * job.saved_watt_hours;
    }

    /// Adds the sum over other jobs.
    pub fn join(&mut self, other: &Numbers) {
        self.jobs += other.jobs;
        self.handed_in += other.handed_in;
        self.accepted += other.accepted;
        self.accepted_at_first += other.accepted_at_first;
        for (mine, theirs) in [
            (&mut self.outcomes, &other.outcomes),
            (&mut self.found, &other.found),
            (&mut self.replaced, &other.replaced),
        ] {
            for (what, number) in theirs {
                count(mine, what.clone(), *number);
            }
        }
        for (part, times) in &other.parts {
            let mine = self.parts.entry(part.clone()).or_default();
            for (step, number) in &times.0 {
                count(&mut mine.0, *step, *number);
            }
        }
        self.saved_milliwatts += other.saved_milliwatts;
        self.heat_milliwatts += other.heat_milliwatts;
        self.saved_watt_hours += other.saved_watt_hours;
    }

    /// Of the accepted jobs, the share that was never sent back, in percent; none without any.
    pub fn accepted_at_first_percent(&self) -> Option<f64> {
        (self.accepted > 0).then(|| 100.0 * self.accepted_at_first as f64 / self.accepted as f64)
    }
}

/// Counts so many more; what comes to nothing is left out.
fn count<K: Ord>(counts: &mut BTreeMap<K, i64>, what: K, more: i64) {
    let entry = counts.entry(what);
    match entry {
        std::collections::btree_map::Entry::Vacant(free) if more != 0 => {
            free.insert(more);
        }
        std::collections::btree_map::Entry::Vacant(_) => {}
        std::collections::btree_map::Entry::Occupied(mut kept) => {
            *kept.get_mut() += more;
            if *kept.get() == 0 {
                kept.remove();
            }
        }
    }
}

#[cfg(test)]
mod tests;
