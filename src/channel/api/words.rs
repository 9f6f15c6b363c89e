//! Closed sets of words, as the description of the API names them.

use utoipa::openapi::schema::{Array, ArrayBuilder, Object, ObjectBuilder, Type};

use crate::check::Grade;
use crate::desk::screen::Phase;
use crate::flow::model::Role;
use crate::record::around::WebhookEvent;
use crate::record::scope::Scope;

fn one_of(words: impl IntoIterator<Item = &'static str>) -> Object {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(words))
        .build()
}

pub(super) fn phase() -> Object {
    one_of(Phase::ALL.map(Phase::word))
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
        for phase in Phase::ALL {
            assert_eq!(serde_json::to_value(phase).unwrap(), phase.word());
        }
    }
}
