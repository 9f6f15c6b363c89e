//! Closed sets of words, as the description of the API names them.

use utoipa::openapi::schema::{Array, ArrayBuilder, Object, ObjectBuilder, Type};

use crate::check::Grade;
use crate::desk::screen::Phase;
use crate::flow::model::Role;
use crate::record::around::WebhookEvent;
use crate::record::scope::Scope;

/// Every phase of a job.
pub(super) const PHASES: [Phase; 8] = [
    Phase::Open,
    Phase::Paused,
    Phase::Stopped,
    Phase::Finished,
    Phase::LockedOut,
    Phase::HandedIn,
    Phase::SentBack,
    Phase::Accepted,
];

/// The stable word of a phase.
pub(super) fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Open => "open",
        Phase::Paused => "paused",
        Phase::Stopped => "stopped",
        Phase::Finished => "finished",
        Phase::LockedOut => "locked_out",
        Phase::HandedIn => "handed_in",
        Phase::SentBack => "sent_back",
        Phase::Accepted => "accepted",
    }
}

fn one_of(words: impl IntoIterator<Item = &'static str>) -> Object {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(words))
        .build()
}

pub(super) fn phase() -> Object {
    one_of(PHASES.map(phase_word))
}

pub(super) fn roles() -> Array {
    let role = one_of(Role::ALL.map(Role::word));
    ArrayBuilder::new().items(role).build()
}

pub(super) fn event() -> Object {
    one_of(WebhookEvent::ALL.map(WebhookEvent::word))
}

pub(super) fn events() -> Array {
    ArrayBuilder::new().items(event()).build()
}

pub(super) fn grade() -> Object {
    one_of([Grade::Error, Grade::Advice].map(Grade::word))
}

/// What the description says of tokens: every scope, and what it allows.
pub(super) fn scopes() -> String {
    let lines = Scope::ALL.map(|scope| format!("- `{}`: {}.", scope.word(), scope.words()));
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phase_has_the_word_that_it_is_written_with() {
        for phase in PHASES {
            assert_eq!(serde_json::to_value(phase).unwrap(), phase_word(phase));
        }
    }
}
