//! The stage of a story: a desk over a store in memory, its people, and a clock.

mod answer;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Handled, Outcome, Screen};
use fanwright::desk::{Actor, ChannelAddress, Desk, Parts, Rules};
use fanwright::flow::embedded;
use fanwright::flow::model::{Act, Role};
use fanwright::record::chain::verify_chain;
use fanwright::record::entry::Entry;
use fanwright::record::stream::Seq;
use fanwright::server;
use fanwright::store::{InputKey, Memory, Store};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::state::Mode;
use fanwright::walk::{GO, State};
use jiff::{SignedDuration, Timestamp};

use super::script::{Event, Script};
use super::told::Told;
use crate::desk::{Counted, TestClock};

/// Where the walk stands.
pub(crate) struct Place {
    pub(crate) flow: String,
    pub(crate) step: String,
    pub(crate) visit: usize,
}

/// A stage with a job on it.
pub(crate) struct Stage {
    pub(crate) told: Told,
    desk: Desk,
    memory: Memory,
    clock: Arc<TestClock>,
    chance: Arc<Counted>,
    cast: BTreeMap<String, Actor>,
    job: JobId,
    inputs: u64,
    /// How often each step was reached, and the revision of the last count.
    visits: BTreeMap<(String, String), usize>,
    last_step: Option<(String, String)>,
    done: Vec<usize>,
    folded: Mutex<Option<State>>,
}

