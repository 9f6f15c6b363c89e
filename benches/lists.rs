//! How long lists, filters and searches take with many stored jobs: `cargo bench --bench lists`.
//!
//! The jobs are begun, walked, handed in and accepted through the desk, over a real journal in a
//! temporary folder. Sizes other than 1,000, 10,000 and 100,000: `LISTS_JOBS=500,5000`. They are
//! those of one crew, unless `LISTS_CREWS=20` spreads them over more; then one of these asks.
#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a bench stops where its input cannot be made, and measures time"
)]

mod desk;
mod library;

use std::future::Future;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use fanwright::desk::clock::Clock;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::lists::{JOBS_A_PAGE, Pile};
use fanwright::desk::screen::Phase;
use fanwright::desk::search::Wanted;
use fanwright::desk::{Actor, ChannelAddress, Desk, DeskError};
use fanwright::flow::library::Library;
use fanwright::flow::model::Role;
use fanwright::flow::name::{ChoiceKey, FlowName};
use fanwright::record::person::PersonId;
use fanwright::store::{InputKey, Journal, Store};
use fanwright::walk::input::Input;
use jiff::Timestamp;

/// How many evaporators the crew has.
const EVAPORATORS: usize = 1_000;

/// How many technicians.
const TECHNICIANS: usize = 8;

/// So many jobs are not accepted yet.
const LIVE: usize = 100;

/// So many jobs of a crew are made at once.
const AT_ONCE: usize = 32;

/// How often each question is asked.
const ASKED: usize = 300;

/// A new job begins so many milliseconds after the one before.
const APART: i64 = 7 * 60 * 1_000;

const FLOWS: [&str; 2] = ["turns", "hums"];

/// Goes on with every job.
#[derive(Debug)]
struct BenchClock(AtomicI64);

impl Clock for BenchClock {
    fn now(&self) -> Timestamp {
        Timestamp::from_millisecond(self.0.load(Ordering::SeqCst)).unwrap()
    }

    fn running(&self) -> Duration {
        Duration::from_millis(self.0.load(Ordering::SeqCst) as u64)
    }
}

struct Crew {
    number: usize,
    desk: Desk,
    clock: Arc<BenchClock>,
    inputs: AtomicU64,
    supervisor: Actor,
    technicians: Vec<Actor>,
    evaporators: Vec<EvaporatorId>,
}

/// A short flow: a reading, a choice, two ends.
fn flow(name: &str, title: &str) -> String {
    let text = r#"
language: en
hands_off: true
outcomes: { well: The fan turns as it should, part: A part is needed }
facts:
  fan: { one_of: { well: It turns, part: It stands still }, label: The fan }
  supply: { measures: voltage, show_in: V, label: Supply voltage }
start: read
steps:
  read:
    measure: supply
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    expect: { from: 'volt(187)', to: 'volt(253)' }
    say: What does the meter read?
    then: look
  look:
    choose: fan
    say: Does the fan turn?
    then:
      - { when: 'fan == "well"', go: well }
      - { go: part }
  well: { finish: well, say: It turns. }
  part: { finish: part, say: It stands. }
"#;
    format!("flow: {name}\ntitle: {title}{text}")
}

fn flows() -> Library {
    let titles = ["A fan that turns", "A motor that hums"];
    let flows = FLOWS.into_iter().zip(titles);
    library::library(flows.map(|(name, title)| (format!("{name}.yaml"), flow(name, title))))
}

