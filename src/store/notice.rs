//! The outbox: messages that wait to be delivered.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Which notice. It is given on append, only ever grows, and serves as the token that both
/// copies of a message carry when one had to be sent twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct NoticeId(pub u64);

impl fmt::Display for NoticeId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl FromStr for NoticeId {
    type Err = std::num::ParseIntError;

    fn from_str(text: &str) -> Result<NoticeId, Self::Err> {
        text.parse().map(NoticeId)
    }
}

/// A message to be sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewNotice {
    /// To whom, in words that the channels understand.
    pub address: String,
    /// What, in bytes that the channels understand.
    pub payload: Vec<u8>,
    /// Not to be sent before.
    pub due: Timestamp,
}

impl NewNotice {
    /// What it takes written out, rounded up.
    pub(super) fn bytes(&self) -> usize {
        128 + self.address.len() + self.payload.len()
    }
}

/// A message that is not yet delivered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PendingNotice {
    /// Which.
    pub id: NoticeId,
    /// To whom.
    pub address: String,
    /// What.
    pub payload: Vec<u8>,
    /// Not to be sent (again) before.
    pub due: Timestamp,
    /// How often it was tried in vain.
    pub attempts: u32,
}

/// What became of an attempt to deliver a notice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DeliveryMark {
    /// The notice.
    pub notice: NoticeId,
    /// What became of it.
    pub outcome: Delivery,
}

/// What became of one attempt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Delivery {
    /// It was delivered and leaves the outbox.
    Delivered,
    /// It was not; to be tried again, not before this time.
    Retry {
        /// The new due time.
        due: Timestamp,
    },
    /// It cannot be delivered and leaves the outbox. Whoever gives up says so in an entry.
    GivenUp,
}
