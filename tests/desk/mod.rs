//! The desk over a store in memory, with a clock and a chance of our own.

mod asked;
mod check_ins;
mod checklist;
mod competence;
mod drafts;
mod erased;
mod handover;
mod history;
mod jobs;
mod joining;
mod kept;
mod labels;
mod looks;
mod noted;
mod open_codes;
mod outbox;
mod programs;
mod proposal;
mod reminders;
mod review;
mod rooms;
mod sealing;
mod search;
mod sign_in;
mod stands_out;
mod terminal;
mod time;
mod ways;

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use fanwright::desk::chance::{Chance, NoChance};
use fanwright::desk::clock::Clock;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::goods::StartingGoods;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{EvaporatorLabel, Handled, Outcome, Screen};
use fanwright::desk::seal_keys::SealKeys;
use fanwright::desk::{Actor, ChannelAddress, Desk, Parts, Rules};
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::flow::name::{ChoiceKey, FlowName};
use fanwright::record::seal::{SEED_BYTES, SigningKey};
use fanwright::store::{Batch, InputKey, Memory, Store, StreamAppend};
use fanwright::walk::input::Input;
use jiff::{SignedDuration, Timestamp};

/// A clock that stands still until it is moved.
#[derive(Debug)]
pub(crate) struct TestClock(pub(crate) Mutex<(Timestamp, Duration)>);

impl Clock for TestClock {
    fn now(&self) -> Timestamp {
        self.0.lock().unwrap().0
    }

    fn running(&self) -> Duration {
        self.0.lock().unwrap().1
    }
}

/// Numbers that never come twice.
#[derive(Debug, Default)]
pub(crate) struct Counted(AtomicU64);

impl Chance for Counted {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoChance> {
        for (at, byte) in bytes.iter_mut().enumerate() {
            let drawn = self.0.fetch_add(1, Ordering::SeqCst);
            *byte = blake3::hash(&[&drawn.to_le_bytes()[..], &[at as u8]].concat()).as_bytes()[0];
        }
        Ok(())
    }
}

/// A server without channels.
struct World {
    desk: Desk,
    memory: Memory,
    clock: Arc<TestClock>,
    chance: Arc<Counted>,
    inputs: AtomicU64,
}

impl World {
    fn new() -> World {
        World::over(|memory| Arc::new(memory.clone()), Rules::default())
    }

    fn over(store: impl Fn(&Memory) -> Arc<dyn Store>, rules: Rules) -> World {
        let memory = Memory::new();
        let now: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
        let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let chance = Arc::new(Counted::default());
        let desk = desk_over(store(&memory), &clock, &chance, rules);
        let inputs = AtomicU64::new(0);
        World {
            desk,
            memory,
            clock,
            chance,
            inputs,
        }
    }

    /// Ends the process and begins another over the same store.
    async fn restart(&mut self) {
        self.memory.close().await.unwrap();
        self.memory = self.memory.reopen();
        let (now, _) = *self.clock.0.lock().unwrap();
        self.clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let store = Arc::new(self.memory.clone());
        self.desk = desk_over(store, &self.clock, &self.chance, Rules::default());
        self.desk.start().await.unwrap();
    }

    /// Lets time go by on both sides of the clock.
    fn after(&self, time: SignedDuration) {
        let mut clock = self.clock.0.lock().unwrap();
        clock.0 += time;
        clock.1 += Duration::try_from(time).unwrap();
    }

    /// Moves the time of day alone.
    fn jump(&self, time: SignedDuration) {
        self.clock.0.lock().unwrap().0 += time;
    }

    /// Nobody can read this job any more.
    async fn damage(&self, job: JobId) {
        let mut batch = Batch::new(self.desk_time());
        batch.appends.push(StreamAppend {
            stream: job.stream(),
            expected: self.memory.head(job.stream()).await.unwrap().seq,
            entries: vec![b"no entry".to_vec()],
        });
        self.memory.append(batch).await.unwrap();
    }

    fn desk_time(&self) -> Timestamp {
        self.clock.0.lock().unwrap().0
    }

    fn key(&self) -> InputKey {
        InputKey(format!(
            "test:{}",
            self.inputs.fetch_add(1, Ordering::SeqCst)
        ))
    }

    async fn supervisor(&self) -> Actor {
        let code = self
            .desk
            .first_supervisor_code()
            .await
            .unwrap()
            .unwrap()
            .code;
        self.desk
            .join(self.key(), &code, "Sam Supervisor", &chat(1))
            .await
            .unwrap()
    }