impl Stage {
    pub(crate) async fn set(script: &Script) -> Self {
        let memory = Memory::new();
        let now: Timestamp = "2031-05-04T08:00:00Z".parse().unwrap();
        let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let chance = Arc::new(Counted::default());
        let desk = desk(&memory, &clock, &chance);
        desk.start().await.unwrap();
        let mut told = Told::default();
        told.line(&format!("# {}", script.story));
        let cast = cast(&desk, script).await;
        let holder = &cast[&script.holder];
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: "EV-3".to_owned(),
            hangs: "meat cooler, left".to_owned(),
        };
        let place = desk
            .add_evaporator(InputKey("story:e".into()), holder, new)
            .await
            .unwrap();
        let job = NewJob {
            evaporator: place.id,
            flow: embedded::main_flow(),
            training: false,
        };
        let handled = desk
            .begin(InputKey("story:j".into()), holder, job)
            .await
            .unwrap();
        let job = handled.screen.job;
        Self {
            told,
            desk,
            memory,
            clock,
            chance,
            cast,
            job,
            inputs: 0,
            visits: BTreeMap::new(),
            last_step: None,
            done: Vec::new(),
            folded: Mutex::new(None),
        }
    }

    fn now(&self) -> Timestamp {
        self.clock.0.lock().unwrap().0
    }

    async fn pass(&mut self, time: SignedDuration) {
        {
            let mut clock = self.clock.0.lock().unwrap();
            clock.0 += time;
            clock.1 += Duration::try_from(time).unwrap();
        }
        self.desk.end_waits().await.unwrap();
    }

    pub(crate) async fn entries(&self) -> Vec<Entry> {
        let stored = self
            .memory
            .read(self.job.stream(), Seq::FIRST, 100_000)
            .await
            .unwrap();
        stored
            .iter()
            .map(|stored| serde_json::from_slice(&stored.bytes).unwrap())
            .collect()
    }

    /// The fold of what is stored, kept up from entry to entry.
    async fn state(&self) -> State {
        let known = self.folded.lock().unwrap().clone();
        let from = Seq(known.as_ref().map_or(0, |state| state.revision)).next();
        let stored = self
            .memory
            .read(self.job.stream(), from, 100_000)
            .await
            .unwrap();
        let new: Vec<Entry> = stored
            .iter()
            .map(|stored| serde_json::from_slice(&stored.bytes).unwrap())
            .collect();
        let state = match known {
            None => State::fold(&new).unwrap(),
            Some(mut state) => {
                new.iter()
                    .for_each(|entry| fanwright::walk::apply(&mut state, entry));
                state
            }
        };
        *self.folded.lock().unwrap() = Some(state.clone());
        state
    }

    fn holder_of(&self, state: &State) -> String {
        let holds = |actor: &Actor| actor.person == state.holder;
        self.cast
            .iter()
            .find(|(_, actor)| holds(actor))
            .unwrap()
            .0
            .clone()
    }

    /// Where the walk stands, counting visits.
    pub(crate) async fn place(&mut self) -> Place {
        let state = self.state().await;
        let (flow, step) = state
            .top()
            .map(|call| (call.flow.to_string(), call.step.to_string()))
            .unwrap_or_default();
        let key = (flow.clone(), step.clone());
        if self.last_step.as_ref() != Some(&key) {
            *self.visits.entry(key.clone()).or_default() += 1;
            self.last_step = Some(key.clone());
        }
        Place {
            flow,
            step,
            visit: self.visits[&key],
        }
    }

    /// What happens here and has not happened yet.
    pub(crate) fn event(&mut self, script: &Script, place: &Place) -> Option<Event> {
        let here = format!("{}/{}", place.flow, place.step);
        let index = script
            .events
            .iter()
            .enumerate()
            .position(|(index, happening)| {
                !self.done.contains(&index)
                    && (happening.at == place.step || happening.at == here)
                    && happening.visit == place.visit
            })?;
        self.done.push(index);
        Some(script.events[index].event.clone())
    }

    pub(crate) async fn is_over(&self) -> bool {
        let state = self.state().await;
        !state.is_open() && state.review != fanwright::walk::state::Review::None
    }

    /// How the job ended.
    pub(crate) async fn outcome(&self) -> String {
        match self.state().await.mode {
            Mode::Finished { outcome, .. } => outcome.to_string(),
            Mode::Left { .. } => "left".to_owned(),
            other => format!("{other:?}"),
        }
    }

    /// The chain is whole, and the state that the desk shows is the fold of what is stored.
    pub(crate) async fn record_holds(&self) {
        let stored = self
            .memory
            .read(self.job.stream(), Seq::FIRST, 100_000)
            .await
            .unwrap();
        verify_chain(self.job.stream(), &stored).unwrap();
        let state = State::fold(&self.entries().await).unwrap();
        assert_eq!(state, self.state().await);
        let holder = &self.cast[&self.holder_of(&state)];
        let screen = self.desk.screen(holder, self.job).await.unwrap();
        assert_eq!(screen.prompt.revision, state.revision);
    }

    async fn screen(&self, name: &str) -> Screen {
        self.desk.screen(&self.cast[name], self.job).await.unwrap()
    }

    /// Gives an input that must be taken.
    async fn give(&mut self, name: &str, words: &str, input: Input) -> Handled {
        self.told.person(name, words);
        self.inputs += 1;
        let key = InputKey(format!("story:{}", self.inputs));
        let handled = self
            .desk
            .handle(key, &self.cast[name], self.job, input)
            .await
            .unwrap();
        if let Outcome::Refused(sentence) = &handled.outcome {
            panic!("{name} {words}: {sentence}\n{}", self.told.tail());
        }
        self.pass(SignedDuration::from_secs(20)).await;
        handled
    }

    /// A person of one of `roles` releases the hold, or stands beside the apprentice.
    async fn somebody_else(&mut self, roles: &[Role], place: &Place) {
        let fits = |actor: &Actor| roles.iter().any(|role| actor.is(*role));
        let name = self
            .cast
            .iter()
            .find(|(_, actor)| fits(actor))
            .map(|(name, _)| name.clone());
        let name = name.unwrap_or_else(|| panic!("nobody is {roles:?}\n{}", self.told.tail()));
        let screen = self.screen(&name).await;
        let is_hold = matches!(act_of(place), Some(Act::Hold { .. }));
        if is_hold {
            self.told.screen(&screen, self.now());
            let Ask::Press(buttons) = &screen.prompt.ask else {
                panic!("{:?}", screen.prompt.ask)
            };
            let words = format!("[{}]", buttons[0].label);
            let input = Input::Press {
                revision: screen.prompt.revision,
                key: GO.into(),
            };
            self.give(&name, &words, input).await;
        } else {
            let words = format!("[{}]", Action::StandBeside.label());
            self.give(&name, &words, Input::StandBeside).await;
        }
    }

    /// Something happens.
    pub(crate) async fn happens(&mut self, event: &Event) {
        let state = self.state().await;
        let holder = self.holder_of(&state);
        let act = |action: Action| format!("[{}]", action.label());
        match event {
            Event::HandOverTo(name) => {
                let to = self.cast[name].person;
                self.give(&holder, &act(Action::HandOver), Input::HandOver(Some(to)))
                    .await;
                let screen = self.screen(name).await;
                self.told.screen(&screen, self.now());
                self.give(name, &act(Action::TakeOver), Input::TakeOver)
                    .await;
            }
            Event::LocksOff(name) => {
                self.give(name, &act(Action::TakeOwnLockOff), Input::TakeOwnLockOff)
                    .await;
            }
            Event::Stop(why) => {
                self.give(&holder, &act(Action::Stop), Input::Stop).await;
                let screen = self.screen(&holder).await;
                self.told.screen(&screen, self.now());
                self.give(&holder, why, Input::Text(why.clone())).await;
                let screen = self.screen(&holder).await;
                self.told.screen(&screen, self.now());
            }
            Event::Lift => {
                let fits = |actor: &Actor| actor.is(Role::Supervisor);
                let name = self
                    .cast
                    .iter()
                    .find(|(_, actor)| fits(actor))
                    .unwrap()
                    .0
                    .clone();
                self.give(&name, &act(Action::LiftStop), Input::LiftStop)
                    .await;
            }
            Event::Leave(owner, again) => {
                self.give(&holder, &act(Action::LeaveLockedOut), Input::LeaveLockedOut)
                    .await;
                let screen = self.screen(&holder).await;
                self.told.screen(&screen, self.now());
                self.give(&holder, owner, Input::Text(owner.clone())).await;
                self.give(&holder, again, Input::Text(again.clone())).await;
            }
            Event::Minutes(minutes) => {
                self.told.line(&format!("({minutes} min go by)"));
                self.pass(SignedDuration::from_mins(*minutes)).await;
            }
            Event::Crash => self.crash().await,
            Event::Back => {
                self.give(&holder, &act(Action::Back), Input::Back).await;
            }
            Event::Pause(minutes) => {
                self.give(&holder, &act(Action::Pause), Input::Pause).await;
                self.told.line(&format!("({minutes} min go by)"));
                self.pass(SignedDuration::from_mins(*minutes)).await;
                self.give(&holder, &act(Action::Resume), Input::Resume)
                    .await;
            }
            Event::End => {}
        }
    }

    async fn crash(&mut self) {
        self.told.line("(the server is killed and comes back)");
        let before = self.state().await;
        self.memory = self.memory.reopen();
        let now = self.now();
        self.clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        self.desk = desk(&self.memory, &self.clock, &self.chance);
        self.desk.start().await.unwrap();
        *self.folded.lock().unwrap() = None;
        assert_eq!(before, self.state().await);
    }
}

