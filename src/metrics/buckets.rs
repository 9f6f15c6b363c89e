//! Where the counts of times are divided, in seconds: close together around what is promised.

/// Work in memory: tens of microseconds, unless something is wrong.
pub(super) const MEMORY: [f64; 11] = [
    0.000_01, 0.000_025, 0.000_05, 0.000_1, 0.000_25, 0.000_5, 0.001, 0.002_5, 0.01, 0.05, 0.25,
];

/// One wait for a disk: a fraction of a millisecond on a good one, tens on a spinning one.
pub(super) const DISK: [f64; 11] = [
    0.000_1, 0.000_25, 0.000_5, 0.001, 0.002_5, 0.005, 0.01, 0.025, 0.1, 0.5, 2.0,
];

/// What a person waits for.
pub(super) const PERSON: [f64; 11] = [
    0.001, 0.002_5, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1.0, 2.5, 10.0,
];

/// What waits for its turn in a chat, whose platform takes one message a second.
pub(super) const TURN: [f64; 11] = [
    0.005, 0.025, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 15.0, 60.0, 300.0,
];
