//! The people of the crew: what they do, and how it comes to the server.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Closing, Handled, Phase, Screen};
use fanwright::desk::{Actor, Desk, DeskError};
use fanwright::flow::name::FlowName;
use fanwright::record::entry::PhotoRef;
use fanwright::store::InputKey;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Ask, Button};

use crate::walk::{Dice, random_input};

use super::base::{Base, address};
use super::life::Life;
use super::plan::PEOPLE;
use super::world::{Did, Update, World};

/// Nobody waits longer than so many half seconds.
const PATIENCE: usize = 600;

/// What nobody presses who wants to come on and has good tools.
const AGAINST: [&str; 4] = [
    "Lower, or I can't read it",
    "A crack, a cut or a loose tip",
    "Something is different",
    "That is all",
];

/// The crew in front of one process of the server.
pub(super) struct People {
    world: Arc<World>,
    life: Arc<Life>,
    pub(super) desk: Desk,
    flows: Vec<FlowName>,
    evaporators: Vec<EvaporatorId>,
    photo: PhotoRef,
    /// What somebody did, on its way.
    pub(super) on_the_way: Arc<AtomicUsize>,
}

impl People {
    pub(super) fn new(base: &Base, world: &Arc<World>, life: &Arc<Life>, desk: &Desk) -> People {
        let roots = base.library.roots().map(|flow| flow.name.clone());
        People {
            world: Arc::clone(world),
            life: Arc::clone(life),
            desk: desk.clone(),
            flows: roots.collect(),
            evaporators: base.evaporators.clone(),
            photo: base.photo.clone(),
            on_the_way: Arc::default(),
        }
    }

    /// A person as the server knows them.
    pub(super) async fn actor(&self, person: usize) -> Option<Actor> {
        let known = self.desk.who_is(&address(person)).await.ok()?;
        if known.is_none() {
            self.world.wrong(format!("nobody knows person {person}"));
        }
        known
    }

    /// What stands for a person on a job; whoever has it in hand if nobody is named.
    pub(super) async fn in_front_of(
        &self,
        job: JobId,
        person: Option<usize>,
    ) -> Option<(usize, Actor, Screen)> {
        let first = person.unwrap_or(0);
        let actor = self.actor(first).await?;
        let screen = self.desk.screen(&actor, job).await.ok()?;
        if person.is_some() || screen.holder.person == actor.person {
            return Some((first, actor, screen));
        }
        for other in 0..PEOPLE {
            let actor = self.actor(other).await?;
            if actor.person == screen.holder.person {
                let screen = self.desk.screen(&actor, job).await.ok()?;
                return Some((other, actor, screen));
            }
        }
        None
    }

    pub(super) async fn begins(&self, person: usize, dice: &mut Dice) {
        let new = NewJob {
            evaporator: self.evaporators[dice.roll(self.evaporators.len())],
            flow: self.flows[dice.roll(self.flows.len())].clone(),
            training: dice.roll(8) == 0,
        };
        self.does(person, Did::Begin(new), dice);
    }

    pub(super) async fn holder_acts(&self, dice: &mut Dice) {
        if let Some(job) = self.any_job(dice)
            && let Some((person, _, screen)) = self.in_front_of(job, None).await
        {
            let input = self.input(&screen, dice);
            self.does(person, Did::Job(job, input), dice);
        }
    }

    pub(super) async fn acts(&self, person: usize, dice: &mut Dice) {
        if let Some(job) = self.any_job(dice)
            && let Some((_, _, screen)) = self.in_front_of(job, Some(person)).await
        {
            let input = self.input(&screen, dice);
            self.does(person, Did::Job(job, input), dice);
        }
    }

    pub(super) fn any_job(&self, dice: &mut Dice) -> Option<JobId> {
        let known = self.world.known();
        let count = known.jobs.len();
        // Mostly the first: a job that nobody goes on with shows nothing.
        let at = dice.roll(2) * dice.roll(count);
        known.jobs.iter().nth(at).copied()
    }

    /// What somebody makes of a screen, sensible or not.
    pub(super) fn input(&self, screen: &Screen, dice: &mut Dice) -> Input {
        let remark = "Look at it again.".to_owned();
        match (screen.closing.first(), dice.roll(3)) {
            (Some(Closing::Accept), 0) => Input::Accept { remark },
            (Some(Closing::Accept | Closing::SendBack), 1) => Input::SendBack {
                remark,
                steps: Vec::new(),
            },
            _ => match random_input(dice, &screen.prompt) {
                Input::Photo(_) => Input::Photo(self.photo.clone()),
                // Only the server itself says so.
                Input::ClockUncertain | Input::SilenceUncertain => Input::Resume,
                input => input,
            },
        }
    }

    /// What somebody makes of a screen who mostly wants to come on with the job.
    pub(super) fn mostly_sensible(&self, screen: &Screen, dice: &mut Dice) -> Input {
        let revision = screen.prompt.revision;
        if dice.roll(10) == 0 {
            return self.input(screen, dice);
        }
        match (&screen.prompt.ask, screen.phase) {
            (_, Phase::Paused) => Input::Resume,
            (_, Phase::Stopped) => Input::LiftStop,
            (Ask::Press(buttons), Phase::Open) => {
                let is_way_on = |button: &&Button| !AGAINST.contains(&button.label.as_str());
                let on: Vec<&Button> = buttons.iter().filter(is_way_on).collect();
                match on.get(dice.roll(on.len()) * dice.roll(2)) {
                    Some(button) => Input::Press {
                        revision,
                        key: button.key.clone(),
                    },
                    None => self.input(screen, dice),
                }
            }
            (Ask::Reading { example, .. }, _) => {
                let say = &screen.prompt.say;
                let read = match (example.as_str(), say.contains("known source")) {
                    // The test for absence: a live source, each pair, the live source again.
                    ("", true) if say.contains("DC") => "9 V",
                    ("", true) => "208 V",
                    ("", false) => "0.2 V",
                    (example, _) => example,
                };
                Input::Text(read.to_owned())
            }
            (Ask::Words { .. }, _) => Input::Text(format!("Words {}", dice.roll(10_000))),
            _ => self.input(screen, dice),
        }
    }

