//! A short job, ended at every place where it waits and in every change of the disk.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::disk::Trouble;
use super::number;
use super::plan::{Event, Front, Happens, Kind};
use super::server::run;
use crate::walk::Dice;

/// So many times somebody does something in it.
const ACTS: usize = 6;

/// A job, as chance has it, that is broken off.
struct Sweep {
    seed: u64,
    kind: Kind,
}

impl Sweep {
    /// The job, with something else first.
    fn job(&self, first: Vec<Event>) -> Vec<Event> {
        let mut dice = Dice::new(11 + self.seed);
        let acts = (0..ACTS).map(|_| Happens::HolderActs);
        let all = [Happens::Begins { person: 1 }].into_iter().chain(acts);
        let all = all.map(|what| Event {
            after: 200,
            what,
            seed: dice.roll(usize::MAX) as u64,
        });
        first.into_iter().chain(all).collect()
    }

    /// What was wrong in a run.
    fn plays(&self, events: &[Event]) -> Vec<String> {
        run(self.seed + 1, self.kind, events, false).wrong
    }

    /// Every way to break it off: at one place in so many where it waits, in one change of the
    /// disk in a quarter as many, and twice. What a killed process had written and not waited for
    /// is read by the next one, so it has to outlast a power cut from then on.
    fn broken_off(&self, (waits, changes): (u64, u64), step: usize) -> Vec<Vec<Event>> {
        let ends = (0..waits).step_by(step);
        let ends = ends.flat_map(|after| [Happens::Dies { after }, Happens::PowerFails { after }]);
        let breaks = (0..changes).step_by(step.div_ceil(4)).flat_map(|after| {
            [
                Trouble::Dies,
                Trouble::PowerFails,
                Trouble::Fails,
                Trouble::Full(3),
            ]
            .map(|trouble| Happens::Disk { after, trouble })
        });
        let once = ends.chain(breaks).map(|what| self.job(vec![first(what)]));
        let twice = (0..waits).step_by(3 * step).map(|after| {
            let mut events = self.job(vec![first(Happens::Dies { after })]);
            let after = after % 40;
            events.insert(4, first(Happens::PowerFails { after }));
            events
        });
        once.chain(twice).collect()
    }

    /// Breaks it off, at one place in so many unless `SIMULATED_STEP` says otherwise.
    fn goes_on_wherever_it_is_broken_off(&self, step: u64) {
        let whole = run(self.seed + 1, self.kind, &self.job(Vec::new()), false);
        assert_eq!(whole.wrong, Vec::<String>::new());
        let (waits, changes) = whole.first_life;
        assert!(
            waits > 100 && changes > 20,
            "{waits} waits, {changes} changes"
        );
        let step = usize::try_from(number("SIMULATED_STEP").unwrap_or(step)).unwrap();
        let cases = self.broken_off((waits, changes), step);
        let (next, wrong) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
        let work = || {
            while let Some(events) = cases.get(next.fetch_add(1, Ordering::SeqCst)) {
                let found = self.plays(events);
                if !found.is_empty() {
                    let breaks = events.iter().filter(|event| event.after == 0);
                    let breaks: Vec<&Happens> = breaks.map(|event| &event.what).collect();
                    wrong.lock().unwrap().push(format!("{breaks:?}: {found:?}"));
                }
            }
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        std::thread::scope(|scope| {
            for _ in 0..threads {
                scope.spawn(work);
            }
        });
        println!(
            "{:?}: broken off in {} ways, at {waits} waits and {changes} changes of the disk",
            self.kind.front,
            cases.len()
        );
        let wrong = wrong.into_inner().unwrap();
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}

/// What breaks it off comes first.
fn first(what: Happens) -> Event {
    Event {
        after: 0,
        what,
        seed: 0,
    }
}

/// The job of `SIMULATED_SEED`, with people where this says.
fn sweep(front: Front) -> Sweep {
    Sweep {
        seed: number("SIMULATED_SEED").unwrap_or(0),
        kind: Kind {
            events: 0,
            is_shipped: false,
            front,
            broken: None,
        },
    }
}

// Every place of each takes minutes, so that one in so many is tried.

#[test]
fn a_job_that_is_broken_off_anywhere_goes_on() {
    sweep(Front::Desk).goes_on_wherever_it_is_broken_off(19);
}

#[test]
fn a_job_in_a_group_that_is_broken_off_anywhere_goes_on() {
    sweep(Front::Group).goes_on_wherever_it_is_broken_off(89);
}

#[test]
fn a_job_at_a_page_that_is_broken_off_anywhere_goes_on() {
    sweep(Front::Pages).goes_on_wherever_it_is_broken_off(53);
}