fn act_of(place: &Place) -> Option<Act> {
    let flow = crate::walk::EDITION.flow(&place.flow.as_str().into())?;
    Some(flow.step(&place.step.as_str().into())?.act.clone())
}

fn desk(memory: &Memory, clock: &Arc<TestClock>, chance: &Arc<Counted>) -> Desk {
    Desk::new(Parts {
        store: Arc::new(memory.clone()),
        clock: Arc::clone(clock) as _,
        chance: Arc::clone(chance) as _,
        library: embedded::library().unwrap(),
        goods: server::demo_goods(),
        rules: Rules::default(),
    })
}

async fn cast(desk: &Desk, script: &Script) -> BTreeMap<String, Actor> {
    let mut cast = BTreeMap::new();
    let code = desk.first_supervisor_code().await.unwrap().unwrap().code;
    let address = |account: &str| ChannelAddress::Terminal {
        account: account.to_owned(),
    };
    let key = |name: &str| InputKey(format!("story:join:{name}"));
    let founder = desk
        .join(key("Sue"), &code, "Sue", &address("Sue"))
        .await
        .unwrap();
    for (name, roles) in script.people.iter().filter(|(name, _)| *name != "Sue") {
        let roles = roles.iter().copied().collect();
        let code = desk.invite(&founder, roles).await.unwrap().code;
        let actor = desk
            .join(key(name), &code, name, &address(name))
            .await
            .unwrap();
        cast.insert(name.clone(), actor);
    }
    cast.insert("Sue".to_owned(), founder);
    cast
}
