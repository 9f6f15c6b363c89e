//! The application service between the channels and the store: who may do what, and what is kept.
//!
//! A channel finds out who speaks with [`Desk::who_is`], turns what they did into an input and
//! calls [`Desk::handle`]; the answer is a [`screen::Screen`]. Everything that one input leaves
//! behind is one batch of the store, durable before the answer is given. Inputs to one job are
//! handled one after the other; a second delivery of the same input has no effect.
//!
//! What other people should hear goes to the outbox in the same batch: [`Desk::pending`] and
//! [`Desk::mark`] for chats, [`Desk::inbox`] and [`Desk::seen`] for pages and the terminal.
//! [`Desk::changes`] wakes whoever waits for news.

pub mod actor;
pub mod answers;
mod aside;
mod backups;
mod begin;
pub mod bring_back;
mod card;
mod carried;
pub mod catalog;
mod catch_up;
pub mod chance;
mod check_ins;
mod checklist;
pub mod clock;
pub mod competence;
mod concern;
mod decided;
mod doubts;
pub mod drafts;
mod editions;
pub mod error;
pub mod evaporators;
pub mod finds;
mod floor;
pub mod goods;
pub mod groups;
mod handle;
mod history;
pub mod hours;
pub mod id;
pub mod identity;
pub mod invitations;
pub mod job_photos;
mod job_time;
pub mod jobs;
mod joining;
mod keep;
mod kept_rows;
pub mod labels;
pub mod lists;
pub mod locks;
pub mod looks;
pub mod noted;
pub mod notice;
pub mod numbers;
pub mod open_codes;
mod outbox;
pub mod passwords;
pub mod people;
pub mod photo;
mod photos_seen;
mod proposal;
mod queues;
mod refused;
pub mod rehearsals;
pub mod reminders;
mod report;
pub mod review;
pub mod rooms;
pub mod screen;
pub mod seal_keys;
mod sealing;
pub mod search;
pub mod sessions;
mod shared_beside;
pub mod shared_flows;
pub mod shared_goods;
mod shared_mark;
mod standing;
mod stands_out;
mod tables;
pub mod timers;
pub mod tokens;
pub mod topics;
mod view;
mod ways;
pub mod webhooks;
pub mod whereabouts;
pub mod who_walks;

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use tokio::sync::{broadcast, watch};

use crate::flow::library::Library;
use crate::flow::model::Role;
use crate::store::Store;
use aside::Aside;
use chance::Chance;
use check_ins::Questions;
use clock::Clock;
use doubts::Doubts;
use editions::Editions;
use floor::Floor;
use goods::{Shelf, StartingGoods};
use id::{CrewId, JobId};
use job_time::JobTimes;
use kept_rows::KeptRows;
use passwords::hashing::Hashing;
use queues::Queues;
use rehearsals::Rehearsals;
use screen::Phase;
use seal_keys::SealKeys;
use sessions::SessionLimits;
use timers::ClockSeen;

pub use actor::{Actor, ChannelAddress, Code, SessionToken};
pub use decided::Seen;
pub use error::DeskError;

/// What a desk is built of.
pub struct Parts {
    /// Where everything is kept.
    pub store: Arc<dyn Store>,
    /// Tells the time.
    pub clock: Arc<dyn Clock>,
    /// Draws ids and secrets.
    pub chance: Arc<dyn Chance>,
    /// The key that seals records.
    pub keys: Arc<SealKeys>,
    /// The flows that jobs begin with.
    pub library: Library,
    /// What a new crew begins with.
    pub goods: StartingGoods,
    /// What the operator chose.
    pub rules: Rules,
}

/// What the operator chose.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rules {
    /// Anybody may join without a code and gets these roles; `None` keeps the door shut.
    pub open_door: Option<BTreeSet<Role>>,
    /// The address under which people reach the page, if the operator said it.
    pub public_url: Option<String>,
    /// How long browsers stay signed in.
    pub sessions: SessionLimits,
    /// Whether other programs may be called at private addresses and without encryption.
    pub webhooks_to_private: bool,
}

/// Something happened to a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// The crew.
    pub crew: CrewId,
    /// The job.
    pub job: JobId,
    /// Its revision after it.
    pub revision: u64,
    /// How far it is after it.
    pub phase: Phase,
}

/// The desk. Clones are cheap and share everything.
#[derive(Clone)]
pub struct Desk {
    inner: Arc<Inner>,
}

struct Inner {
    parts: Parts,
    editions: Editions,
    shelf: Shelf,
    floor: Floor,
    kept: KeptRows,
    queues: Queues,
    rehearsals: Rehearsals,
    hashing: Hashing,
    clock_seen: ClockSeen,
    questions: Questions,
    aside: Aside,
    doubts: Doubts,
    job_times: JobTimes,
    changes: broadcast::Sender<Change>,
    /// Changes whenever something was put into the outbox.
    put_out: watch::Sender<()>,
    /// Whether the last thing that was to be kept was.
    keeps: AtomicBool,
}

impl Desk {
    /// A desk over these parts. Call [`Desk::start`] before the first input.
    pub fn new(parts: Parts) -> Desk {
        let (changes, _) = broadcast::channel(256);
        Desk {
            inner: Arc::new(Inner {
                editions: Editions::of(&parts.library),
                shelf: Shelf::default(),
                floor: Floor::default(),
                kept: KeptRows::of(parts.store.as_ref()),
                queues: Queues::default(),
                rehearsals: Rehearsals::default(),
                hashing: Hashing::default(),
                clock_seen: ClockSeen::default(),
                questions: Questions::default(),
                aside: Aside::default(),
                doubts: Doubts::default(),
                job_times: JobTimes::default(),
                changes,
                put_out: watch::Sender::new(()),
                keeps: AtomicBool::new(true),
                parts,
            }),
        }
    }

    /// News of every change of a job. A receiver that lags is told so and looks at everything.
    pub fn changes(&self) -> broadcast::Receiver<Change> {
        self.inner.changes.subscribe()
    }

    /// Changes whenever something was put into the outbox: then [`Desk::pending`] may give more.
    pub fn outbox_changes(&self) -> watch::Receiver<()> {
        self.inner.put_out.subscribe()
    }

    /// What the operator chose.
    pub fn rules(&self) -> &Rules {
        &self.inner.parts.rules
    }
}
