//! What an electrician joined is looked over and released by one before other hands go in.

use super::super::finding::Grade;
use super::super::flag::{Flag, sets};
use super::{Rule, flag_findings};
use crate::flow::model::{Act, Danger, Leads, Role, Setting, Step};

pub(super) const RULE: Rule = Rule {
    name: "joined_without_release",
    grade: Grade::Error,
    page: include_str!("../pages/joined_without_release.md"),
    run: |rule, ground| {
        flag_findings(
            rule,
            ground,
            &UNRELEASED,
            "goes on before the electrician has released the joints",
            "Put a `hold: electrician` after the last joint is sealed, on every way.",
        )
    },
};

const UNRELEASED: Flag = Flag {
    says: ["joints are made", "the joints are released"],
    at_first: false,
    sets: |step| step.leads.as_ref().is_some_and(|it| it.it == Leads::Joined),
    clears: |step| {
        matches!(
            step.act,
            Act::Hold {
                role: Role::Electrician,
                ..
            }
        )
    },
    wants: |step| is_for_others(step).then_some(false),
};

/// Whether others than the electrician reach in, or the locks come off.
fn is_for_others(step: &Step) -> bool {
    let touches = matches!(step.danger, Danger::Touches(_));
    (touches && step.by != [Role::Electrician]) || sets(step, Setting::Unlocked)
}
