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

pub(super) fn paper() -> Object {
    one_of(["a4", "letter"])
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
    use crate::report::pdf::Paper;

    #[test]
    fn a_phase_and_a_paper_have_the_word_that_they_are_written_with() {
        for phase in Phase::ALL {
            assert_eq!(serde_json::to_value(phase).unwrap(), phase.word());
        }
        for paper in [Paper::A4, Paper::Letter] {
            let written = serde_json::to_value(paper).unwrap();
            let words = serde_json::to_value(super::paper()).unwrap();
            let words = words["enum"].as_array().unwrap();
            assert!(words.contains(&written), "{written}");
        }
    }
}
