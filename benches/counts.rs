//! Work whose instructions are counted, not timed: `.ci/counts` runs this under Callgrind.
//!
//! `counts step 3` takes the same engine steps three times: decide, apply, prompt. `counts
//! reading 3` reads the same typed texts three times. What comes before is the same each time, so
//! the difference of two runs is the work alone.
#![allow(
    clippy::unwrap_used,
    reason = "a bench that cannot prepare its input must stop"
)]

#[path = "engine/course.rs"]
mod course;
#[path = "library.rs"]
mod library;
#[path = "steps/rounds.rs"]
mod rounds;

use std::hint::black_box;

use course::Course;
use fanwright::trade::quantity::Kind;
use fanwright::walk::reading::{self, Wanted};

fn main() {
    let mut asked = std::env::args().skip(1);
    // Cargo adds a word of its own when it runs a bench: that counts nothing.
    let (Some(what), Some(times)) = (asked.next(), asked.next()) else {
        return;
    };
    let times: usize = times.parse().unwrap();
    match what.as_str() {
        "step" => steps(times),
        "reading" => readings(times),
        other => eprintln!("Say “step” or “reading”, not “{other}”."),
    }
}

fn steps(times: usize) {
    let course = Course::around();
    for _ in 0..times {
        black_box(course.decided());
        black_box(course.prompted());
    }
}

fn readings(times: usize) {
    let wanted = Wanted::new(Kind::Voltage).plausible(0.0, 700.0);
    for _ in 0..times {
        for text in ["208", "208 V", "208,5 volts", "0.21kV", "1 1/2", "no idea"] {
            black_box(reading::parse(black_box(text), &wanted).ok());
        }
    }
}