impl Crew {
    async fn found(desk: Desk, clock: Arc<BenchClock>, crew: usize) -> Crew {
        let inputs = AtomicU64::new(0);
        let code = desk.invite_new_crew().await.unwrap().code;
        let key = |number: usize| InputKey(format!("join:{crew}:{number}"));
        let first = (crew * (1 + TECHNICIANS)) as i64;
        let chat = |user: i64| ChannelAddress::Telegram {
            chat: first + user,
            user: first + user,
        };
        let supervisor = desk.join(key(0), &code, "Sue Supervisor", &chat(1)).await;
        let supervisor = supervisor.unwrap();
        let mut technicians = Vec::new();
        for number in 1..=TECHNICIANS {
            let roles = [Role::Technician].into();
            let code = desk.invite(&supervisor, roles).await.unwrap().code;
            let name = format!(
                "Tech{} Tabor",
                ["a", "b", "c", "d", "e", "f", "g", "h"][number - 1]
            );
            let chat = chat(1 + number as i64);
            technicians.push(desk.join(key(number), &code, &name, &chat).await.unwrap());
        }
        let mut crew = Crew {
            number: crew,
            desk,
            clock,
            inputs,
            supervisor,
            technicians,
            evaporators: Vec::new(),
        };
        for number in 0..EVAPORATORS {
            let new = NewEvaporator {
                site: site(number),
                tag: format!("EV-{number}"),
                hangs: ["meat cooler, left", "dairy cooler", "freezer"][number % 3].to_owned(),
            };
            let added = crew
                .desk
                .add_evaporator(crew.key(), &crew.supervisor, new)
                .await;
            crew.evaporators.push(added.unwrap().id);
        }
        crew
    }

    fn technician(&self, turn: usize) -> Option<PersonId> {
        Some(self.technicians[turn % TECHNICIANS].person)
    }

    fn key(&self) -> InputKey {
        let number = self.inputs.fetch_add(1, Ordering::SeqCst);
        InputKey(format!("bench:{}:{number}", self.number))
    }

    /// One job, as far as its number says. A technician walks one flow only.
    async fn job(&self, number: usize) -> JobId {
        self.clock.0.fetch_add(APART, Ordering::SeqCst);
        let who = &self.technicians[number % TECHNICIANS];
        let new = NewJob {
            evaporator: self.evaporators[(number * 7) % EVAPORATORS],
            flow: FlowName::from(FLOWS[number % 2]),
            training: false,
        };
        let job = self
            .desk
            .begin(self.key(), who, new)
            .await
            .unwrap()
            .screen
            .job;
        let is_live = number < LIVE;
        if is_live && number.is_multiple_of(4) {
            return job;
        }
        let volts = Input::Text(format!("{} V", 200 + number % 40));
        let screen = self
            .desk
            .handle(self.key(), who, job, volts)
            .await
            .unwrap()
            .screen;
        let ends = if number % 50 == 1 { "part" } else { "well" };
        let press = Input::Press {
            revision: screen.prompt.revision,
            key: ChoiceKey::from(ends),
        };
        self.desk.handle(self.key(), who, job, press).await.unwrap();
        if is_live && number % 4 == 1 {
            return job;
        }
        let hand_in = Input::HandIn;
        self.desk
            .handle(self.key(), who, job, hand_in)
            .await
            .unwrap();
        if !is_live {
            let accepted = self
                .desk
                .accept(self.key(), &self.supervisor, job, "")
                .await;
            accepted.unwrap();
        }
        job
    }
}

/// Ten sites of which every one has a hundred evaporators; two words of forty each.
fn site(number: usize) -> String {
    let first = ["Corner", "Cold", "Harbor", "Hill", "Pier"][number % 5];
    let second = ["Market", "Kitchen"][number / 5 % 2];
    format!("{first} {second}")
}

/// Makes jobs until every crew has so many.
async fn fill(crews: &[Arc<Crew>], have: usize, want: usize) {
    let next: Vec<_> = crews
        .iter()
        .map(|_| Arc::new(AtomicU64::new(have as u64)))
        .collect();
    let mut hands = tokio::task::JoinSet::new();
    for hand in 0..AT_ONCE * crews.len() {
        let crew = Arc::clone(&crews[hand % crews.len()]);
        let next = Arc::clone(&next[hand % crews.len()]);
        hands.spawn(async move {
            loop {
                let number = next.fetch_add(1, Ordering::SeqCst) as usize;
                if number >= want {
                    return;
                }
                crew.job(number).await;
            }
        });
    }
    hands.join_all().await;
}