    async fn joins(&self, by: &Actor, address: &ChannelAddress, roles: &[Role]) -> Actor {
        let roles: BTreeSet<Role> = roles.iter().copied().collect();
        let name = format!("{:?} {address:?}", roles.first().unwrap());
        let code = self.desk.invite(by, roles).await.unwrap().code;
        self.desk
            .join(self.key(), &code, &name, address)
            .await
            .unwrap()
    }

    async fn evaporator(&self, actor: &Actor) -> EvaporatorLabel {
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: "EV-3".to_owned(),
            hangs: "meat cooler, left".to_owned(),
        };
        self.desk
            .add_evaporator(self.key(), actor, new)
            .await
            .unwrap()
    }

    async fn begin(&self, actor: &Actor) -> Screen {
        let new = NewJob {
            evaporator: self.evaporator(actor).await.id,
            flow: FlowName::from("look-at-the-fan"),
            training: false,
        };
        let handled = self.desk.begin(self.key(), actor, new).await.unwrap();
        assert_eq!(handled.outcome, Outcome::Advanced);
        handled.screen
    }

    async fn does(&self, actor: &Actor, job: JobId, input: Input) -> Handled {
        self.desk
            .handle(self.key(), actor, job, input)
            .await
            .unwrap()
    }

    async fn presses(&self, actor: &Actor, screen: &Screen, key: &str) -> Handled {
        self.does(actor, screen.job, press(screen, key)).await
    }

    /// Answers the small flow up to its hold point.
    async fn at_the_hold(&self, actor: &Actor) -> Screen {
        let screen = self.begin(actor).await;
        let screen = self.presses(actor, &screen, "go").await.screen;
        let screen = self.presses(actor, &screen, "stands").await.screen;
        self.after(SignedDuration::from_mins(6));
        self.desk.end_waits().await.unwrap();
        let screen = self.desk.screen(actor, screen.job).await.unwrap();
        self.presses(actor, &screen, "go").await;
        self.does(actor, screen.job, Input::Text("208 V".to_owned()))
            .await;
        let photo = self.desk.take_photo(png()).await.unwrap();
        self.does(actor, screen.job, Input::Photo(photo))
            .await
            .screen
    }
}

/// A key to seal with, the same each time.
pub(crate) fn keys() -> Arc<SealKeys> {
    let key = SigningKey::from_seed(&[7; SEED_BYTES]).unwrap();
    Arc::new(SealKeys::in_memory(key))
}

fn desk_over(
    store: Arc<dyn Store>,
    clock: &Arc<TestClock>,
    chance: &Arc<Counted>,
    rules: Rules,
) -> Desk {
    let mut sources = Sources::default();
    let text = include_str!("small.yaml").to_owned();
    sources
        .files
        .insert("look-at-the-fan.yaml".to_owned(), text);
    let proposes = include_str!("../support/propose.yaml").to_owned();
    sources
        .files
        .insert("prove-a-speed.yaml".to_owned(), proposes);
    let promise = include_str!("promise.yaml").to_owned();
    sources
        .files
        .insert("promise-to-look.yaml".to_owned(), promise);
    let plate = include_str!("plate.yaml").to_owned();
    sources
        .files
        .insert("read-the-plate.yaml".to_owned(), plate);
    desk_walking(sources, store, clock, chance, rules)
}

fn desk_walking(
    sources: Sources,
    store: Arc<dyn Store>,
    clock: &Arc<TestClock>,
    chance: &Arc<Counted>,
    rules: Rules,
) -> Desk {
    let library = Library::load(sources).unwrap();
    let clock: Arc<dyn Clock> = clock.clone();
    let chance: Arc<dyn Chance> = chance.clone();
    let goods = StartingGoods::default();
    Desk::new(Parts {
        store,
        clock,
        chance,
        keys: keys(),
        library,
        goods,
        rules,
    })
}

fn chat(user: i64) -> ChannelAddress {
    ChannelAddress::Telegram { chat: user, user }
}

fn press(screen: &Screen, key: &str) -> Input {
    Input::Press {
        revision: screen.prompt.revision,
        key: ChoiceKey::from(key),
    }
}

fn refusal(handled: &Handled) -> &str {
    match &handled.outcome {
        Outcome::Refused(sentence) => sentence,
        other => panic!("expected a refusal, got {other:?}"),
    }
}

fn png() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8, 8);
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}
