//! The whole server with its chats, over a line to a platform that fails.

mod group;
mod platform;
mod walker;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use fanwright::channel::telegram::{BotToken, Settings, Telegram};
use fanwright::desk::Desk;
use fanwright::record::entry::{Entry, What};
use fanwright::record::stream::{Seq, StreamKind};
use fanwright::server::keep_time;
use fanwright::store::{Journal, LooseIndex, Made, Store};
use tokio_util::sync::CancellationToken;

use super::base::{Base, CHATS, address, desk, runtime};
use super::check;
use super::disk::{Disks, Trouble};
use super::life::{Life, Watched, folder};
use super::machine::SimClock;
use super::plan::PEOPLE;
use super::world::{Tally, World};
pub(super) use group::{GROUP, Group};
pub(super) use platform::{Luck, SimPlatform};
use walker::{Walker, tells_of_early_words};

/// Nobody answers anything any more, so nothing more comes after this.
const QUIET: Duration = Duration::from_secs(10);

/// Runs the channel of one process of the server.
fn serve_chats(desk: &Desk, clock: &Arc<SimClock>, platform: &Arc<SimPlatform>) {
    let settings = Settings {
        token: BotToken("77:simulated".to_owned()),
        api_url: Some("http://platform.invalid".to_owned()),
        webhook_url: None,
        send_rate: None,
        clock: clock.clone(),
    };
    let telegram = Telegram::without_network(desk.clone(), settings, platform.clone()).unwrap();
    tokio::spawn(async move { telegram.run(CancellationToken::new()).await });
}

/// What is played.
#[derive(Clone, Copy, Debug)]
struct Play {
    seed: u64,
    luck: Luck,
    /// So often the process is killed or the power fails.
    crashes: u32,
    /// How many screens each person answers.
    acts: usize,
}

/// What a run came to.
#[derive(Clone, Debug, Default)]
struct Came {
    tally: Tally,
    trace: String,
    wrong: Vec<String>,
    calls: u64,
    failed: u64,
    repeated: u64,
    acts: usize,
    /// So often words were typed twice, and so often again since they had no effect.
    typed: (usize, usize),
    copies: usize,
    longest: Duration,
}

struct Run {
    base: &'static Base,
    world: Arc<World>,
    disks: Disks,
    index: LooseIndex,
    platform: Arc<SimPlatform>,
    walkers: Vec<Arc<Walker>>,
    play: Play,
    lives: u32,
    boots: u32,
}

fn run(play: Play) -> Came {
    let base: &Base = &CHATS;
    let world = Arc::new(World::default());
    world.known().day = base.day;
    world.known().began = base.day;
    let chats = (0..PEOPLE - 1).map(|person| 100 + i64::try_from(person).unwrap());
    let walkers = chats.map(|chat| Arc::new(Walker::new(chat, play.seed ^ chat.unsigned_abs())));
    let mut run = Run {
        base,
        world,
        disks: base.disks.copy(play.seed),
        index: LooseIndex::default(),
        platform: Arc::new(SimPlatform::new(play.seed, play.luck)),
        walkers: walkers.collect(),
        play,
        lives: 0,
        boots: 1,
    };
    while run.live() == End::Died && run.world.known().wrong.is_empty() {}
    run.came()
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    Died,
    Quiet,
}

impl Run {
    /// The next process lives until it ends.
    fn live(&mut self) -> End {
        self.lives += 1;
        let seed = self.play.seed.wrapping_mul(7_919) + u64::from(self.lives);
        let life = Arc::new(Life::new(&self.world, &self.disks, seed));
        if self.lives <= self.play.crashes {
            let how = [Trouble::Dies, Trouble::PowerFails][life.roll(2)];
            life.ends_after(life.roll(1_500) as u64, how);
        }
        let runtime = runtime();
        let (how, now) = runtime.block_on(async {
            let clock = Arc::new(SimClock::showing(self.world.known().day));
            let how = tokio::select! {
                biased;
                how = life.over() => Some(how),
                () = self.serve(&life, &clock, seed) => None,
            };
            (how, fanwright::desk::clock::Clock::now(clock.as_ref()))
        });
        drop(runtime);
        self.disks.end_process();
        self.world.known().day = now;
        self.world
            .note(&format!("life {} ended: {how:?}", self.lives));
        let Some(how) = how else { return End::Quiet };
        let power_failed = how == Trouble::PowerFails;
        if power_failed {
            self.disks.cut_power();
            self.index.cut_power();
            self.boots += 1;
        }
        self.world.forgotten(power_failed);
        End::Died
    }

