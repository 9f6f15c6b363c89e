//! An hour of a big day: five thousand people, three hundred groups, 25 messages a second.

use super::super::*;
use super::world::{Answer, Flight, Message, World};

const PEOPLE: i64 = 5_000;
const GROUPS: i64 = 300;
const HOUR: Duration = Duration::from_secs(3_600);
const A_SECOND: f64 = 25.0;

/// Chance that comes again: Marsaglia's xorshift, 64 bits.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// Between 0 and 1, never 0.
    fn part(&mut self) -> f64 {
        ((self.next() >> 11) + 1) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, end: i64) -> i64 {
        i64::try_from(self.next() % end.unsigned_abs()).unwrap()
    }

    /// The time to the next of many that come independently of each other.
    fn gap(&mut self) -> Duration {
        Duration::from_secs_f64(-self.part().ln() / A_SECOND)
    }

    /// A line that is mostly quick, sometimes slow, and seldom refuses.
    fn flight(&mut self) -> Flight {
        let slow = if self.part() < 0.005 { 3_000 } else { 0 };
        let mut leg = || Duration::from_millis(self.below(120).unsigned_abs() + 15);
        let (there, back) = (leg() + Duration::from_millis(slow), leg());
        let answer = match self.part() {
            part if part < 0.0005 => Answer::Refused(Duration::from_secs(7)),
            part if part < 0.001 => Answer::Unclear(Duration::from_millis(500)),
            _ => Answer::Taken,
        };
        Flight {
            there,
            back,
            answer,
        }
    }

    fn person(&mut self) -> i64 {
        1 + self.below(PEOPLE)
    }

    fn group(&mut self) -> i64 {
        -1 - self.below(GROUPS)
    }
}

/// So long or shorter waited 99 of 100 of a rank.
fn ninety_nine(world: &World, rank: Rank) -> Duration {
    let mut waits: Vec<Duration> = of(world, rank);
    waits.sort_unstable();
    waits[waits.len() * 99 / 100]
}

fn of(world: &World, rank: Rank) -> Vec<Duration> {
    let all = world.waits.iter().filter(|(of, _)| *of == rank);
    all.map(|(_, wait)| *wait).collect()
}

fn hour(seed: u64, mut offer: impl FnMut(&mut World, &mut Chance)) -> World {
    let (mut chance, mut line) = (Chance(seed), Chance(seed ^ 0x5ca1_ab1e));
    let mut flight = |_: &Message| line.flight();
    let mut world = World::new(Limits::towards(true, None));
    let mut at = chance.gap();
    while at < HOUR {
        world.pass(at, &mut flight);
        offer(&mut world, &mut chance);
        at += chance.gap();
    }
    world.pass_all(&mut flight);
    world.is_kept().unwrap();
    world
}

#[test]
fn an_hour_of_answers_breaks_no_limit_and_nobody_waits_a_second() {
    let world = hour(7, |world, chance| {
        let chat = match chance.part() {
            part if part < 0.9 => chance.person(),
            _ => chance.group(),
        };
        world.offer((chat, Rank::Answer), (Like::Nothing, false), 1);
    });
    assert!(world.waits.len() > 85_000, "{}", world.waits.len());
    let wait = ninety_nine(&world, Rank::Answer);
    assert!(wait < Duration::from_secs(1), "{wait:?}");
}

#[test]
fn an_hour_of_everything_keeps_those_who_wait_below_a_second_and_starves_nobody() {
    let mut told = 0;
    let world = hour(11, |world, chance| {
        // At ten minutes a server comes back, and everybody at work gets the screen again.
        if told == 0 && world.now > Duration::from_secs(600) {
            told = 500;
            for _ in 0..told {
                let chat = chance.person();
                world.offer((chat, Rank::News), (Like::Nothing, true), 1);
            }
        }
        let (to, like) = match chance.part() {
            part if part < 0.001 => ((chance.person(), Rank::Emergency), Like::Nothing),
            part if part < 0.55 => ((chance.person(), Rank::Answer), Like::WhenMuchWaits(0)),
            part if part < 0.65 => ((chance.group(), Rank::Answer), Like::Nothing),
            part if part < 0.75 => ((chance.person(), Rank::News), Like::Nothing),
            part if part < 0.85 => ((chance.person(), Rank::Quiet), Like::Nothing),
            // Ten busy rooms change far more often than their groups may be written to.
            _ => ((-1 - chance.below(10), Rank::Quiet), Like::Always(1)),
        };
        let is_owed = like == Like::Nothing;
        world.offer(to, (like, is_owed), 1);
    });
    let answer = ninety_nine(&world, Rank::Answer);
    assert!(answer < Duration::from_secs(1), "{answer:?}");
    let hurt = of(&world, Rank::Emergency).into_iter().max().unwrap();
    assert!(
        hurt < Duration::from_secs(12),
        "after a refusal of its chat at most: {hurt:?}"
    );
    for rank in [Rank::News, Rank::Quiet] {
        let longest = of(&world, rank).into_iter().max().unwrap();
        assert!(longest < Duration::from_secs(180), "{rank:?}: {longest:?}");
    }
    assert!(world.left_out.is_empty());
}
