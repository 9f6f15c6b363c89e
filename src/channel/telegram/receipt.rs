//! A small sign under what somebody sent, that it was kept: cheap, and left out when much goes on.

use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use teloxide::payloads::SetMessageReactionSetters;
use teloxide::requests::Requester;
use teloxide::types::{ChatId, MessageId, ReactionType};

use super::decode::Place;
use super::talk::Talk;

/// Between two signs there is at least so long. They share the platform's patience with the
/// messages that people wait for, and nobody waits for them.
const APART: Duration = Duration::from_millis(250);

/// One of the signs that any chat takes.
const SIGN: &str = "👍";

/// When the last sign went out, on the clock that runs while the process does.
#[derive(Default)]
pub(super) struct Receipts(Mutex<Option<Duration>>);

impl Receipts {
    /// Whether a sign may go out now; then it is the last one.
    fn take_turn(&self, now: Duration) -> bool {
        // Nothing that touches it can panic half-way.
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if last.is_some_and(|last| now.saturating_sub(last) < APART) {
            return false;
        }
        *last = Some(now);
        true
    }
}

impl Talk {
    /// Puts the sign under a message. It is tried once: the next screen says the same.
    pub(super) fn receipt(&self, place: Place, message: i32) {
        if !self.receipts.take_turn(self.clock.running()) {
            return;
        }
        let line = self.line.clone();
        tokio::spawn(async move {
            let sign = ReactionType::Emoji {
                emoji: SIGN.to_owned(),
            };
            let bot = line.bot();
            let set = bot.set_message_reaction(ChatId(place.chat), MessageId(message));
            if let Err(error) = line.send(set.reaction([sign])).await {
                tracing::debug!(%error, "a sign was left out");
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_keep_apart_and_the_rest_is_left_out() {
        let receipts = Receipts::default();
        let at = |millis| receipts.take_turn(Duration::from_millis(millis));
        assert!(at(0));
        assert!(!at(100) && !at(249));
        assert!(at(250));
        assert!(!at(260));
        assert!(at(5_000));
    }
}
