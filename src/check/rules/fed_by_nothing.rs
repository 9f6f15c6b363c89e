//! What charges a charge and drives a blade is said, and everywhere alike.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, SourceKind};

pub(super) const RULE: Rule = Rule {
    name: "fed_by_nothing",
    grade: Grade::Error,
    page: include_str!("../pages/fed_by_nothing.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            let circuits = graph.flow.energy.values();
            let circuits = circuits.filter(|it| it.kind == SourceKind::Electrical);
            let has_circuits = circuits.count() > 0;
            for (name, source) in &graph.flow.energy {
                let is_fed = source.kind == SourceKind::Electrical || source.fed_by.is_some();
                if is_fed || !has_circuits {
                    continue;
                }
                let told = (
                    format!("Nothing is said to feed `{name}`."),
                    "Add `fed_by:` with the circuit that charges or drives it.",
                );
                findings.push(ground.finding(rule, number, source.at, told));
            }
        }
        for (place, step) in ground.places() {
            let (Act::Run(run), Some(inner)) =
                (&step.act, ground.flow(place.flow).runs[place.step])
            else {
                continue;
            };
            let (mine, theirs) = (ground.flow(place.flow).flow, ground.flow(inner).flow);
            for (name, source) in &theirs.energy {
                let bound = |name| run.energy.get(name).unwrap_or(name);
                let own = mine.energy.get(bound(name));
                let own_feeder = own.and_then(|own| own.fed_by.as_ref());
                if own.is_none() || source.fed_by.as_ref().map(bound) == own_feeder {
                    continue;
                }
                let told = (
                    format!(
                        "`{}` runs `{}`, where `{name}` is fed by something else.",
                        step.name, run.flow.it
                    ),
                    "Let both flows say the same under `fed_by`.",
                );
                findings.push(ground.finding(rule, place.flow, run.flow.at, told));
            }
        }
        findings
    },
};
