//! What earlier jobs recorded of an evaporator, as a later job's own record holds it.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::answer::Answer;
use crate::flow::name::{FactName, FlowName};

/// One fact that was recorded before.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Before {
    /// The flow that asked for it.
    pub flow: FlowName,
    /// The fact.
    pub fact: FactName,
    /// The answer of then.
    pub answer: Answer,
    /// When it was given.
    pub at: Timestamp,
    /// In which job, as text.
    pub job: String,
}

impl Before {
    /// The day of then, UTC.
    pub fn day(&self) -> String {
        self.at.strftime("%Y-%m-%d").to_string()
    }
}
