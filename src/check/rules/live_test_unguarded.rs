//! Live parts are tested by a qualified person, and a test for dead counts as work on live parts.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, Danger, Role, Step};
use crate::flow::name::SourceName;

pub(super) const RULE: Rule = Rule {
    name: "live_test_unguarded",
    grade: Grade::Error,
    page: include_str!("../pages/live_test_unguarded.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let mut find = |(wrong, mend): (String, &str)| {
                findings.push(ground.finding(rule, place.flow, step.at, (wrong, mend)));
            };
            if matches!(step.danger, Danger::TestsLive { .. }) && !is_qualified(step) {
                find((
                    format!("`{}` lets anybody near live parts.", step.name),
                    "Say `by: [technician, electrician]`, or `by: [electrician]` where local \
                     codes want that.",
                ));
            }
            if let Some(source) = tested_as_dead(step) {
                find((
                    format!(
                        "`{}` tests `{source}` as if it were dead already.",
                        step.name
                    ),
                    "Until the last reading it counts as live: name every tested source under \
                     `tests_live`, with `gear`.",
                ));
            }
        }
        findings
    },
};

fn is_qualified(step: &Step) -> bool {
    !step.by.is_empty() && !step.by.contains(&Role::Apprentice)
}

/// A source that is tested for dead and not named as live.
fn tested_as_dead(step: &Step) -> Option<&str> {
    let Act::ProveDead(proof) = &step.act else {
        return None;
    };
    let live = match &step.danger {
        Danger::TestsLive { sources, .. } => sources.as_slice(),
        Danger::HandsOff | Danger::Touches(_) => &[],
    };
    let mut tested = proof.sources.iter().map(|(name, _)| &name.it);
    let named = |name: &SourceName| live.iter().any(|source| source.it == *name);
    tested.find(|name| !named(name)).map(|name| name.as_str())
}
