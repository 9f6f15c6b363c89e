//! Flows that run each other speak one language.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::Act;

pub(super) const RULE: Rule = Rule {
    name: "languages_differ",
    grade: Grade::Advice,
    page: include_str!("../pages/languages_differ.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let graph = ground.flow(place.flow);
            let (Act::Run(run), Some(inner)) = (&step.act, graph.runs[place.step]) else {
                continue;
            };
            let (mine, theirs) = (&graph.flow.language, &ground.flow(inner).flow.language);
            if mine == theirs {
                continue;
            }
            let told = format!(
                "`{}` speaks `{mine}` and runs `{}`, which speaks `{theirs}`.",
                graph.flow.name, run.flow.it
            );
            let mend = format!(
                "Translate `{}` to `{mine}`, or correct its `language`.",
                run.flow.it
            );
            findings.push(ground.finding(rule, place.flow, run.flow.at, (told, mend)));
        }
        findings
    },
};
