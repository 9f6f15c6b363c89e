//! A step that only an electrician may answer says what it does to the leads.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Danger, Role};

pub(super) const RULE: Rule = Rule {
    name: "licensed_work_unnamed",
    grade: Grade::Error,
    page: include_str!("../pages/licensed_work_unnamed.md"),
    run: |rule, ground| {
        let unnamed = ground.places().filter(|(_, step)| {
            matches!(step.danger, Danger::Touches(_))
                && step.by == [Role::Electrician]
                && step.leads.is_none()
        });
        unnamed
            .map(|(place, step)| {
                let told = format!(
                    "`{}` is an electrician's work and does not say what becomes of the leads.",
                    step.name
                );
                let mend = "Add `leads: cut`, `leads: joined` or `leads: kept`.";
                ground.finding(rule, place.flow, step.at, (told, mend))
            })
            .collect()
    },
};