/// Asks again and again and prints the middle and the slow end.
async fn ask<F: Future<Output = Result<usize, DeskError>>>(
    what: &str,
    question: impl Fn(usize) -> F,
) {
    let mut took = Vec::with_capacity(ASKED);
    let mut found = 0;
    for turn in 0..ASKED {
        let begin = Instant::now();
        found = question(turn).await.unwrap();
        took.push(begin.elapsed());
    }
    took.sort();
    let at = |share: usize| took[(ASKED * share / 100).min(ASKED - 1)].as_secs_f64() * 1e3;
    println!(
        "  {what:<52} {found:>3} found  p50 {:>7.2} ms  p99 {:>7.2} ms",
        at(50),
        at(99)
    );
}

async fn search(crew: &Crew, wanted: Wanted) -> Result<usize, DeskError> {
    let found = crew.desk.find_jobs(&crew.supervisor, &wanted, None).await?;
    Ok(found.jobs.len())
}

async fn words(crew: &Crew, words: &str) -> Result<usize, DeskError> {
    let words = words.to_owned();
    search(
        crew,
        Wanted {
            words,
            ..Wanted::default()
        },
    )
    .await
}

/// What a supervisor's first page asks the desk.
async fn first_page(crew: &Crew) -> Result<usize, DeskError> {
    let (desk, who) = (&crew.desk, &crew.supervisor);
    let mut shown = desk.inbox(who).await?.len();
    shown += desk.my_jobs(who).await?.len() + desk.offered_jobs(who).await?.len();
    shown += desk.jobs_to_review(who).await?.len();
    shown += desk
        .jobs_on(who, Pile::Open, (None, JOBS_A_PAGE))
        .await?
        .items
        .len();
    for phase in [
        Phase::Stopped,
        Phase::LockedOut,
        Phase::SentBack,
        Phase::Accepted,
    ] {
        shown += desk
            .jobs_on(who, Pile::In(phase), (None, 4))
            .await?
            .items
            .len();
    }
    Ok(shown)
}

async fn pages(crew: &Crew, last: JobId) {
    let (desk, who) = (&crew.desk, &crew.supervisor);
    ask("the supervisor's first page", |_| first_page(crew)).await;
    for (what, pile) in [
        ("open jobs", Pile::Open),
        ("finished jobs", Pile::Over),
        ("accepted jobs", Pile::In(Phase::Accepted)),
    ] {
        ask(what, async |_| {
            Ok(desk
                .jobs_on(who, pile, (None, JOBS_A_PAGE))
                .await?
                .items
                .len())
        })
        .await;
    }
    let mut after = None;
    for _ in 0..10 {
        let found = desk
            .find_jobs(who, &Wanted::default(), after)
            .await
            .unwrap();
        after = found.next;
    }
    ask("all jobs", |_| search(crew, Wanted::default())).await;
    ask("all jobs, the eleventh page", async |_| {
        let found = desk
            .find_jobs(who, &Wanted::default(), after.clone())
            .await?;
        Ok(found.jobs.len())
    })
    .await;
    ask("one evaporator's page", async |turn| {
        let evaporator = crew.evaporators[turn % EVAPORATORS];
        Ok(desk.evaporator(who, evaporator, None).await?.jobs.len())
    })
    .await;
    ask("what the filters offer", async |_| {
        Ok(desk.search_choices(who).await?.sites.len())
    })
    .await;
    let number = last.to_string();
    ask("a job's number", |_| words(crew, &number)).await;
}

