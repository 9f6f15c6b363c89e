//! What was measured, and what the process used meanwhile.

use std::path::Path;
use std::time::{Duration, Instant};

use crate::processor::processor;

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
            processor: processor("self").unwrap(),
            begin: Instant::now(),
        }
    }

    /// Adds the time since the beginning.
    pub(crate) fn end(self, figures: &mut Figures) {
        figures.together += self.begin.elapsed();
        let processor = processor("self").unwrap();
        figures.processor += processor.saturating_sub(self.processor);
    }
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
