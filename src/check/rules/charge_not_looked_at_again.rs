//! What can build up again is measured again before hands go near: 29 CFR 1910.147(d)(5)(ii).

use super::super::finding::Grade;
use super::super::flag::does;
use super::Rule;
use crate::flow::model::{Act, Danger, Duty, SourceKind};

pub(super) const RULE: Rule = Rule {
    name: "charge_not_looked_at_again",
    grade: Grade::Error,
    page: include_str!("../pages/charge_not_looked_at_again.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let Act::ProveDead(proof) = &step.act else {
                continue;
            };
            let graph = ground.flow(place.flow);
            let after = graph.reached_from(place.step);
            let after = || {
                graph
                    .steps
                    .iter()
                    .zip(&after)
                    .filter(|(_, reached)| **reached)
            };
            if after().any(|(step, _)| does(step, Duty::LookAgain)) {
                continue;
            }
            for (name, _) in &proof.sources {
                let declared = graph.flow.energy.get(&name.it);
                let is_charge = declared.is_some_and(|it| it.kind == SourceKind::Charge);
                let touched = after().any(|(step, _)| match &step.danger {
                    Danger::Touches(list) => list.iter().any(|it| it.it == name.it),
                    Danger::HandsOff | Danger::TestsLive { .. } => false,
                });
                if is_charge && touched {
                    let told = (
                        format!(
                            "After `{}` nobody looks again whether `{}` came back.",
                            step.name, name.it
                        ),
                        "Put a safety wait and a `measure` with `duty: look_again` behind the \
                         test, before hands go in.",
                    );
                    findings.push(ground.finding(rule, place.flow, step.at, told));
                }
            }
        }
        findings
    },
};
