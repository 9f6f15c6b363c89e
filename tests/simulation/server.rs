//! A run: one life of the server after the other, through everything that happens to it.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use fanwright::desk::Desk;
use fanwright::desk::clock::Clock;
use fanwright::flow::library::Library;
use fanwright::store::{Journal, LooseIndex, Made, Store, StoreError};
use jiff::SignedDuration;

use crate::walk::Dice;

use super::base::{Base, CREW_IN_GROUP, PAGES, SHIPPED, SMALL, desk, runtime};
use super::check;
use super::disk::{Disks, Trouble};
use super::front::{Outside, Place};
use super::life::{Life, Watched, folder};
use super::machine::SimClock;
use super::people::People;
use super::plan::{Event, Front, Happens, Kind, Promise};
use super::world::{Tally, World};

/// No run has more lives.
const LIVES_MAX: u32 = 60;

/// What a run came to.
pub(super) struct Came {
    /// A hash of everything that happened.
    pub(super) trace: String,
    pub(super) tally: Tally,
    /// What was as it must never be.
    pub(super) wrong: Vec<String>,
    /// Places where the first life waited, and changes of the disk in it.
    pub(super) first_life: (u64, u64),
}

/// How a life ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    Died(Trouble),
    Stopped,
    /// It could not begin; the disk had a fault.
    NotBegun,
    /// All events are over and everything is quiet.
    Quiet,
}

/// Everything that outlasts the server.
struct Run<'a> {
    base: &'a Base,
    world: Arc<World>,
    disks: Disks,
    index: LooseIndex,
    outside: Outside,
    seed: u64,
    broken: Option<Promise>,
    lives: u32,
    boots: u32,
    first_life: (u64, u64),
}

/// Plays the events.
pub(super) fn run(seed: u64, kind: Kind, events: &[Event], is_loud: bool) -> Came {
    let base: &Base = match kind.front {
        Front::Group => &CREW_IN_GROUP,
        Front::Pages => &PAGES,
        Front::Desk if kind.is_shipped => &SHIPPED,
        Front::Desk => &SMALL,
    };
    let world = Arc::new(World::heard(is_loud));
    world.known().day = base.day;
    world.known().began = base.day;
    world.known().jobs.extend(&base.jobs);
    let mut run = Run {
        base,
        world: Arc::clone(&world),
        disks: base.disks.copy(seed),
        index: LooseIndex::default(),
        outside: Outside::new(kind.front, seed, &base.cookies),
        seed,
        broken: kind.broken,
        lives: 0,
        boots: 1,
        first_life: (0, 0),
    };
    if run.broken == Some(Promise::Sync) {
        run.disks.let_syncs_lie();
    }
    loop {
        let end = run.live(events);
        world.note(&format!("life {} ended: {end:?}", run.lives));
        if end == End::Quiet || run.lives > LIVES_MAX || !world.known().wrong.is_empty() {
            break;
        }
    }
    if world.known().wrong.is_empty() {
        run.disks.heal();
        run.outside.behaves();
        run.at_the_end(events);
    }
    let known = world.known();
    Came {
        tally: known.tally,
        wrong: known.wrong.clone(),
        first_life: run.first_life,
        trace: {
            drop(known);
            world.trace()
        },
    }
}

impl Run<'_> {
    /// The next process lives until it ends.
    fn live(&mut self, events: &[Event]) -> End {
        self.in_a_life(|server| async move {
            let end = server.play(events).await;
            server.close_unless_quiet(end).await
        })
    }

    /// A last life without faults: everybody gets their answer, everything is sent.
    fn at_the_end(&mut self, events: &[Event]) {
        let end = self.in_a_life(|server| async move {
            let end = server.play(&events[..0]).await;
            if end == End::Quiet {
                check::at_the_end(&server).await;
            }
            end
        });
        if end != End::Quiet {
            self.world
                .wrong(format!("without faults a server ended: {end:?}"));
        }
    }

    /// Lets a process live, with everything that it leaves behind when it ends.
    fn in_a_life<F: Future<Output = End>>(&mut self, lives: impl FnOnce(Server) -> F) -> End {
        self.lives += 1;
        let seed = self
            .seed
            .wrapping_mul(1_000_003)
            .wrapping_add(self.lives.into());
        let life = Arc::new(Life::new(&self.world, &self.disks, seed));
        let runtime = runtime();
        let (end, now) = runtime.block_on(async {
            let clock = Arc::new(SimClock::showing(self.world.known().day));
            let begun = Server::begin(self, &life, Arc::clone(&clock), seed).await;
            let end = match begun {
                None if life.is_over() => End::Died(life.over().await),
                None => End::NotBegun,
                Some(server) => tokio::select! {
                    biased;
                    how = life.over() => End::Died(how),
                    end = lives(server) => end,
                },
            };
            (end, clock.now())
        });
        if self.lives == 1 {
            self.first_life = (life.waits(), self.disks.changes());
        }
        // Whatever still was at work is dropped where it waits.
        drop(runtime);
        self.disks.end_process();
        if self.broken == Some(Promise::LastFrame) {
            self.disks.lose_the_last_bytes(&folder().join("journal"));
        }
        let away = SignedDuration::from_secs(Dice::new(seed).roll(40) as i64);
        self.world.known().day = now + away;
        match end {
            End::Died(Trouble::PowerFails) => {
                self.disks.cut_power();
                self.index.cut_power();
                self.boots += 1;
                self.world.forgotten(true);
            }
            End::Died(_) | End::Stopped | End::NotBegun => self.world.forgotten(false),
            End::Quiet => {}
        }
        end
    }
}

