//! How things stand, and what is counted on the way, for whoever operates the server.

use jiff::Timestamp;

use super::Desk;
use super::error::DeskError;
use super::screen::Outcome;
use super::tables::SessionRow;
use super::webhooks::is_call;
use crate::metrics::{Standing, Waiting, metrics};
use crate::record::entry::Channel;
use crate::walk::refusal::Refusal;

/// So many notices are read at once.
const NOTICES_AT_ONCE: usize = 1_000;

impl Desk {
    /// How things stand now, without anybody's data.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn how_things_stand(&self) -> Result<Standing, DeskError> {
        let now = self.now();
        let (mut to_chats, mut to_programs) = (Waiting::default(), Waiting::default());
        let mut after = None;
        loop {
            let page = self.store().notices_pending(now, after, NOTICES_AT_ONCE);
            let page = page.await?;
            for notice in &page.items {
                let waiting = match is_call(&notice.address) {
                    true => &mut to_programs,
                    false => &mut to_chats,
                };
                note(waiting, now, notice.due);
            }
            after = page.next;
            if after.is_none() {
                break;
            }
        }
        let most = self.rules().sessions.most;
        let sessions = self.rows::<SessionRow>(&[]).await?;
        let in_use = sessions
            .iter()
            .filter(|(_, row)| now.duration_since(row.since) <= most);
        let read = self.store().looked_over();
        Ok(Standing {
            jobs_at_hand: self.inner.floor.count(),
            to_chats,
            to_programs,
            sessions: in_use.count(),
            disk_free: None,
            unread_frames: read.up_to.saturating_sub(read.frames),
            is_damaged: read.damage.is_some(),
        })
    }
}

fn note(waiting: &mut Waiting, now: Timestamp, due: Timestamp) {
    waiting.count += 1;
    let age = now.duration_since(due).as_secs();
    waiting.oldest_seconds = waiting.oldest_seconds.max(age);
}

/// Counts an input to a job that was handled.
pub(super) fn handled(channel: Channel, outcome: &Outcome) {
    let outcome = match outcome {
        Outcome::Advanced => "advanced",
        Outcome::Refused(_) => "refused",
        Outcome::AlreadyHandled => "handled_before",
    };
    metrics().input(word(channel), outcome);
}

fn word(channel: Channel) -> &'static str {
    match channel {
        Channel::Telegram => "telegram",
        Channel::Browser => "browser",
        Channel::Terminal => "terminal",
        Channel::Api => "api",
        Channel::Server => "server",
    }
}

/// Counts a refusal.
pub(super) fn refused(refusal: &Refusal) {
    metrics().refused(match refusal {
        Refusal::Stale => "stale",
        Refusal::CameBefore => "came_before",
        Refusal::WrongShape(_) => "wrong_shape",
        Refusal::NotUnderstood(_) => "not_understood",
        Refusal::NotPlausible(_) => "not_plausible",
        Refusal::Ambiguous(_) => "ambiguous",
        Refusal::NeedsRole(_) => "needs_role",
        Refusal::NeedsShown(_) => "needs_shown",
        Refusal::NotYours { .. } => "not_yours",
        Refusal::HandsOn { .. } => "hands_on",
        Refusal::TooEarly { .. } => "too_early",
        Refusal::NotNow(_) => "not_now",
        Refusal::NoWayBack => "no_way_back",
        Refusal::LockRule(_) => "lock_rule",
        Refusal::Unknown { .. } => "unknown_fact",
    });
}

/// Counts a code that does not work.
pub(super) fn bad_code() -> DeskError {
    metrics().wrong_code("code");
    DeskError::BadCode
}

/// Counts a login that does not fit.
pub(super) fn bad_password() -> DeskError {
    metrics().wrong_code("password");
    DeskError::BadPassword
}
