//! The stage of a story: a desk over a store in memory, its people, a clock, and the way in which
//! the people talk.

mod answer;

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock, Mutex};
use std::time::Duration;

use fanwright::desk::id::JobId;
use fanwright::desk::screen::{Outcome, Screen};
use fanwright::desk::{Actor, ChannelAddress, Desk, Parts, Rules};
use fanwright::flow::embedded;
use fanwright::flow::library::Library;
use fanwright::flow::model::{Act, Role};
use fanwright::record::chain::verify_chain;
use fanwright::record::entry::Entry;
use fanwright::record::stands_out::Rule;
use fanwright::record::stream::Seq;
use fanwright::report::checklist::Checklist;
use fanwright::report::pdf::Paper;
use fanwright::server;
use fanwright::store::{InputKey, Memory, Store};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::state::{Mode, Review};
use fanwright::walk::{GO, State};
use jiff::{SignedDuration, Timestamp};

use super::script::{Event, Script};
use super::told::Told;
use super::way::{Deed, Floor, Way};
use crate::desk::{Counted, TestClock};

/// Where the walk stands.
pub(crate) struct Place {
    pub(crate) flow: String,
    pub(crate) step: String,
    pub(crate) visit: usize,
}

/// A stage with a job on it.
pub(crate) struct Stage<W> {
    pub(crate) told: Told,
    floor: Floor,
    way: W,
    memory: Memory,
    chance: Arc<Counted>,
    cast: BTreeMap<String, Actor>,
    job: JobId,
    /// How often each step was reached, and the revision of the last count.
    visits: BTreeMap<(String, String), usize>,
    last_step: Option<(String, String)>,
    done: Vec<usize>,
    folded: Mutex<Option<State>>,
}

