//! One screen asks for one thing.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::Act;

pub(super) const RULE: Rule = Rule {
    name: "two_actions",
    grade: Grade::Advice,
    page: include_str!("../pages/two_actions.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            if matches!(
                step.act,
                Act::Finish { .. } | Act::Run(_) | Act::ProveDead(_)
            ) {
                continue;
            }
            let say = step
                .say
                .source
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ");
            let Some(joint) = JOINTS.iter().find(|joint| say.contains(**joint)) else {
                continue;
            };
            let told = format!(
                "`{}` asks for one thing after another (“{}”).",
                step.name,
                joint.trim()
            );
            let mend = "Make it two steps; the second one is then not forgotten.";
            findings.push(ground.finding(rule, place.flow, step.at, (told, mend)));
        }
        findings
    },
};

/// Words that join one action to the next.
const JOINTS: [&str; 5] = [
    " and then ",
    "; then ",
    " after that ",
    ". After that",
    ". Next, ",
];
