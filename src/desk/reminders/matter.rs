//! What waits for somebody, as a job's state says it.

use std::collections::BTreeSet;

use jiff::civil::time;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::agreed;
use super::rhythm::plus;
use crate::desk::card::{awaited, phase};
use crate::desk::screen::Phase;
use crate::flow::edition::Edition;
use crate::flow::model::Role;
use crate::flow::name::FactName;
use crate::trade::formula::Value;
use crate::walk::State;
use crate::walk::state::{Mode, Review, Room};

/// Nobody is reminded earlier of what was agreed than so long after the agreement.
const AGREED_MIN: SignedDuration = SignedDuration::from_hours(8);

/// Nor later, whatever day the words seem to name: they may have been misunderstood.
const AGREED_MAX: SignedDuration = SignedDuration::from_hours(7 * 24);

/// What kind of matter waits. In the order in which they are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::desk) enum Kind {
    /// A hold point, or a step for certain roles.
    Hold,
    /// Equipment that was left locked out.
    LockedOut,
    /// A job that was sent back.
    SentBack,
    /// Another look that was agreed.
    LookAgain,
    /// A job to be reviewed.
    ToReview,
}

impl Kind {
    /// One stable byte for keys; a code is never given to another kind.
    pub(super) fn code(self) -> u8 {
        match self {
            Kind::Hold => 1,
            Kind::LockedOut => 2,
            Kind::SentBack => 3,
            Kind::LookAgain => 4,
            Kind::ToReview => 5,
        }
    }
}

/// What waits, with what there is to say of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Matter {
    /// The walk goes on only when somebody in one of these roles acted.
    Hold(BTreeSet<Role>),
    /// Locks hang, or it was left with an owner.
    LockedOut(Option<Promise>),
    /// It was sent back with this remark, and nobody took it up.
    SentBack(String),
    /// Somebody promised to look again.
    LookAgain(Promise),
    /// It was handed in.
    ToReview,
}

impl Matter {
    pub(super) fn kind(&self) -> Kind {
        match self {
            Matter::Hold(_) => Kind::Hold,
            Matter::LockedOut(_) => Kind::LockedOut,
            Matter::SentBack(_) => Kind::SentBack,
            Matter::LookAgain(_) => Kind::LookAgain,
            Matter::ToReview => Kind::ToReview,
        }
    }

    pub(super) fn promise(&self) -> Option<&Promise> {
        match self {
            Matter::LookAgain(promise) | Matter::LockedOut(Some(promise)) => Some(promise),
            _ => None,
        }
    }
}

/// Who said that they come back, and when, in their own words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Promise {
    pub(super) owner: String,
    pub(super) date: String,
    pub(super) said: Timestamp,
    /// When to ask, where the words name no day.
    after: SignedDuration,
}

/// A matter with its time.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Waiting {
    pub(super) matter: Matter,
    /// Since when it waits: with its kind it tells it from the next one of the same kind.
    pub(super) since: Timestamp,
}

impl Waiting {
    /// From when on it is overdue, by the clocks of the crew.
    pub(super) fn overdue(&self, clocks: &TimeZone) -> Timestamp {
        let Some(promise) = self.matter.promise() else {
            return match self.matter {
                Matter::LockedOut(_) => plus(self.since, SignedDuration::from_hours(24)),
                _ => self.since,
            };
        };
        let said = promise.said.to_zoned_datetime(clocks.clone());
        let day = agreed::day(&promise.date, &said);
        // Who left something locked is asked in the morning of the day; who promised to look
        // again has the day to do it.
        let hour = match self.matter {
            Matter::LockedOut(_) => time(6, 0, 0, 0),
            _ => time(18, 0, 0, 0),
        };
        let then = day.and_then(|day| day.to_datetime(hour).to_zoned_datetime(clocks.clone()).ok());
        let then = then.map_or(plus(promise.said, promise.after), |then| then.timestamp());
        let earliest = plus(promise.said, AGREED_MIN);
        then.clamp(earliest, plus(promise.said, AGREED_MAX))
    }
}

/// Everything about a job that waits for somebody. A training walk waits for nobody.
pub(super) fn waiting(edition: &Edition, state: &State) -> Vec<Waiting> {
    if state.pins.training {
        return Vec::new();
    }
    let mut all = Vec::new();
    let mut wait = |matter, since| all.push(Waiting { matter, since });
    let roles = awaited(edition, state);
    if !roles.is_empty() {
        wait(Matter::Hold(roles), state.stands_since);
    }
    match (phase(state), &state.review) {
        (Phase::SentBack, Review::SentBack { remark }) => {
            wait(Matter::SentBack(remark.clone()), state.review_since);
        }
        (Phase::HandedIn, _) => wait(Matter::ToReview, state.review_since),
        _ => {}
    }
    let promise = promise(edition, state);
    match &state.mode {
        Mode::Left { owner, again } if state.review != Review::Accepted || state.has_locks() => {
            let promise = Promise {
                owner: owner.clone(),
                date: again.clone(),
                said: state.left_at,
                after: SignedDuration::from_hours(24),
            };
            wait(Matter::LockedOut(Some(promise)), state.stands_since);
        }
        Mode::Finished { .. } if state.has_locks() => {
            wait(Matter::LockedOut(promise), state.stands_since);
        }
        Mode::Finished { .. } => {
            if let Some(promise) = promise {
                wait(Matter::LookAgain(promise), state.stands_since);
            }
        }
        _ => {}
    }
    all
}

/// When the look that a finished job promises is overdue by these clocks, and what was said of it.
pub(in crate::desk) fn look_again(
    edition: &Edition,
    state: &State,
    clocks: &TimeZone,
) -> Option<(Timestamp, String)> {
    waiting(edition, state).iter().find_map(|waiting| {
        let Matter::LookAgain(promise) = &waiting.matter else {
            return None;
        };
        Some((waiting.overdue(clocks), promise.date.clone()))
    })
}

/// The last promise of the job to look again.
fn promise(edition: &Edition, state: &State) -> Option<Promise> {
    let promises = state.rooms.iter().filter_map(|((flow, _), room)| {
        let again = edition.flow(flow)?.look_again.as_ref()?;
        let (date, said) = text(room, &again.date)?;
        let (owner, _) = text(room, &again.owner)?;
        Some(Promise {
            owner,
            date,
            said,
            after: SignedDuration::from_secs(i64::from(again.after_seconds)),
        })
    });
    promises.max_by_key(|promise| promise.said)
}

/// What somebody wrote, and when.
fn text(room: &Room, fact: &FactName) -> Option<(String, Timestamp)> {
    let known = room.facts.get(fact).filter(|known| known.confirmed)?;
    match &known.value {
        Value::Text(text) => Some((text.clone(), known.at)),
        _ => None,
    }
}