/// One way to fill in what is wanted, for the question of this number.
type Filter = (&'static str, fn(&Crew, usize, &mut Wanted));

const FILTERS: [Filter; 11] = [
    ("site", |_, turn, it| it.site = Some(site(turn))),
    ("evaporator", |crew, turn, it| {
        it.evaporator = Some(crew.evaporators[turn % EVAPORATORS]);
    }),
    ("person", |crew, turn, it| it.person = crew.technician(turn)),
    ("flow", |_, turn, it| {
        it.flow = Some(FlowName::from(FLOWS[turn % 2]))
    }),
    ("accepted", |_, _, it| it.phase = Some(Phase::Accepted)),
    ("handed in", |_, _, it| it.phase = Some(Phase::HandedIn)),
    ("open", |_, _, it| it.phase = Some(Phase::Open)),
    ("how it ended, rare", |_, _, it| {
        it.ended = Some("A part is needed".to_owned())
    }),
    ("one day", |_, _, it| {
        it.from = "2020-01-03".parse().ok();
        it.to = it.from;
    }),
    (
        "person, site, how it ended, from a day",
        |crew, turn, it| {
            it.person = crew.technician(turn);
            it.site = Some(site(turn));
            it.ended = Some("The fan turns as it should".to_owned());
            it.from = "2020-01-02".parse().ok();
        },
    ),
    ("person and flow that never meet", |crew, turn, it| {
        it.person = crew.technician(turn);
        it.flow = Some(FlowName::from(FLOWS[(turn + 1) % 2]));
    }),
];

async fn filters(crew: &Crew) {
    for (name, fill_in) in FILTERS {
        let what = format!("filter: {name}");
        ask(&what, |turn| {
            let mut wanted = Wanted::default();
            fill_in(crew, turn, &mut wanted);
            search(crew, wanted)
        })
        .await;
    }
}

async fn searches(crew: &Crew) {
    for typed in [
        "c",
        "corn",
        "corner kitchen meat",
        "ev 77",
        "fan turns",
        "techa freezer",
        "zzz",
    ] {
        let what = format!("words: {typed}");
        ask(&what, |_| words(crew, typed)).await;
    }
    ask("words and filters: pier, accepted, person", |turn| {
        search(
            crew,
            Wanted {
                words: "pier".to_owned(),
                phase: Some(Phase::Accepted),
                person: crew.technician(turn),
                ..Wanted::default()
            },
        )
    })
    .await;
}

async fn measured(sizes: &[usize], crews: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = Journal::open(folder.path()).unwrap();
    let store: Arc<dyn Store> = Arc::new(journal);
    let begin: Timestamp = "2020-01-01T08:00:00Z".parse().unwrap();
    let clock = Arc::new(BenchClock(AtomicI64::new(begin.as_millisecond())));
    let desk = desk::desk(Arc::clone(&store), clock.clone(), flows());
    desk.start().await.unwrap();
    let mut all = Vec::new();
    for number in 0..crews {
        let crew = Crew::found(desk.clone(), clock.clone(), number);
        all.push(Arc::new(crew.await));
    }
    let mut have = 0;
    for size in sizes {
        let begin = Instant::now();
        let each = size / crews;
        // The last one is made alone, so that its number is known.
        fill(&all, have, each - 1).await;
        let mut last = Vec::new();
        for crew in &all {
            last.push(crew.job(each - 1).await);
        }
        let took = begin.elapsed().as_secs_f64();
        let more = (each - have) * crews;
        println!("{size} jobs of {crews} crews ({more} more made in {took:.1} s)");
        have = each;
        pages(&all[0], last[0]).await;
        filters(&all[0]).await;
        searches(&all[0]).await;
    }
    store.close().await.unwrap();
}

fn main() {
    let sizes = std::env::var("LISTS_JOBS").unwrap_or_else(|_| "1000,10000,100000".to_owned());
    let sizes = sizes.split(',').map(|size| size.trim().parse().unwrap());
    let sizes: Vec<usize> = sizes.collect();
    let crews = std::env::var("LISTS_CREWS").map_or(1, |crews| crews.parse().unwrap());
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build();
    runtime.unwrap().block_on(measured(&sizes, crews));
}