    /// Serves until everybody has done what they wanted, and a moment longer.
    async fn serve(&self, life: &Arc<Life>, clock: &Arc<SimClock>, seed: u64) {
        let made = Made {
            disk: Arc::new(self.disks.mount()),
            index: self.index.clone(),
            file_bytes: 32 * 1024,
        };
        let boot = format!("boot-{}", self.boots);
        let opened = Journal::open_by_hand(folder(), Some(&boot), &made);
        let (journal, hands, _) = match opened {
            Ok(opened) => opened,
            Err(why) => {
                let told = format!("the folder cannot be opened: {why}");
                return self.world.wrong(told);
            }
        };
        let now = fanwright::desk::clock::Clock::now(clock.as_ref());
        check::everything_promised_is_there(&self.world, &journal, now).await;
        tokio::spawn(Arc::clone(life).write(hands));
        let life = Arc::clone(life);
        let store = Arc::new(Watched {
            life,
            broken: None,
            journal,
        });
        let desk = desk(&self.base.library, store.clone(), clock.clone(), seed);
        desk.start().await.unwrap();
        serve_chats(&desk, clock, &self.platform);
        tokio::spawn(keep_time(desk.clone()));
        self.everybody_walks().await;
        self.platform.behave();
        tokio::time::sleep(QUIET).await;
        self.at_the_end(&store, &desk).await;
    }

    async fn everybody_walks(&self) {
        let walks = self.walkers.iter().map(|walker| {
            let (walker, platform) = (Arc::clone(walker), Arc::clone(&self.platform));
            let (acts, is_timed) = (self.play.acts, self.play.crashes == 0);
            tokio::spawn(async move { walker.walk(platform, acts, is_timed).await })
        });
        let walks: Vec<_> = walks.collect();
        for walk in walks {
            walk.await.unwrap();
        }
    }

    async fn at_the_end(&self, store: &Watched, desk: &Desk) {
        let mut answers = 0;
        let jobs = store.journal.streams(StreamKind::Job, None, 100).await;
        for (stream, _) in jobs.unwrap().items {
            let entries = store.journal.read(stream, Seq::FIRST, 100_000).await;
            let entries = entries.unwrap();
            if let Err(why) = check::chained(stream, &entries) {
                self.world.wrong(why);
            }
            let entries = entries.iter().map(|stored| {
                let entry: Entry = serde_json::from_slice(&stored.bytes).unwrap();
                entry
            });
            answers += entries
                .filter(|entry| matches!(entry.what, What::Answered { .. }))
                .count();
        }
        let acts: usize = self.walkers.iter().map(|walker| walker.acts()).sum();
        if answers != acts {
            let told = format!("{acts} answers had {answers} effects");
            self.world.wrong(told);
        }
        for (person, walker) in self.walkers.iter().enumerate() {
            let actor = desk.who_is(&address(person)).await.unwrap().unwrap();
            let Some((on, ..)) = walker.newest(&self.platform) else {
                self.world.wrong(format!("{} sees nothing", walker.chat));
                continue;
            };
            let screen = desk.screen(&actor, on.job).await.unwrap();
            if screen.prompt.revision != on.revision {
                let chat = walker.chat;
                let told = format!("{chat} sees {on:?} and not {}", screen.prompt.revision);
                self.world.wrong(told);
            }
        }
        if desk.pending(None, 1).await.unwrap().items.is_empty() {
            return;
        }
        self.world.wrong("the outbox does not drain".to_owned());
    }

