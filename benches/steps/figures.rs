//! What was measured, and what the process used meanwhile.

use std::path::Path;
use std::time::{Duration, Instant};

/// Ticks a second in which Linux counts processor time.
const TICKS: f64 = 100.0;

/// Many things done, and how long they took.
#[derive(Default)]
pub(crate) struct Figures {
    /// How long each took.
    pub(crate) took: Vec<Duration>,
    /// How long they took all together, many at once.
    pub(crate) together: Duration,
    /// The time of all processors.
    pub(crate) processor: Duration,
    /// How many bytes went into the files.
    pub(crate) bytes: u64,
}

impl Figures {
    /// How many a second.
    pub(crate) fn a_second(&self) -> f64 {
        self.took.len() as f64 / self.together.as_secs_f64()
    }

    /// The time that this share of them, in percent, stayed under.
    pub(crate) fn at(&self, percent: usize) -> Duration {
        let mut took = self.took.clone();
        let at = (took.len() * percent / 100).min(took.len() - 1);
        *took.select_nth_unstable(at).1
    }

    /// The processor time of each.
    pub(crate) fn processor_each(&self) -> Duration {
        self.processor.div_f64(self.took.len() as f64)
    }

    /// The bytes of each.
    pub(crate) fn bytes_each(&self) -> usize {
        (self.bytes as f64 / self.took.len() as f64).round() as usize
    }
}

/// A stretch of work under way.
pub(crate) struct Stretch {
    begin: Instant,
    processor: Duration,
}

impl Stretch {
    pub(crate) fn begin() -> Stretch {
        Stretch {
            processor: processor(),
            begin: Instant::now(),
        }
    }

    /// Adds the time since the beginning.
    pub(crate) fn end(self, figures: &mut Figures) {
        figures.together += self.begin.elapsed();
        figures.processor += processor().saturating_sub(self.processor);
    }
}

/// The processor time of this process so far, in the program and in the system for it.
fn processor() -> Duration {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    // The name of the program is in brackets and may hold spaces.
    let rest = stat.rsplit(')').next().unwrap();
    let fields: Vec<&str> = rest.split_whitespace().collect();
    let ticks = |at: usize| fields[at].parse::<f64>().unwrap();
    Duration::from_secs_f64((ticks(11) + ticks(12)) / TICKS)
}

/// The memory of this process that is really there, in bytes.
pub(crate) fn resident() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with("VmRSS:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().nth(1));
    kilobytes.unwrap().parse::<u64>().unwrap() * 1024
}

/// The bytes of all files in a folder.
pub(crate) fn bytes_in(folder: &Path) -> u64 {
    let files = std::fs::read_dir(folder).unwrap();
    files
        .map(|file| file.unwrap().metadata().unwrap().len())
        .sum()
}

/// A count with commas between thousands.
pub(crate) fn number(count: f64) -> String {
    let digits = format!("{count:.0}");
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
