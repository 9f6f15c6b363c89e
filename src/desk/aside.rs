//! What cannot be done for one job or one person: it is said in the log, and holds up nobody else.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use uuid::Uuid;

use super::Desk;
use super::error::DeskError;

/// It is tried again at every look, but said only so often.
const SAID_AGAIN: Duration = Duration::from_secs(10 * 60);

/// When it was last said of whom, by the clock that cannot be set.
#[derive(Default)]
pub(super) struct Aside(Mutex<HashMap<Uuid, Duration>>);

impl Aside {
    /// Whether it is time to say it.
    fn is_news(&self, of: Uuid, running: Duration) -> bool {
        let mut said = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        said.retain(|_, at| running.saturating_sub(*at) < SAID_AGAIN);
        let known = said.contains_key(&of);
        said.entry(of).or_insert(running);
        !known
    }
}

impl Desk {
    /// Something could not be done for this job or person; the next look tries again.
    pub(super) fn set_aside(&self, of: Uuid, error: &DeskError) {
        if self
            .inner
            .aside
            .is_news(of, self.inner.parts.clock.running())
        {
            let error = error.for_the_log();
            tracing::error!(%of, error, "one is set aside, the others go on; it is tried again");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_is_not_said_at_every_look() {
        let aside = Aside::default();
        let at = |minutes: u64| Duration::from_secs(minutes * 60);
        let (one, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        assert!(aside.is_news(one, at(0)));
        assert!(!aside.is_news(one, at(9)));
        assert!(aside.is_news(other, at(9)));
        assert!(aside.is_news(one, at(10)));
    }
}