/// A server at work.
pub(super) struct Server {
    pub(super) world: Arc<World>,
    pub(super) life: Arc<Life>,
    pub(super) store: Arc<Watched>,
    pub(super) desk: Desk,
    pub(super) clock: Arc<SimClock>,
    pub(super) people: Arc<People>,
    pub(super) place: Place,
    pub(super) library: Library,
    boot: String,
    made: Made,
}

impl Server {
    /// Opens the folder, looks whether everything promised is there, and begins to serve.
    async fn begin(
        run: &Run<'_>,
        life: &Arc<Life>,
        clock: Arc<SimClock>,
        seed: u64,
    ) -> Option<Server> {
        let boot = format!("boot-{}", run.boots);
        let made = Made {
            disk: Arc::new(run.disks.mount()),
            index: run.index.clone(),
            file_bytes: (8 * 1024) << (run.seed % 4),
        };
        let (journal, hands, report) = match Journal::open_by_hand(folder(), Some(&boot), &made) {
            Ok(opened) => opened,
            Err(problem) => {
                run.world.note(&format!("not opened: {problem}"));
                if !matches!(problem, StoreError::Io { .. }) {
                    let told = format!("the folder cannot be opened: {problem}");
                    run.world.wrong(told);
                }
                return None;
            }
        };
        run.world.note(&format!("opened: {report:?}"));
        check::everything_promised_is_there(&run.world, &journal, clock.now()).await;
        let promised = run.outside.promised();
        check::everything_seen_is_there(&run.world, (&journal, clock.now()), promised).await;
        tokio::spawn(Arc::clone(life).write(hands));
        let store = Arc::new(Watched {
            life: Arc::clone(life),
            broken: run.broken,
            journal,
        });
        let desk = desk(&run.base.library, store.clone(), clock.clone(), seed);
        let started = tokio::select! {
            biased;
            _ = life.over() => return None,
            started = desk.start() => started,
        };
        if let Err(error) = started {
            run.world
                .note(&format!("not started: {}", error.for_the_log()));
            return None;
        }
        let people = Arc::new(People::new(run.base, &run.world, life, &desk));
        tokio::spawn(keep_time(desk.clone()));
        let place = run.outside.place(&people, (&run.world, life, &clock));
        Some(Server {
            world: Arc::clone(&run.world),
            life: Arc::clone(life),
            store,
            desk,
            clock,
            people,
            place,
            library: run.base.library.clone(),
            boot,
            made,
        })
    }

    /// Lets the events that are left happen, one after the other.
    async fn play(&self, events: &[Event]) -> End {
        self.people.send_unanswered_again();
        self.place.send_unanswered_again();
        loop {
            let event = {
                let mut known = self.world.known();
                let event = events.get(known.next);
                known.next += usize::from(event.is_some());
                event
            };
            if self.life.has_stopped.load(Ordering::SeqCst) {
                return End::Stopped;
            }
            let Some(event) = event else { break };
            tokio::time::sleep(Duration::from_millis(event.after)).await;
            self.world.note(&format!("{event:?}"));
            if self.happens(event).await.is_some() {
                return End::Stopped;
            }
        }
        match self.place.quiet(&self.people).await {
            true => End::Quiet,
            // The store has stopped, or somebody waits in vain: the operator starts it anew.
            false => End::Stopped,
        }
    }

    async fn happens(&self, event: &Event) -> Option<()> {
        let mut dice = Dice::new(event.seed);
        match event.what {
            Happens::Begins { person } => self.place.begins(&self.people, person, &mut dice).await,
            Happens::HolderActs => self.place.holder_acts(&self.people, &mut dice).await,
            Happens::Acts { person } => self.place.acts(&self.people, person, &mut dice).await,
            Happens::Again => self.place.again(&self.people, &mut dice),
            Happens::ClockJumps { seconds } => {
                self.clock.jump(SignedDuration::from_secs(seconds));
            }
            Happens::Dies { after } => self.life.ends_after(after, Trouble::Dies),
            Happens::PowerFails { after } => self.life.ends_after(after, Trouble::PowerFails),
            Happens::Disk { after, trouble } => self.life.disks.trouble(after, trouble),
            Happens::Restarts => {
                drop(self.store.close().await);
                return Some(());
            }
            Happens::Another => self.another(),
            Happens::Offline { seconds } => {
                self.life.offline(seconds);
                self.place.offline(seconds);
            }
            Happens::Slow { millis, rounds } => {
                *self.life.slow.lock().unwrap() = (millis, rounds);
            }
        }
        None
    }

    /// Somebody starts another server on the same folder: it must not get in.
    fn another(&self) {
        match Journal::open_by_hand(folder(), Some(&self.boot), &self.made) {
            Err(StoreError::InUse { .. } | StoreError::Io { .. }) => {}
            Err(other) => self.world.wrong(format!("another server met: {other}")),
            Ok(_) => self
                .world
                .wrong("another server opened the same folder".to_owned()),
        }
    }

    async fn close_unless_quiet(&self, end: End) -> End {
        if end == End::Quiet {
            drop(self.store.close().await);
        }
        end
    }
}

/// Ends waits and reminds people, as the server does, but seldom enough to be quick.
async fn keep_time(desk: Desk) {
    let mut changes = desk.changes();
    loop {
        drop(desk.end_waits().await);
        drop(desk.remind().await);
        tokio::select! {
            biased;
            () = tokio::time::sleep(Duration::from_secs(15)) => {}
            change = changes.recv() => drop(change),
        }
    }
}