    fn came(&self) -> Came {
        let (calls, failed, repeated) = self.platform.counts();
        let (tally, wrong) = {
            let known = self.world.known();
            (known.tally, known.wrong.clone())
        };
        let mut came = Came {
            tally,
            wrong,
            calls,
            failed,
            repeated,
            ..Came::default()
        };
        came.wrong.extend(self.platform.violations());
        for walker in &self.walkers {
            came.wrong.extend(walker.wrong());
            came.acts += walker.acts();
            came.longest = came.longest.max(walker.longest());
            came.typed.0 += walker.doubled();
            came.typed.1 += walker.again();
            let mut contents: BTreeMap<(String, String), usize> = BTreeMap::new();
            let mut told = 0;
            for shown in self.platform.shown(walker.chat) {
                self.world.note(&format!("{:?}", shown.sent));
                if tells_of_early_words(&shown.sent) {
                    told += 1;
                    continue;
                }
                let content = (shown.sent.html, format!("{:?}", shown.sent.buttons));
                *contents.entry(content).or_default() += 1;
            }
            let copies: usize = contents.values().map(|times| times - 1).sum();
            let unclear = self.platform.unclear(walker.chat);
            came.copies += copies;
            // After a crash the screen comes again, with a sentence that says why.
            if copies > unclear + usize::try_from(self.lives - 1).unwrap() {
                let chat = walker.chat;
                let told = format!("{chat} had {copies} copies for {unclear} unclear failures");
                came.wrong.push(told);
            }
            let early = walker.doubled() + walker.again();
            if self.lives == 1 && !(early..=early + unclear).contains(&told) {
                let chat = walker.chat;
                let wrong = format!("{chat} was told {told} times of {early} words without effect");
                came.wrong.push(wrong);
            }
            let expected = walker.acts() + 1 + copies + told;
            let seen = self.platform.shown(walker.chat).len();
            if self.lives == 1 && seen != expected {
                let chat = walker.chat;
                came.wrong
                    .push(format!("{chat} had {seen} messages, not {expected}"));
            }
        }
        came.trace = self.world.trace();
        came
    }
}

/// Plays several seeds and says what they came to.
fn play_all(what: &str, plays: impl Fn(u64) -> Play) -> Came {
    let seeds = super::number("SIMULATED_CHATS").unwrap_or(6);
    let mut all = Came::default();
    for seed in 0..seeds {
        let came = run(plays(seed));
        assert_eq!(came.wrong, Vec::<String>::new(), "seed {seed}: {came:?}");
        all.tally.add(&came.tally);
        all.calls += came.calls;
        all.failed += came.failed;
        all.repeated += came.repeated;
        all.acts += came.acts;
        all.typed.0 += came.typed.0;
        all.typed.1 += came.typed.1;
        all.copies += came.copies;
        all.longest = all.longest.max(came.longest);
    }
    println!(
        "{what}: {seeds} seeds, {} answers, words twice {} times and again {} times, {} calls, {} failed, {} updates again, {} crashes, \
         {} copies, {} lost, {} doubled, the longest wait after a failure {:.2} s",
        all.acts,
        all.typed.0,
        all.typed.1,
        all.calls,
        all.failed,
        all.repeated,
        all.tally.crashes,
        all.copies,
        all.tally.lost,
        all.tally.doubled,
        all.longest.as_secs_f64()
    );
    all
}

#[test]
fn with_two_percent_of_calls_failing_nobody_is_left_without_the_next_question() {
    let came = play_all("two percent of calls fail", |seed| Play {
        seed,
        luck: Luck {
            fails: 20,
            again: 0,
        },
        crashes: 0,
        acts: 40,
    });
    assert!(came.failed > 0);
}

#[test]
fn updates_that_come_again_have_no_other_effect_and_no_other_message() {
    let came = play_all("five percent of updates come again", |seed| Play {
        seed,
        luck: Luck {
            fails: 0,
            again: 50,
        },
        crashes: 0,
        acts: 40,
    });
    assert!(came.repeated > 0);
    assert_eq!(came.copies, 0);
}

#[test]
fn a_server_that_is_killed_again_and_again_leaves_nobody_behind() {
    let came = play_all("killed and without power", |seed| Play {
        seed,
        luck: Luck {
            fails: 20,
            again: 50,
        },
        crashes: 4,
        acts: 30,
    });
    assert!(came.tally.crashes > 0);
}

#[test]
fn the_same_seed_gives_the_same_run_of_the_chats() {
    let play = Play {
        seed: 5,
        luck: Luck {
            fails: 30,
            again: 60,
        },
        crashes: 2,
        acts: 12,
    };
    let [one, other] = [(); 2].map(|()| format!("{:?}", run(play)));
    let same = one.bytes().zip(other.bytes()).take_while(|(a, b)| a == b);
    let from = same.count().saturating_sub(200);
    let around = |run: &str| String::from_utf8_lossy(&run.as_bytes()[from..]).into_owned();
    let shown = |run: &str| around(run).chars().take(600).collect::<String>();
    assert_eq!(shown(&one), shown(&other), "the runs part near byte {from}");
}
