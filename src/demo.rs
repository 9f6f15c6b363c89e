//! The demo: an invented crew with evaporators and jobs in every state.
//!
//! Everything is made through the desk by walking the real flows, on a clock that runs through
//! the days before the start. Nothing in it is a real shop, person or unit.

mod answers;
mod crew;
mod jobs;
mod picture;
mod walker;

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};

use crate::desk::clock::Clock;
use crate::desk::{Desk, DeskError};

/// How long before the start the demo's first job began.
const BEGAN_BEFORE: SignedDuration = SignedDuration::from_hours(8 * 24);

/// Why there is no demo.
#[derive(Debug, thiserror::Error)]
pub enum NoDemo {
    /// The desk said no, or has a fault.
    #[error("The demo could not be made: {0}")]
    Desk(#[from] DeskError),
    /// The folder holds the data of other people.
    #[error("This data folder has a crew already. Begin the demo in a folder of its own.")]
    NotEmpty,
    /// A part of it could not be made.
    #[error("The demo could not be made: {0}")]
    Made(String),
}

/// A sign-in link of one person of the demo crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DemoLink {
    /// Who it is for.
    pub who: &'static str,
    /// The path of the link.
    pub path: String,
}

/// A clock that the demo moves on by itself, up to the time of the start and no further.
#[derive(Debug)]
pub struct DemoClock {
    end: Timestamp,
    at: Mutex<(Timestamp, Duration)>,
}

impl DemoClock {
    /// A clock that stands days before `end`.
    pub fn before(end: Timestamp) -> DemoClock {
        let began = end.checked_sub(BEGAN_BEFORE).unwrap_or(end);
        DemoClock {
            end,
            at: Mutex::new((began, Duration::ZERO)),
        }
    }

    /// Moves on by this, at most to the end.
    fn pass(&self, time: SignedDuration) {
        // Nothing that touches the time can panic half-way.
        let mut at = self.at.lock().unwrap_or_else(PoisonError::into_inner);
        let then = at.0.checked_add(time).unwrap_or(self.end).min(self.end);
        let passed = Duration::try_from(then.duration_since(at.0)).unwrap_or_default();
        *at = (at.0.max(then), at.1 + passed);
    }

    /// Moves on to this time, if it lies ahead.
    fn pass_to(&self, time: Timestamp) {
        let left = time.duration_since(self.now());
        if left.is_positive() {
            self.pass(left);
        }
    }
}

impl Clock for DemoClock {
    fn now(&self) -> Timestamp {
        self.at.lock().unwrap_or_else(PoisonError::into_inner).0
    }

    fn running(&self) -> Duration {
        self.at.lock().unwrap_or_else(PoisonError::into_inner).1
    }
}

/// Makes the demo in an empty store, or finds the one that was made before. `desk` is a desk over
/// the same store that tells the time by `clock`.
///
/// # Errors
/// When the store holds other people's data, or cannot keep the demo.
pub async fn furnish(desk: &Desk, clock: &Arc<DemoClock>) -> Result<(), NoDemo> {
    match crew::find(desk).await? {
        Some(_) => Ok(()),
        None if desk.crews().await?.is_empty() => {
            let crew = crew::found(desk).await?;
            jobs::make(desk, clock, &crew).await
        }
        None => Err(NoDemo::NotEmpty),
    }
}

/// Fresh sign-in links for everybody of the demo crew, from the desk that serves.
///
/// # Errors
/// When there is no demo crew, or the store cannot keep the codes.
pub async fn links(desk: &Desk) -> Result<Vec<DemoLink>, NoDemo> {
    let crew = crew::find(desk).await?.ok_or(NoDemo::NotEmpty)?;
    let mut links = Vec::new();
    for (who, actor) in crew.everybody() {
        let invitation = desk.sign_in_code(actor).await?;
        links.push(DemoLink {
            who,
            path: format!("/join/{}", invitation.code.reveal()),
        });
    }
    Ok(links)
}
