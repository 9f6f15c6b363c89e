//! A crew of many people, each at a job of their own.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use fanwright::desk::clock::Clock;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Outcome, Screen};
use fanwright::desk::{Actor, ChannelAddress, Desk};
use fanwright::flow::model::Role;
use fanwright::flow::name::{ChoiceKey, FlowName};
use fanwright::store::{InputKey, Store};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use jiff::{SignedDuration, Timestamp};

use crate::desk::desk;
use crate::figures::{Figures, Stretch, bytes_in};
use crate::rounds::{answer, library};

/// A job is walked for so many steps, about as many as a whole job has; then another begins.
const STEPS_A_JOB: usize = 60;

/// The machine's clock, set forward now and then.
#[derive(Debug, Default)]
struct SetForward(AtomicI64);

impl Clock for SetForward {
    fn now(&self) -> Timestamp {
        Timestamp::now() + SignedDuration::from_millis(self.0.load(Ordering::Relaxed))
    }

    fn running(&self) -> Duration {
        let now = self.now().as_millisecond();
        Duration::from_millis(now.unsigned_abs())
    }
}

/// Everybody and everything.
pub(crate) struct Crew {
    desk: Desk,
    store: Arc<dyn Store>,
    clock: Arc<SetForward>,
    inputs: AtomicU64,
    people: Vec<Actor>,
    evaporators: Vec<EvaporatorId>,
}

impl Crew {
    /// So many technicians, each with an evaporator.
    pub(crate) async fn found(store: Arc<dyn Store>, people: usize) -> Crew {
        let clock = Arc::new(SetForward::default());
        let desk = desk(Arc::clone(&store), clock.clone(), library());
        desk.start().await.unwrap();
        let code = desk.first_supervisor_code().await.unwrap().unwrap().code;
        let mut crew = Crew {
            desk,
            store,
            clock,
            inputs: AtomicU64::new(0),
            people: Vec::new(),
            evaporators: Vec::new(),
        };
        let chat = |user: usize| ChannelAddress::Telegram {
            chat: user as i64,
            user: user as i64,
        };
        let first = chat(1);
        let supervisor = crew.desk.join(crew.key(), &code, "Sue Supervisor", &first);
        let supervisor = supervisor.await.unwrap();
        for number in 0..people {
            let invited = crew.desk.invite(&supervisor, [Role::Technician].into());
            let code = invited.await.unwrap().code;
            let address = chat(number + 2);
            let joined = crew.desk.join(crew.key(), &code, "Tech Tabor", &address);
            crew.people.push(joined.await.unwrap());
            let new = NewEvaporator {
                site: "Corner Market".to_owned(),
                tag: format!("EV-{number}"),
                hangs: "meat cooler, left".to_owned(),
            };
            let added = crew.desk.add_evaporator(crew.key(), &supervisor, new);
            crew.evaporators.push(added.await.unwrap().id);
        }
        crew
    }

    pub(crate) async fn close(&self) {
        self.store.close().await.unwrap();
    }

    /// Lets time go by.
    pub(crate) fn later(&self, by: Duration) {
        let by = i64::try_from(by.as_millis()).unwrap();
        self.clock.0.fetch_add(by, Ordering::Relaxed);
    }

    fn key(&self) -> InputKey {
        let number = self.inputs.fetch_add(1, Ordering::Relaxed);
        InputKey(format!("telegram:1000000000:{number}"))
    }

    /// Begins a job of this person.
    pub(crate) async fn begun(&self, person: usize) -> Screen {
        let new = NewJob {
            evaporator: self.evaporators[person],
            flow: FlowName::from("rounds"),
            training: false,
        };
        let who = &self.people[person];
        self.desk.begin(self.key(), who, new).await.unwrap().screen
    }

    /// Answers what a screen asks.
    pub(crate) async fn answered(&self, person: usize, screen: &Screen) -> Screen {
        self.handled(person, screen.job, answer(&screen.prompt))
            .await
    }

    async fn handled(&self, person: usize, job: JobId, input: Input) -> Screen {
        let who = &self.people[person];
        let handled = self.desk.handle(self.key(), who, job, input);
        let handled = handled.await.unwrap();
        assert_eq!(handled.outcome, Outcome::Advanced);
        handled.screen
    }

    /// Walks so many jobs at once for at least so long.
    pub(crate) async fn walked(
        self: &Arc<Self>,
        jobs: usize,
        long: Duration,
        journal: &Path,
    ) -> Figures {
        let mut figures = Figures::default();
        while figures.together < long {
            let begun = self.of_all(jobs, |crew, person| async move {
                vec![(crew.begun(person).await, Duration::ZERO)]
            });
            let screens = begun.await.into_iter().map(|mut one| one.remove(0).0);
            let screens: Vec<Screen> = screens.collect();
            let (bytes, stretch) = (bytes_in(journal), Stretch::begin());
            let screens = Arc::new(screens);
            let walked = self.of_all(jobs, move |crew, person| {
                let screens = Arc::clone(&screens);
                async move { crew.steps(person, screens[person].clone()).await }
            });
            let walked = walked.await;
            stretch.end(&mut figures);
            figures.bytes += bytes_in(journal) - bytes;
            let mut ends = Vec::new();
            for mut one in walked {
                ends.extend(one.pop().map(|(screen, _)| screen));
                figures.took.extend(one.into_iter().map(|(_, took)| took));
            }
            let ends = Arc::new(ends);
            let over = self.of_all(jobs, move |crew, person| {
                let ends = Arc::clone(&ends);
                async move {
                    crew.over(person, &ends[person]).await;
                    Vec::new()
                }
            });
            over.await;
        }
        figures
    }

    /// Does something for so many people at once; the answers in their order.
    async fn of_all<F, W>(self: &Arc<Self>, people: usize, work: W) -> Vec<Vec<(Screen, Duration)>>
    where
        F: Future<Output = Vec<(Screen, Duration)>> + Send + 'static,
        W: Fn(Arc<Crew>, usize) -> F,
    {
        let hands: Vec<_> = (0..people)
            .map(|person| tokio::spawn(work(Arc::clone(self), person)))
            .collect();
        let mut all = Vec::with_capacity(people);
        for hand in hands {
            all.push(hand.await.unwrap());
        }
        all
    }

    /// Walks a job; every screen with how long it took, and the last one once more at the end.
    async fn steps(&self, person: usize, first: Screen) -> Vec<(Screen, Duration)> {
        let mut screen = first;
        let mut took = Vec::with_capacity(STEPS_A_JOB + 1);
        for _ in 0..STEPS_A_JOB {
            let begin = Instant::now();
            let next = self.answered(person, &screen).await;
            took.push((std::mem::replace(&mut screen, next), begin.elapsed()));
        }
        took.push((screen, Duration::ZERO));
        took
    }

    /// Ends a job that stands anywhere in its round.
    async fn over(&self, person: usize, at: &Screen) {
        let mut screen = at.clone();
        loop {
            let keys = match &screen.prompt.ask {
                Ask::Press(buttons) => buttons.as_slice(),
                _ => &[],
            };
            let end = ChoiceKey::from("over");
            if keys.iter().any(|button| button.key == end) {
                let revision = screen.prompt.revision;
                let press = Input::Press { revision, key: end };
                self.handled(person, screen.job, press).await;
                return;
            }
            screen = self.answered(person, &screen).await;
        }
    }
}
