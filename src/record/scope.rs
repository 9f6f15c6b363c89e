//! What the token of another program is good for.

use serde::{Deserialize, Serialize};

/// One thing that a token may be good for. Reviewing a job is none of them: people do that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scope {
    /// Reading jobs: their state, readings and photos.
    ReadJobs,
    /// Beginning jobs for people of the crew.
    BeginJobs,
    /// Reading evaporators.
    ReadEvaporators,
    /// Adding evaporators.
    AddEvaporators,
    /// Reading the people of the crew: numbers and roles.
    ReadPeople,
    /// Seeing people's names, wherever they stand. A job's record names people, so it needs this
    /// too.
    ReadNames,
    /// Reading the kit and the speed book.
    ReadGoods,
    /// Replacing the kit and the speed book.
    ReplaceGoods,
    /// Reading flows.
    ReadFlows,
    /// Publishing flows.
    PublishFlows,
    /// Setting who is called when a job is handed in, sent back, accepted or left locked out.
    Webhooks,
}

impl Scope {
    /// Every scope, what only reads before what changes, thing by thing.
    pub const ALL: [Scope; 11] = [
        Scope::ReadJobs,
        Scope::BeginJobs,
        Scope::ReadEvaporators,
        Scope::AddEvaporators,
        Scope::ReadPeople,
        Scope::ReadNames,
        Scope::ReadGoods,
        Scope::ReplaceGoods,
        Scope::ReadFlows,
        Scope::PublishFlows,
        Scope::Webhooks,
    ];

    /// Its stable name.
    pub const fn word(self) -> &'static str {
        match self {
            Scope::ReadJobs => "read-jobs",
            Scope::BeginJobs => "begin-jobs",
            Scope::ReadEvaporators => "read-evaporators",
            Scope::AddEvaporators => "add-evaporators",
            Scope::ReadPeople => "read-people",
            Scope::ReadNames => "read-names",
            Scope::ReadGoods => "read-goods",
            Scope::ReplaceGoods => "replace-goods",
            Scope::ReadFlows => "read-flows",
            Scope::PublishFlows => "publish-flows",
            Scope::Webhooks => "webhooks",
        }
    }

    /// What it allows, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Scope::ReadJobs => "Read jobs: how far they are, readings, photos",
            Scope::BeginJobs => "Begin jobs for people of the crew",
            Scope::ReadEvaporators => "Read evaporators",
            Scope::AddEvaporators => "Add evaporators",
            Scope::ReadPeople => "Read who is in the crew: numbers and roles",
            Scope::ReadNames => "See people's names, also in records",
            Scope::ReadGoods => "Read the kit and the speed book",
            Scope::ReplaceGoods => "Replace the kit and the speed book",
            Scope::ReadFlows => "Read flows",
            Scope::PublishFlows => "Publish flows",
            Scope::Webhooks => "Set which addresses are called",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scope_is_written_as_its_word() {
        for scope in Scope::ALL {
            let written = serde_json::to_value(scope).unwrap();
            assert_eq!(written, scope.word());
            assert_eq!(serde_json::from_value::<Scope>(written).unwrap(), scope);
        }
    }
}
