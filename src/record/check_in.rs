//! Asking somebody who works alone whether they are all right.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// What happened about check-ins. They are always about the person in whose hands the job is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum CheckIn {
    /// The person is to be asked how often they want to be asked.
    Wanted,
    /// It was agreed to ask them so often.
    Agreed {
        /// Minutes without a sign of life, after which they are asked.
        minutes: u16,
    },
    /// The person is not alone: nobody needs to ask.
    Declined,
    /// The person was asked, or others were told that there is no answer.
    Asked {
        /// How loudly.
        stage: Stage,
        /// When it was due. The entry's own time shows how late it was.
        due: Timestamp,
    },
    /// The person is all right, by their own word.
    Well,
    /// Somebody else reached the person, who is all right.
    Found,
    /// There is nothing to ask any more.
    Ended {
        /// Why.
        why: Why,
    },
}

/// How loudly somebody was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// A friendly question.
    Gentle,
    /// A loud one, with what comes next.
    Loud,
    /// The supervisors are told.
    Alarm,
}

/// Why nobody asks any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// The person is out.
    Out,
    /// Another person has the job.
    HandedOver,
    /// The job was handed in.
    HandedIn,
}
