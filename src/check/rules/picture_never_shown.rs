//! Every picture in the folder is shown by some step.

use std::collections::HashSet;

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::At;

pub(super) const RULE: Rule = Rule {
    name: "picture_never_shown",
    grade: Grade::Advice,
    page: include_str!("../pages/picture_never_shown.md"),
    run: |rule, ground| {
        let shown: HashSet<&str> = ground
            .places()
            .filter_map(|(_, step)| step.picture.as_ref())
            .map(|picture| picture.it.as_str())
            .collect();
        let pictures = ground.library.sources().pictures.keys();
        let idle = pictures.filter(|name| !shown.contains(name.as_str()));
        idle.map(|name| {
            let told = format!("No step shows the picture `{name}`.");
            let mend = "Show it where it helps, or take it away.";
            let mut finding = ground.finding(rule, 0, At { line: 1, column: 1 }, (told, mend));
            finding.file = format!("pictures/{name}.svg");
            finding
        })
        .collect()
    },
};
