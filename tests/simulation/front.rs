//! Where the people of a run are: at the desk itself, in a group of the chat, or at pages.

use std::collections::BTreeMap;
use std::sync::Arc;

use fanwright::desk::id::JobId;
use fanwright::store::InputKey;

use super::chat::{Group, Luck, SimPlatform};
use super::life::Life;
use super::machine::SimClock;
use super::mail;
use super::pages::{Browsers, Pages};
use super::people::People;
use super::plan::Front;
use super::server::Server;
use super::world::World;
use crate::walk::Dice;

/// What outlasts every process of the server.
pub(super) enum Outside {
    Desk,
    Group(Arc<SimPlatform>),
    Pages(Arc<Browsers>),
}

impl Outside {
    pub(super) fn new(front: Front, seed: u64, cookies: &[String]) -> Outside {
        let luck = Luck {
            fails: 20,
            again: 50,
        };
        match front {
            Front::Desk => Outside::Desk,
            Front::Group => Outside::Group(Arc::new(SimPlatform::new(seed, luck))),
            Front::Pages => Outside::Pages(Arc::new(Browsers::new(cookies))),
        }
    }

    /// Nothing goes wrong any more.
    pub(super) fn behaves(&self) {
        if let Outside::Group(platform) = self {
            platform.behave();
        }
    }

    /// The newest screens that anybody saw, and the inputs that somebody was told count.
    pub(super) fn promised(&self) -> (BTreeMap<JobId, u64>, Vec<InputKey>) {
        match self {
            Outside::Desk => Default::default(),
            Outside::Group(platform) => platform.promised(),
            Outside::Pages(browsers) => browsers.promised(),
        }
    }

    /// The same in front of a process, with the channel that it needs.
    pub(super) fn place(
        &self,
        people: &Arc<People>,
        (world, life, clock): (&Arc<World>, &Arc<Life>, &Arc<SimClock>),
    ) -> Place {
        let carries = || {
            let (desk, life) = (people.desk.clone(), Arc::clone(life));
            tokio::spawn(mail::carry(desk, life, clock.clone()));
        };
        match self {
            Outside::Desk => {
                carries();
                Place::Desk
            }
            Outside::Group(platform) => {
                Place::Group(Group::begin(platform, (people, world), (life, clock)))
            }
            Outside::Pages(browsers) => {
                carries();
                Place::Pages(Pages::begin(browsers, people, (world, life, clock)))
            }
        }
    }
}

/// Where people are, in front of one process.
pub(super) enum Place {
    Desk,
    Group(Group),
    Pages(Pages),
}

impl Place {
    /// Whether messages are carried by the simulated line and not by a channel of the server.
    pub(super) fn has_mail(&self) -> bool {
        !matches!(self, Place::Group(_))
    }

    pub(super) async fn begins(&self, people: &People, person: usize, dice: &mut Dice) {
        match self {
            Place::Desk => people.begins(person, dice).await,
            Place::Group(group) => group.begins(person, dice).await,
            Place::Pages(pages) => pages.begins(person, dice).await,
        }
    }

    pub(super) async fn holder_acts(&self, people: &People, dice: &mut Dice) {
        match self {
            Place::Desk => people.holder_acts(dice).await,
            Place::Group(group) => group.holder_acts(dice).await,
            Place::Pages(pages) => pages.holder_acts(dice).await,
        }
    }

    pub(super) async fn acts(&self, people: &People, person: usize, dice: &mut Dice) {
        match self {
            Place::Desk => people.acts(person, dice).await,
            Place::Group(group) => group.acts(person, dice).await,
            Place::Pages(pages) => pages.acts(person, dice).await,
        }
    }

    /// Something that came before comes again.
    pub(super) fn again(&self, people: &People, dice: &mut Dice) {
        match self {
            Place::Desk => people.again(dice),
            Place::Group(group) => group.again(dice),
            Place::Pages(pages) => pages.again(dice),
        }
    }

    /// Whatever the process before did not answer is sent again by whoever sent it.
    pub(super) fn send_unanswered_again(&self) {
        if let Place::Pages(pages) = self {
            pages.send_unanswered_again();
        }
    }

    pub(super) fn offline(&self, seconds: u64) {
        if let Place::Group(group) = self {
            group.offline(seconds);
        }
    }

    /// Waits until nothing happens any more; whether that came about.
    pub(super) async fn quiet(&self, people: &People) -> bool {
        match self {
            Place::Desk | Place::Pages(_) => people.quiet().await,
            Place::Group(group) => group.quiet().await,
        }
    }

    /// What must hold in front of people once everybody was served.
    pub(super) async fn at_the_end(&self, server: &Server) {
        match self {
            Place::Desk => {}
            Place::Group(group) => group.at_the_end(server).await,
            Place::Pages(pages) => pages.at_the_end(server).await,
        }
    }
}