    /// Who is to come on with a job: its holder, or often the supervisor if work was stopped.
    pub(super) async fn whose_turn(&self, job: JobId, dice: &mut Dice) -> Option<usize> {
        let (holder, _, screen) = self.in_front_of(job, None).await?;
        let is_stopped = screen.phase == Phase::Stopped;
        Some(match is_stopped && dice.roll(2) == 0 {
            true => PEOPLE - 1,
            false => holder,
        })
    }

    /// Somebody without another channel acts on this job.
    pub(super) async fn acts_on(&self, person: usize, job: JobId, dice: &mut Dice) {
        if let Some((_, _, screen)) = self.in_front_of(job, Some(person)).await {
            let input = self.mostly_sensible(&screen, dice);
            self.does(person, Did::Job(job, input), dice);
        }
    }

    /// Somebody does something; it comes once, or twice, at once or later.
    fn does(&self, person: usize, did: Did, dice: &mut Dice) {
        let number = {
            let mut known = self.world.known();
            let number = known.updates.len();
            known.tally.updates += 1;
            known.updates.push(Update {
                key: InputKey(format!("sim:{number}")),
                person,
                did,
                is_answered: false,
                effects: 0,
            });
            number
        };
        let arrivals = arrivals(dice);
        self.world.known().tally.again += arrivals.len() as u64 - 1;
        for millis in arrivals {
            self.comes(number, millis);
        }
    }

    /// Something that came before comes again.
    pub(super) fn again(&self, dice: &mut Dice) {
        let count = self.world.known().updates.len();
        if count > 0 {
            self.world.known().tally.again += 1;
            self.comes(dice.roll(count), 0);
        }
    }

    /// Whatever was not answered by the process before is sent again by the platform.
    pub(super) fn send_unanswered_again(&self) {
        let open: Vec<usize> = {
            let known = self.world.known();
            let all = known.updates.iter().enumerate();
            all.filter(|(_, update)| !update.is_answered)
                .map(|(number, _)| number)
                .collect()
        };
        for number in open {
            self.world.known().tally.again += 1;
            self.comes(number, self.life.roll(50) as u64);
        }
    }

    fn comes(&self, number: usize, millis: u64) {
        let (world, desk) = (Arc::clone(&self.world), self.desk.clone());
        let life = Arc::clone(&self.life);
        let on_the_way = Arc::clone(&self.on_the_way);
        on_the_way.fetch_add(1, Ordering::SeqCst);
        tokio::spawn(async move {
            tokio::time::sleep(Duration::from_millis(millis)).await;
            let update = world.known().updates[number].clone();
            let handled = handle(&desk, &update).await;
            life.unless_over().await;
            match handled {
                Ok(handled) => {
                    world.note(&format!(
                        "{} by {}: {:?} at {} of {}",
                        update.key,
                        update.person,
                        handled.outcome,
                        handled.screen.prompt.revision,
                        handled.screen.job
                    ));
                    world.answered(number, &handled.outcome);
                    world.known().jobs.insert(handled.screen.job);
                }
                // They are told so, and that is their answer.
                Err(error) => {
                    world.note(&format!("{}: {}", update.key, error.for_the_log()));
                    if let DeskError::Fault(why) = &error {
                        world.wrong(format!("{} met a fault: {why}", update.key));
                    }
                    world.known().updates[number].is_answered = true;
                }
            }
            on_the_way.fetch_sub(1, Ordering::SeqCst);
        });
    }

    /// Waits until everybody has their answer and every message has arrived; whether that came
    /// about.
    pub(super) async fn quiet(&self) -> bool {
        for _ in 0..PATIENCE {
            if self.life.has_stopped.load(Ordering::SeqCst) {
                return false;
            }
            if self.nothing_is_under_way().await {
                return true;
            }
            tokio::time::sleep(Duration::from_millis(500)).await;
        }
        false
    }
}

impl People {
    /// Whether everybody has their answer and every message is through.
    pub(super) async fn nothing_is_under_way(&self) -> bool {
        let updates = self.on_the_way.load(Ordering::SeqCst);
        updates == 0
            && self.life.on_the_way.load(Ordering::SeqCst) == 0
            && matches!(self.desk.pending(None, 1).await, Ok(page) if page.items.is_empty())
    }
}

/// After how many milliseconds something that is sent arrives: now and then late, or twice.
pub(super) fn arrivals(dice: &mut Dice) -> Vec<u64> {
    let copies = if dice.roll(9) == 0 { 2 } else { 1 };
    let arrival = |_| {
        let slow = if dice.roll(6) == 0 { 900 } else { 20 };
        dice.roll(slow) as u64
    };
    (0..copies).map(arrival).collect()
}

async fn handle(desk: &Desk, update: &Update) -> Result<Handled, DeskError> {
    let actor = desk.who_is(&address(update.person)).await?;
    let actor = actor.ok_or(DeskError::NotSignedIn)?;
    let key = update.key.clone();
    match &update.did {
        Did::Begin(new) => desk.begin(key, &actor, new.clone()).await,
        Did::Job(job, input) => desk.handle(key, &actor, *job, input.clone()).await,
    }
}
