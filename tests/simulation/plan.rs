//! What happens in a run: a list that follows from the seed, and from which a failure can drop
//! what it does not need.

use crate::walk::Dice;

use super::disk::Trouble;

/// So many people are in the crew.
pub(super) const PEOPLE: usize = 5;

/// One thing that happens.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Event {
    /// So long after the one before, in milliseconds.
    pub(super) after: u64,
    /// What.
    pub(super) what: Happens,
    /// What is left to chance in it.
    pub(super) seed: u64,
}

/// What can happen.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Happens {
    /// Somebody begins a job.
    Begins { person: usize },
    /// Whoever holds a job does something; perhaps it comes twice.
    HolderActs,
    /// Anybody does something to any job.
    Acts { person: usize },
    /// Something that came before comes again.
    Again,
    /// The time of day is set.
    ClockJumps { seconds: i64 },
    /// The process is killed at the so-manieth place where it waits.
    Dies { after: u64 },
    /// The power fails there.
    PowerFails { after: u64 },
    /// Something goes wrong with the so-manieth change of the disk.
    Disk { after: u64, trouble: Trouble },
    /// The server is stopped in order and started again.
    Restarts,
    /// Somebody starts a second server on the same folder.
    Another,
    /// Nothing that is sent arrives for so long, or nobody learns that it did.
    Offline { seconds: u64 },
    /// The disk takes so long for everything, in milliseconds, for the next so many rounds.
    Slow { millis: u64, rounds: u64 },
}

/// Where the people of a run do what they do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Front {
    /// At the desk itself, as a channel would.
    Desk,
    /// In a group of the chat, over the channel itself and a platform that fails.
    Group,
    /// At pages, over the channel itself.
    Pages,
}

/// What a run is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kind {
    /// How many events.
    pub(super) events: usize,
    /// Whether jobs walk the shipped flow.
    pub(super) is_shipped: bool,
    /// Where people are.
    pub(super) front: Front,
    /// A promise that is broken all the time, to see that it is found out.
    pub(super) broken: Option<Promise>,
}

/// What is promised under the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Promise {
    /// What was synced outlasts a power cut.
    Sync,
    /// The key of an input is kept with what it did.
    Key,
    /// What became of a message is kept.
    Mark,
    /// The last frame outlasts the end of the process.
    LastFrame,
}

impl Promise {
    pub(super) const ALL: [Promise; 4] = [
        Promise::Sync,
        Promise::Key,
        Promise::Mark,
        Promise::LastFrame,
    ];
}

impl Kind {
    /// The kind of the run with this seed: every sixteenth walks the shipped flow, every eighth is
    /// in a group, and every eighth at pages.
    pub(super) fn of(seed: u64) -> Kind {
        let is_shipped = seed % 16 == 15;
        let front = match seed % 8 {
            3 => Front::Group,
            6 => Front::Pages,
            _ => Front::Desk,
        };
        let is_longer = is_shipped || front == Front::Group;
        Kind {
            events: if is_longer { 90 } else { 45 },
            is_shipped,
            front,
            broken: None,
        }
    }
}

/// The events of a seed.
pub(super) fn plan(seed: u64, kind: Kind) -> Vec<Event> {
    let mut dice = Dice::new(seed ^ 0x5eed_0f91_a11e_d000);
    let first = [dice.roll(2), 2 + dice.roll(2)];
    let begins = first.map(|person| Happens::Begins { person });
    let mut all: Vec<Happens> = begins.into();
    while all.len() < kind.events {
        all.push(happens(&mut dice));
    }
    all.into_iter()
        .map(|what| Event {
            after: after(&mut dice),
            what,
            seed: dice.roll(usize::MAX) as u64,
        })
        .collect()
}

/// Often at once, mostly soon, sometimes after minutes.
fn after(dice: &mut Dice) -> u64 {
    match dice.roll(16) {
        0..4 => 0,
        4..8 => dice.roll(30) as u64,
        8..14 => dice.roll(3_000) as u64,
        14 => 60_000 + dice.roll(30_000) as u64,
        _ => 5_000,
    }
}

fn happens(dice: &mut Dice) -> Happens {
    match dice.roll(100) {
        0..2 => Happens::Begins {
            person: dice.roll(PEOPLE),
        },
        2..58 => Happens::HolderActs,
        58..70 => Happens::Acts {
            person: dice.roll(PEOPLE),
        },
        70..78 => Happens::Again,
        78..81 => Happens::ClockJumps {
            seconds: [-86_400, -3_600, -7, 7, 400, 3_600, 86_400][dice.roll(7)],
        },
        81..86 => Happens::Dies {
            after: dice.roll(150) as u64,
        },
        86..90 => Happens::PowerFails {
            after: dice.roll(150) as u64,
        },
        90..95 => Happens::Disk {
            after: dice.roll(12) as u64,
            trouble: trouble(dice),
        },
        95 => Happens::Restarts,
        96 => Happens::Another,
        97 => Happens::Slow {
            millis: dice.roll(4_000) as u64,
            rounds: 1 + dice.roll(6) as u64,
        },
        _ => Happens::Offline {
            seconds: dice.roll(20) as u64,
        },
    }
}

fn trouble(dice: &mut Dice) -> Trouble {
    match dice.roll(5) {
        0 => Trouble::Dies,
        1 => Trouble::PowerFails,
        2 => Trouble::Full(1 + dice.roll(6) as u64),
        _ => Trouble::Fails,
    }
}

/// The shortest part of the events that still fails, as far as leaving things out finds it.
pub(super) fn shrunk(events: Vec<Event>, fails: impl Fn(&[Event]) -> bool) -> Vec<Event> {
    let mut left = events;
    let mut piece = left.len().div_ceil(2);
    loop {
        let mut at = 0;
        let before = left.len();
        while at < left.len() {
            let end = (at + piece).min(left.len());
            let without = [&left[..at], &left[end..]].concat();
            match fails(&without) {
                true => left = without,
                false => at = end,
            }
        }
        match (piece, left.len() < before) {
            (1, false) => return left,
            (1, true) => {}
            _ => piece = piece.div_ceil(2),
        }
    }
}

#[test]
fn what_a_failure_does_not_need_is_left_out() {
    let events = plan(4, Kind::of(4));
    let needed = [&events[7], &events[31]];
    let fails = |some: &[Event]| needed.iter().all(|event| some.contains(event));
    assert_eq!(shrunk(events.clone(), fails), needed.map(Clone::clone));
}