impl<W: Way> Stage<W> {
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
        let floor = Floor { desk, clock };
        let mut way = W::open(&floor).await;
        for actor in cast.values() {
            way.come_in(&floor, actor).await;
        }
        let holder = &cast[&script.holder];
        way.begin(&floor, holder).await;
        let jobs = floor.desk.my_jobs(holder).await.unwrap();
        Self {
            told,
            floor,
            way,
            memory,
            chance,
            cast,
            job: jobs[0].job,
            visits: BTreeMap::new(),
            last_step: None,
            done: Vec::new(),
            folded: Mutex::new(None),
        }
    }

    /// What stays when nobody talks any more: what of the way was against a rule.
    pub(crate) async fn close(self) {
        self.way.close().await;
    }

    fn now(&self) -> Timestamp {
        self.floor.now()
    }

    async fn pass(&mut self, time: SignedDuration) {
        {
            let mut clock = self.floor.clock.0.lock().unwrap();
            clock.0 += time;
            clock.1 += Duration::try_from(time).unwrap();
        }
        self.floor.desk.end_waits().await.unwrap();
    }

    /// The checklist, as a supervisor gets it.
    pub(crate) async fn checklist(&self) -> Checklist {
        let list = self.floor.desk.checklist(&self.cast["Sue"], self.job);
        list.await.unwrap()
    }

    /// The report of the job.
    pub(crate) async fn pdf(&self) -> Vec<u8> {
        let desk = &self.floor.desk;
        let pdf = desk.pdf(&self.cast["Sue"], self.job, Paper::Letter);
        pdf.await.unwrap()
    }

    /// The record with everybody by name: nothing of it may depend on the way of talking.
    pub(crate) async fn record(&self) -> Vec<serde_json::Value> {
        let entries = self.entries().await;
        let mut text = serde_json::to_string(&entries).unwrap();
        for (name, actor) in &self.cast {
            text = text.replace(&actor.person.0.to_string(), name);
        }
        let evaporator = self.screen("Sue").await.evaporator.id;
        text = text.replace(&evaporator.to_string(), "the evaporator");
        let mut record: Vec<serde_json::Value> = serde_json::from_str(&text).unwrap();
        for entry in &mut record {
            let entry = entry.as_object_mut().unwrap();
            let channel = entry.remove("channel").unwrap();
            assert!(channel == "server" || channel == W::CHANNEL, "{channel}");
            // A seal is over the bytes as they are stored, ids and channel with them.
            if entry["what"]["what"] == "sealed" {
                entry["what"]["seal"]
                    .as_object_mut()
                    .unwrap()
                    .remove("signature");
                entry["what"]["head"]
                    .as_object_mut()
                    .unwrap()
                    .remove("hash");
            }
        }
        record
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
        let read = [Review::HandedIn, Review::Accepted];
        !state.is_open() && read.contains(&state.review)
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
        let screen = self.floor.desk.screen(holder, self.job).await.unwrap();
        assert_eq!(screen.prompt.revision, state.revision);
        self.honest_work_stands_out_only_where_it_was_quick(holder)
            .await;
    }

    /// Every step of a story takes 20 s, which is quick for some; nothing else is to be asked
    /// about but readings that the story itself has out of range.
    async fn honest_work_stands_out_only_where_it_was_quick(&self, holder: &Actor) {
        let found = self.floor.desk.what_stands_out(holder, self.job).await;
        for finding in found.unwrap() {
            let quick =
                finding.rule == Rule::AnsweredFast && finding.sentence.contains("after 20 s");
            let is_expected = quick || finding.rule == Rule::OutOfBand;
            assert!(is_expected, "{finding:#?}");
        }
    }

    async fn screen(&self, name: &str) -> Screen {
        self.floor
            .desk
            .screen(&self.cast[name], self.job)
            .await
            .unwrap()
    }

    /// Does something that must be taken.
    async fn give(&mut self, name: &str, words: &str, input: Input) {
        self.does(name, words, Deed::Input(input)).await;
    }

    async fn does(&mut self, name: &str, words: &str, deed: Deed) {
        self.told.person(name, words);
        let screen = self.screen(name).await;
        let before = self.state().await.revision;
        let actor = &self.cast[name];
        // On the heap: a whole channel is more than the stack of a test carries.
        let answer = Box::pin(self.way.does(&self.floor, actor, &screen, deed)).await;
        assert!(
            self.state().await.revision > before,
            "{name} {words} had no effect: {answer}\n{}",
            self.told.tail()
        );
        self.pass(SignedDuration::from_secs(20)).await;
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
            Event::SendBack(name, remark, steps) => {
                self.hands_in_and_goes_on(&holder, (name, remark, steps))
                    .await;
            }
            Event::End => {}
        }
    }

    /// The holder hands in, the supervisor sends steps back, the holder goes on.
    async fn hands_in_and_goes_on(&mut self, holder: &str, back: (&str, &str, &[String])) {
        let act = |action: Action| format!("[{}]", action.label());
        let screen = self.screen(holder).await;
        self.told.screen(&screen, self.now());
        self.give(holder, &act(Action::HandIn), Input::HandIn).await;
        let (name, remark, steps) = back;
        self.sends_back(name, remark, steps).await;
        let screen = self.screen(holder).await;
        self.told.screen(&screen, self.now());
        self.give(holder, &act(Action::Resume), Input::Resume).await;
    }

    /// A supervisor sends steps back, from the channel that everybody uses. How a channel lets
    /// them choose the steps is a test of its own.
    async fn sends_back(&mut self, name: &str, remark: &str, steps: &[String]) {
        let shown = steps.join(", ");
        self.told
            .person(name, &format!("[Send these back] {shown}: {remark}"));
        let mut actor = self.cast[name].clone();
        actor.channel = serde_json::from_value(W::CHANNEL.into()).unwrap();
        let input = Input::SendBack {
            remark: remark.to_owned(),
            steps: steps.iter().map(|step| step.parse().unwrap()).collect(),
        };
        let key = InputKey(format!("story:send-back:{}", self.done.len()));
        let handled = self.floor.desk.handle(key, &actor, self.job, input).await;
        let outcome = handled.unwrap().outcome;
        assert_eq!(outcome, Outcome::Advanced);
        self.pass(SignedDuration::from_secs(20)).await;
    }

    async fn crash(&mut self) {
        self.told.line("(the server is killed and comes back)");
        let before = self.state().await;
        self.memory = self.memory.reopen();
        let now = self.now();
        let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let desk = desk(&self.memory, &clock, &self.chance);
        desk.start().await.unwrap();
        self.floor = Floor { desk, clock };
        self.way.comes_back(&self.floor).await;
        *self.folded.lock().unwrap() = None;
        assert_eq!(before, self.state().await);
    }
}

fn act_of(place: &Place) -> Option<Act> {
    let flow = crate::walk::EDITION.flow(&place.flow.as_str().into())?;
    Some(flow.step(&place.step.as_str().into())?.act.clone())
}

/// The shipped flows, read once for all stories.
static LIBRARY: LazyLock<Library> = LazyLock::new(|| embedded::library().unwrap());

fn desk(memory: &Memory, clock: &Arc<TestClock>, chance: &Arc<Counted>) -> Desk {
    Desk::new(Parts {
        store: Arc::new(memory.clone()),
        clock: Arc::clone(clock) as _,
        chance: Arc::clone(chance) as _,
        keys: crate::desk::keys(),
        library: LIBRARY.clone(),
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
