//! The whole server is killed under load: people work in chats and on pages as fast as the answers
//! come, the program is killed at moments drawn from a seed, and after each kill the record is
//! held against everything that anybody was told.
//!
//! `KILLS=200 cargo test --locked --test all killed::load -- --nocapture` kills it so often and
//! prints a table; `SEED=7` before it draws other moments.

mod account;
mod chatter;
mod compare;
mod dice;
mod site;
mod visitor;

use std::time::Duration;

use tokio::sync::watch;
use tokio::task::JoinSet;

use crate::support::program::Program;
use account::Shared;
use chatter::Chatter;
use compare::{Found, compare};
use dice::Dice;
use site::{Comer, Site};
use visitor::Visitor;

/// So many people in chats, and as many on pages.
const EACH: usize = 5;

/// So many kills when nobody asks for more.
const KILLS: u64 = 6;

/// After so many kills the next ones are met by a fresh folder.
const KILLS_A_FOLDER: u64 = 20;

/// The program is killed at the latest after so many acknowledgements.
const ACKNOWLEDGED_MAX: u64 = 120;

/// Nothing takes so long on the busiest machine; nothing waits so long unless it fails.
const IN_VAIN: Duration = Duration::from_secs(180);

/// When the program is killed.
#[derive(Clone, Copy, Debug)]
enum Moment {
    /// While it starts.
    Starting,
    /// As soon as it listens: what was left is being sent again.
    Listening,
    /// After so many more acknowledgements.
    After(u64),
}

impl Moment {
    fn drawn(dice: &mut Dice) -> Moment {
        match dice.below(10) {
            0 => Moment::Starting,
            1 => Moment::Listening,
            2..=4 => Moment::After(1 + dice.below(8)),
            _ => Moment::After(1 + dice.below(ACKNOWLEDGED_MAX)),
        }
    }
}

/// People at work over one folder.
struct Load {
    site: Site,
    accounts: Vec<Shared>,
    count: watch::Sender<u64>,
    base: watch::Sender<String>,
    life: watch::Sender<u64>,
    people: JoinSet<()>,
}

impl Load {
    async fn begins(dice: &mut Dice) -> (Load, Program) {
        let (site, comers) = Site::with(EACH).await;
        let mut load = Load {
            site,
            accounts: Vec::new(),
            count: watch::Sender::new(0),
            base: watch::Sender::new(String::new()),
            life: watch::Sender::new(0),
            people: JoinSet::new(),
        };
        let program = load.starts().await;
        for comer in &comers {
            load.comes(comer, dice.of());
        }
        (load, program)
    }

    fn comes(&mut self, comer: &Comer, dice: Dice) {
        let account = Shared::of(&comer.name, comer.actor.person, &self.count);
        if comer.name.starts_with("Chat") {
            let with = (dice, self.life.subscribe());
            let person = Chatter::new(&self.site.api, comer, &account, with);
            self.people.spawn(person.works());
        } else {
            let with = (dice, self.base.subscribe());
            let person = Visitor::new(comer, &account, with);
            self.people.spawn(person.works());
        }
        self.accounts.push(account);
    }

    /// Starts the program, and everybody hears of it.
    async fn starts(&self) -> Program {
        let mut program = self.site.starts();
        program = tokio::task::spawn_blocking(move || program.ready())
            .await
            .unwrap();
        self.base.send_replace(program.base.clone());
        self.life.send_modify(|life| *life += 1);
        program
    }

    /// Waits for so many more acknowledgements.
    async fn acknowledges(&mut self, more: u64) {
        let mut count = self.count.subscribe();
        let goal = *count.borrow() + more;
        let reached = async {
            while *count.borrow_and_update() < goal {
                count.changed().await.unwrap();
            }
        };
        tokio::select! {
            reached = tokio::time::timeout(IN_VAIN, reached) => {
                reached.unwrap_or_else(|_| panic!("nothing goes on: {:#?}", self.stuck()));
            }
            // They work without end, so one who ended broke off.
            Some(ended) = self.people.join_next() => ended.unwrap(),
        }
    }

    fn stuck(&self) -> Vec<String> {
        let told = self.accounts.iter();
        told.map(|account| format!("{:?}", account.lock().shown))
            .collect()
    }

    /// Kills the program at this moment, looks at what it left and starts it again.
    async fn kill(&mut self, mut program: Program, moment: Moment) -> (Program, Found) {
        match moment {
            Moment::After(count) => self.acknowledges(count).await,
            Moment::Starting => {
                program.kill();
                program = self.site.starts();
            }
            Moment::Listening => {
                program.kill();
                program = self.site.starts();
                program = tokio::task::spawn_blocking(move || program.listening())
                    .await
                    .unwrap();
            }
        }
        program.kill();
        let found = self.compares().await;
        (self.starts().await, found)
    }

    async fn compares(&self) -> Found {
        for account in &self.accounts {
            let mut account = account.lock();
            let open = std::mem::take(&mut account.unconfirmed);
            for (update, key) in open {
                if self.site.api.is_confirmed(update) {
                    account.acknowledged.insert(key);
                } else {
                    account.unconfirmed.insert(update, key);
                }
            }
        }
        let copy = self.site.copy();
        compare(copy.path(), &self.accounts).await
    }

    /// Everybody gets on after the last start; then all records are checked by the program.
    async fn ends(mut self, program: Program) -> Found {
        let before: Vec<usize> = self.answers();
        while self
            .answers()
            .iter()
            .zip(&before)
            .any(|(now, before)| now <= before)
        {
            self.acknowledges(1).await;
        }
        program.kill();
        self.people.shutdown().await;
        let found = self.compares().await;
        for job in &found.jobs {
            self.site.verifies(*job);
        }
        assert_eq!(self.site.api.violations(), Vec::<String>::new());
        found
    }

    fn answers(&self) -> Vec<usize> {
        let accounts = self.accounts.iter();
        accounts.map(|account| account.lock().answers).collect()
    }
}

fn number(name: &str, otherwise: u64) -> u64 {
    let given = std::env::var(name).ok();
    given.map_or(otherwise, |given| given.parse().unwrap())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_acknowledged_is_lost_and_nothing_happens_twice() {
    let (kills, seed) = (number("KILLS", KILLS), number("SEED", 1));
    let mut dice = Dice::seeded(seed);
    let mut total = Found::default();
    let mut done = 0;
    println!("kills | acknowledged | lost | doubled | entries | jobs verified");
    while done < kills {
        let (mut load, mut program) = Load::begins(&mut dice).await;
        for _ in 0..KILLS_A_FOLDER.min(kills - done) {
            let moment = Moment::drawn(&mut dice);
            let (again, found) = load.kill(program, moment).await;
            program = again;
            done += 1;
            let wrong = (&found.lost, &found.doubled);
            let none: (&Vec<String>, &Vec<String>) = (&Vec::new(), &Vec::new());
            assert_eq!(wrong, none, "seed {seed}, kill {done}, {moment:?}");
        }
        let found = load.ends(program).await;
        total.acknowledged += found.acknowledged;
        total.entries += found.entries;
        total.jobs.extend(found.jobs);
        total.lost.extend(found.lost);
        total.doubled.extend(found.doubled);
        println!(
            "{done} | {} | {} | {} | {} | {}",
            total.acknowledged,
            total.lost.len(),
            total.doubled.len(),
            total.entries,
            total.jobs.len()
        );
    }
    assert_eq!((total.lost, total.doubled), (Vec::new(), Vec::new()));
}
